"""Ports for servers that a test starts, ends and starts again on the same port.

The kernel gives ports above its bound to whoever dials out: a server of a test that is down for a
second may find its port taken by a stranger's connection. So ports are chosen below that bound.
And two servers can listen on one port at once, each answering some of the requests: so a port is
one process's own while that lives, by a lock that other runs on this computer see.
"""

from __future__ import annotations

import os
import random
import socket
import tempfile
from collections import deque
from collections.abc import Iterator
from pathlib import Path

# Linux dials out from 32768 on, others from 49152. Browsers refuse some below 11,000.
FIRST, LAST = 12_000, 32_000
#: How many of the last ports stay locked: more than any test has in use.
KEPT = 200

_locks: deque[int] = deque()


def _ports() -> Iterator[int]:
    begin = random.SystemRandom().randrange(LAST - FIRST)
    while True:
        for n in range(LAST - FIRST):
            yield FIRST + (begin + n) % (LAST - FIRST)


_next = _ports()


def _lock(port: int) -> bool:
    """Whether the port is this process's own now."""
    try:
        import fcntl
    except ImportError:  # Windows: only one run at a time
        return True
    folder = Path(tempfile.gettempdir()) / "bagtrail-test-ports"
    folder.mkdir(exist_ok=True)
    lock = os.open(folder / str(port), os.O_RDWR | os.O_CREAT, 0o666)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(lock)
        return False
    _locks.append(lock)
    if len(_locks) > KEPT:
        os.close(_locks.popleft())
    return True


def free_port() -> int:
    """Return a port of 127.0.0.1 that nobody has, and that nobody gets who dials out."""
    for port in _next:
        with socket.socket() as probe:
            # As servers bind, so that a port of a server that just ended counts as free.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
        if _lock(port):
            return port
    raise OSError("no port is free")
