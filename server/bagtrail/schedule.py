"""The server's own backups: a thread that starts one when it is due, in a process of its own.

Making and verifying a backup folds the whole log; in another process it takes no request's turn.
"""

from __future__ import annotations

import logging
import os
import subprocess
import sys
import threading

from .backup import look_again
from .settings import Settings
from .sync import Log, now_ms

log = logging.getLogger("bagtrail.backup")

LOOK_S = 60.0
HOUR_MS = 3_600_000
FIRST_S = 20.0  # a start is over, the phones have been served


class Schedule:
    """Backups of one farm by the settings' schedule."""

    def __init__(self, farm: Log, settings: Settings, look_s: float = LOOK_S) -> None:
        self.farm, self.settings, self._look_s = farm, settings, look_s
        self._stop = threading.Event()

    def start(self) -> None:
        """Starts the thread, if the settings want backups."""
        if self.settings.backup_hours:
            threading.Thread(target=self._run, name="backups", daemon=True).start()

    def stop(self) -> None:
        """Ends the thread at its next look."""
        self._stop.set()

    def _run(self) -> None:
        wait = min(FIRST_S, self._look_s)
        while not self._stop.wait(wait):
            wait = self._look_s
            try:
                self.look()
            except Exception:  # the next look may be luckier; the farm goes on
                log.exception("the schedule of backups failed")

    def look(self) -> bool:
        """Makes a backup if one is due and anything is new; returns whether it made one."""
        look_again(self.farm)
        now = now_ms()
        with self.farm.store.writing():
            due = self.farm.store.claim_backup(now, self.settings.backup_hours * HOUR_MS)
        if not due or not self._is_new():
            return False
        return self._make()

    def _is_new(self) -> bool:
        with self.farm.store.reading():
            top, rows = self.farm.store.top(), self.farm.store.backups()
        good = [r for r in rows if r["verified"] and not r["fault"] and not r["gone"]]
        # Two of them count together, so a quiet farm gets its second one, too.
        return len([r for r in good if (r["pos"], r["h"]) == (top.pos, top.h)]) < 2

    def _make(self) -> bool:
        command = [sys.executable, "-m", "bagtrail", "backup", "--prune"]
        done = subprocess.run(
            command, env={**os.environ}, capture_output=True, text=True, check=False
        )
        self.farm.durable.forget()
        said = (done.stdout + done.stderr).strip()
        if done.returncode:
            log.error("a scheduled backup failed: %s", said)
            return False
        log.info("%s", said)
        return True
