"""``bagtrail serve`` in processes of its own, for tests that kill it, cut it off or run several."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.ports import free_port

ROOT = Path(__file__).resolve().parents[1]

START_S = 60  # a busy machine starts a server in seconds


def wait_until(true: Callable[[], Any], what: str, seconds: float = START_S) -> Any:
    """Returns the first truthy answer of `true()`; fails with `what` after `seconds`."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if answer := true():
            return answer
        time.sleep(0.02)
    raise AssertionError(f"not within {seconds} s: {what}")


class Served:
    """``bagtrail serve`` in processes of its own."""

    before: tuple[str, ...] = ()  # words before the command, as for another network namespace

    def __init__(self, folder: Path, port: int = 0, **settings: str) -> None:
        self.port = port or free_port()
        path = os.pathsep.join([str(ROOT / "server"), str(ROOT / "labels")])
        self.process = subprocess.Popen(
            [*self.before, sys.executable, "-m", "bagtrail", "serve", "--port", str(self.port)],
            env={
                **os.environ, "PYTHONPATH": path, "BAGTRAIL_DATA": str(folder),
                "BAGTRAIL_BACKUP_HOURS": "0", **settings,
            },
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )  # fmt: skip

    def call(
        self,
        path: str,
        body: Any = None,
        headers: dict[str, str] | None = None,
        timeout: float = START_S,
    ) -> Any:
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.port}{path}",
            data=data,
            headers={"Content-Type": "application/json", **(headers or {})},
        )
        with urllib.request.urlopen(request, timeout=timeout) as reply:
            return json.load(reply)

    def wait(self) -> float:
        """Waits until it answers and returns the seconds it took."""
        began = time.perf_counter()
        while time.perf_counter() - began < START_S:
            try:
                self.call("/api/farm")
            except OSError:
                assert self.process.poll() is None, self.process.stdout.read()
                time.sleep(0.02)
            else:
                return time.perf_counter() - began
        raise AssertionError("the server never answered")

    def end(self, sign: int) -> str:
        """Sends a signal to all its processes and returns what it had said."""
        if sign == signal.SIGKILL:
            os.killpg(self.process.pid, sign)
        else:
            self.process.send_signal(sign)
        return self.process.communicate(timeout=START_S)[0]
