"""Up to where the log is safe: the position that both of the two newest good backups hold.

A backup counts when the copy was verified, still lies on the chain of the live log, and is on
another disk than the database or was copied away, as the owner confirmed (sync.md 3.5, design 7.9).
"""

from __future__ import annotations

import threading
import time
from typing import Any

from .errors import BadFields
from .store import Store, Top

KEEP_S = 5.0  # a push does not ask the database again within this


def counts(row: dict[str, Any], store: Store) -> bool:
    """Tells whether a backup counts; inside ``reading()``."""
    if not row["verified"] or row["fault"]:
        return False
    if not row["away"] and (row["gone"] or not row["elsewhere"]):
        return False
    return bool(store.hash_at(row["pos"]) == row["h"])


class Durable:
    """The durable position of one log."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self._lock = threading.Lock()
        self._pos, self._epoch, self._until = 0, "", 0.0

    def pos(self, top: Top) -> int:
        """Returns the position for a head of the log, 0 while fewer than two backups count."""
        with self._lock:
            if top.epoch != self._epoch or time.monotonic() >= self._until:
                self._pos, self._epoch = self._find(), top.epoch
                self._until = time.monotonic() + KEEP_S
            return min(self._pos, top.pos)

    def forget(self) -> None:
        """Asks the database again next time: a backup was made, confirmed or lost."""
        self._until = 0.0

    def confirm_away(self, name: str) -> None:
        """Keeps that the owner copied a backup away from this computer.

        Raises:
            BadFields: no such backup.
        """
        with self.store.writing():
            for row in self.store.backups():
                if row["name"] == name:
                    self.store.put_backup(**{**row, "away": time.time_ns() // 1_000_000})
                    self.forget()
                    return
        raise BadFields(f"There is no backup {name}.", details={"name": name})

    def _find(self) -> int:
        with self.store.reading():
            good = [row for row in self.store.backups() if counts(row, self.store)][:2]
        return int(min(row["pos"] for row in good)) if len(good) == 2 else 0
