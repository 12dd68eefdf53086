"""The scale on the farm's computer: its lines as they come, for the desk that asks for them.

The port is the one setting BAGTRAIL_SCALE; nobody can ask for another. It is opened when a desk
begins to ask and closed a while after the last question, so that other programs may have it.
Lines are passed on unread: the desk reads those of its own cable in the same way.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any

KEPT = 200  # lines; a scale sends twenty a second at most, a desk asks four times a second
LONGEST = 256  # bytes of one line; more without an end is thrown away
IDLE_S = 15.0
AGAIN_S = 2.0  # before a port that is not there is tried again


class Scale:
    """One port and its newest lines.

    Args:
        port: device name as the system gives it; "" for no scale.
        baud: its speed, 8 data bits, no parity, 1 stop bit.
        clock: monotonic seconds.
    """

    def __init__(self, port: str, baud: int, clock: Callable[[], float] = time.monotonic) -> None:
        self.port, self.baud = port, baud
        self._clock = clock
        self._lock = threading.Lock()
        self._lines: deque[tuple[int, str]] = deque(maxlen=KEPT)
        self._n = 0
        self._asked = 0.0
        self._state = "open"
        self._thread: threading.Thread | None = None

    def since(self, after: int) -> dict[str, Any]:
        """Returns the lines after a number.

        Returns:
            {"k","state": unset|open|gone|busy, "n": number of the last line, "lines": [[n, text]]}.
        """
        if not self.port:
            return {"k": "scale1", "state": "unset", "n": 0, "lines": []}
        with self._lock:
            self._asked = self._clock()
            if self._thread is None or not self._thread.is_alive():
                self._thread = threading.Thread(target=self._run, daemon=True, name="scale")
                self._thread.start()
            # A desk that counted with a server before this one starts over.
            lines = [[n, text] for n, text in self._lines if 0 <= after < n or after > self._n]
            return {"k": "scale1", "state": self._state, "n": self._n, "lines": lines}

    def _run(self) -> None:
        import serial

        while self._wanted():
            try:
                with serial.Serial(self.port, self.baud, timeout=0.2, exclusive=True) as port:
                    self._say("open")
                    self._read(port)
            except (OSError, ValueError) as bad:  # SerialException is an OSError
                # What lay on it when it went is nobody's weight any more.
                busy = "lock" in str(bad).lower() or "denied" in str(bad).lower()
                self._say("busy" if busy else "gone")
                time.sleep(AGAIN_S)

    def _wanted(self) -> bool:
        return self._clock() - self._asked < IDLE_S

    def _say(self, state: str) -> None:
        with self._lock:
            self._state = state
            if state != "open":
                self._lines.clear()

    def _read(self, port: Any) -> None:
        rest, torn = b"", True  # whoever begins to listen gets the tail of a line first
        while self._wanted():
            rest += port.read(max(1, port.in_waiting))
            *whole, rest = rest.replace(b"\r", b"\n").split(b"\n")
            for line in whole:
                if not torn and line.strip() and len(line) <= LONGEST:
                    self._keep(line.decode("ascii", "replace"))
                torn = False
            if len(rest) > LONGEST:
                rest, torn = b"", True

    def _keep(self, text: str) -> None:
        with self._lock:
            self._n += 1
            self._lines.append((self._n, text))
