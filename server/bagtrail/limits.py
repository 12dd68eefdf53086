"""How fast one device may send: a bucket that fills by the second, in this process's memory."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable

from .errors import TooFast

# A phone drains 10,000 records in 20 requests and then sends about three a second at most.
BURST = 200
EACH_S = 20.0
MOST = 10_000  # devices remembered


class Limits:
    """One bucket a device."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._left: dict[str, tuple[float, float]] = {}

    def take(self, dev: str) -> None:
        """Lets a request of a device pass.

        Raises:
            TooFast: its bucket is empty; ``Retry-After`` says when there is room again.
        """
        with self._lock:
            now = self._clock()
            left, then = self._left.get(dev, (float(BURST), now))
            left = min(BURST, left + (now - then) * EACH_S)
            if len(self._left) >= MOST:
                self._left = {}
            if left < 1:
                self._left[dev] = (left, now)
                wait = max(1, math.ceil((1 - left) / EACH_S))
                raise TooFast(headers={"Retry-After": str(wait)})
            self._left[dev] = (left - 1, now)
