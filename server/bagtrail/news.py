"""Waiting for news: a phone in somebody's hand asks once and is answered when the log has grown.

Only a hint to pull: nothing is said but that there is something, and a phone that never hears it
pulls by its own clock all the same. So it may be refused at any moment: a few devices wait at a
time, each once, for a while; the threads that they hold are counted on top of those for work.
"""

from __future__ import annotations

import threading
import time
from typing import Any

from .store import Store, Top

MOST_WAITING = 24  # at once, a process; the server has as many threads beyond those for its work
WAIT_S = 20.0  # below the half minute after which phones and proxies give a request up
LOOK_S = 1.0  # other processes write, too (PostgreSQL, the command line)


class News:
    """Who waits for a log to grow."""

    def __init__(self, store: Store, most: int = MOST_WAITING, look_s: float = LOOK_S) -> None:
        self.store, self._most, self._look_s = store, most, look_s
        self._changed = threading.Condition()
        self._waiting: dict[str, object] = {}
        self._epoch, self._pos = "", 0
        self._looked = 0.0
        self._closed = False

    def tell(self, epoch: str, pos: int) -> None:
        """Wakes who waits: the log of an epoch goes up to a place, and it is on the disk."""
        with self._changed:
            if epoch == self._epoch and pos <= self._pos:
                return
            self._epoch, self._pos = epoch, pos
            self._changed.notify_all()

    def wait(self, dev: str, epoch: str, pos: int, wait_s: float = WAIT_S) -> dict[str, Any]:
        """Waits until the log is another than a device knows it.

        Args:
            epoch, pos: where the device's cursor stands.
            wait_s: after so long there is no news.

        Returns:
            {"k": "wait1", "news": whether to pull, "full": whether it could not wait: too many
            do, the same device asked again, or the server ends; it is then asked later}.
        """
        end = time.monotonic() + wait_s
        me = object()
        with self._changed:
            if self._closed or (len(self._waiting) >= self._most and dev not in self._waiting):
                return _said(full=True)
            self._waiting[dev] = me
            self._changed.notify_all()  # an older request of the same device
        try:
            self._look()
            while True:
                with self._changed:
                    if self._epoch != epoch or self._pos > pos:
                        return _said(news=True)
                    if self._closed or self._waiting.get(dev) is not me:
                        return _said(full=True)
                    left = end - time.monotonic()
                    if left <= 0:
                        return _said()
                    self._changed.wait(min(left, self._look_s))
                    due = time.monotonic() - self._looked >= self._look_s
                    if due:  # one of all that wait looks
                        self._looked = time.monotonic()
                if due:
                    self._look()
        finally:
            with self._changed:
                if self._waiting.get(dev) is me:
                    del self._waiting[dev]

    def close(self) -> None:
        """Lets all go and nobody wait again: this process ends."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()

    def _look(self) -> None:
        with self.store.reading():
            top: Top = self.store.top()
        self.tell(top.epoch, top.pos)


def _said(news: bool = False, full: bool = False) -> dict[str, Any]:
    return {"k": "wait1", "news": news, "full": full}
