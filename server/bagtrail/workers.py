"""granian's server, with a change of workers that no request falls through.

As it comes, each worker listens on a socket of its own, the old one is ended a fixed time after
the new one was started, and with it go what waits in its queue and every handshake under way.
Here all share one socket; the new one says when it is ready; the old one then takes no more
connections, has a while to hear the first request of those it has, and is ended after that.

This leans on three methods of granian that are no documented interface: its version is pinned,
and ``test_a_new_certificate_is_taken_up_without_a_failed_request`` tells if they change.
"""

from __future__ import annotations

import logging
import multiprocessing
import os
import signal
import socket
import stat
import time
from collections.abc import Callable
from functools import partial
from types import FrameType
from typing import Any

from granian import net
from granian.server.mp import MPServer

log = logging.getLogger("bagtrail.network")

READY_S = 120.0  # a large farm is read from its database first
SETTLE_S = 2.0  # for handshakes under way, and the first request of each connection
MOST_FILES = 4096
REST = getattr(signal, "SIGUSR1", None)  # Windows has none, and starts new workers once a day


class PatientServer(MPServer):
    """One socket for all workers; none ends before its successor serves."""

    ready: Any
    ending: Any

    def shutdown(self, exit_code: int = 0) -> None:
        """Ends the workers; what they hold for news is let go before."""
        self.ending.value = 1
        super().shutdown(exit_code)  # type: ignore[no-untyped-call]

    def _init_shared_socket(self) -> None:
        holder: Any = net.SocketSpec(self.bind_addr, self.bind_port, self.backlog).build()  # type: ignore[attr-defined]
        self._ssp, self._shd, self._sfd = None, holder, holder.get_fd()
        self._sso = socket.socket(fileno=self._sfd)
        self._sso.set_inheritable(True)

    def _respawn_workers(
        self, workers: list[int], spawn_target: Any, target_loader: Any, delay: float = 0
    ) -> None:
        for idx in workers:
            old: Any = self.wrks.pop(idx)
            self.respawned_wrks[idx] = time.monotonic()
            self.ready.clear()
            new: Any = self._spawn_worker(idx, spawn_target, target_loader)
            new.start()
            self.wrks.insert(idx, new)
            if not self._wait(new):
                # The old one serves on, with its old certificate; that is told as days left.
                log.error("a new worker did not start; the old one goes on")
                new.terminate()
                new.join(self.workers_kill_timeout)
                self.wrks[idx] = old
                self.interrupt_children = [i for i in self.interrupt_children if i != idx]
                continue
            time.sleep(SETTLE_S / 4)  # from ready to listening
            if REST is not None and old.is_alive():
                os.kill(old.inner.pid, REST)
                time.sleep(SETTLE_S)
            old.terminate()
            old.join(self.workers_kill_timeout)
            if old.is_alive():
                old.kill()
                old.join()

    def _wait(self, new: Any) -> bool:
        end = time.monotonic() + READY_S
        while time.monotonic() < end and new.is_alive():
            if self.ready.wait(0.2):
                return True
        return False


def make_ready() -> Any:
    """Returns what a new worker sets once it can answer."""
    return multiprocessing.Event()


def make_ending() -> Any:
    """Returns what says to every worker that the server ends: a byte without a lock.

    An Event would wait for its waiters to wake, and one of them may be a worker that was replaced.
    """
    return multiprocessing.RawValue("b", 0)


def rest_when_told(let_go: Callable[[], None]) -> None:
    """Has this worker take no more connections once its parent says so, and hold none open."""
    if REST is not None:
        signal.signal(REST, partial(_rest, let_go))


def _rest(let_go: Callable[[], None], _signum: int, _frame: FrameType | None) -> None:
    """Puts a socket that nobody connects to in place of the one that is listened on.

    The listener itself belongs to the other workers too and must not be shut.
    """
    idle = socket.create_server(("127.0.0.1", 0))
    idle.setblocking(False)
    for fd in range(3, MOST_FILES):
        if fd != idle.fileno() and _listens(fd):
            os.dup2(idle.fileno(), fd)
    let_go()


def _listens(fd: int) -> bool:
    try:
        if not stat.S_ISSOCK(os.fstat(fd).st_mode):
            return False
        with socket.socket(fileno=os.dup(fd)) as seen:
            return bool(seen.getsockopt(socket.SOL_SOCKET, socket.SO_ACCEPTCONN))
    except OSError:
        return False
