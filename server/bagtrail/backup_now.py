"""A backup when the owner asks for one: in a process of its own, one at a time."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from dataclasses import replace
from pathlib import Path

from .errors import BadBackup
from .settings import Settings
from .sync import Log

WAIT_S = 20.0  # a phone gives a request up after half a minute; a large farm's backup goes on


class BackupNow:
    """The backup that is being made, if one is."""

    def __init__(self, log: Log, settings: Settings) -> None:
        self._log, self._settings = log, replace(settings, data=Path(settings.data).resolve())
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._failed = ""

    def make(self, wait_s: float = WAIT_S) -> bool:
        """Starts a backup unless one is being made, and waits for it a while.

        Returns:
            Whether it is made and verified; else it is being made still.

        Raises:
            BadBackup: it could not be written, or did not verify.
        """
        with self._lock:
            if self._thread is None or not self._thread.is_alive():
                self._failed = ""
                self._thread = threading.Thread(target=self._run, name="backup now", daemon=True)
                self._thread.start()
            thread = self._thread
        thread.join(wait_s)
        if self._failed:
            raise BadBackup(self._failed, "See that the disk of the backups is there and has room.")
        return not thread.is_alive()

    def _run(self) -> None:
        from .serving import as_environment  # it imports the server around the application

        done = subprocess.run(
            [sys.executable, "-m", "bagtrail", "backup"],
            env={**os.environ, **as_environment(self._settings)},
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        self._log.durable.forget()
        if done.returncode:
            said = (done.stderr or done.stdout).strip().splitlines()
            self._failed = f"The backup failed: {said[0] if said else 'no word of why'}"[:300]
