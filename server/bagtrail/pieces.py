"""Files named by their own SHA-256 beside the database, taken in piece by piece.

    <folder>/<sha256>            whole, checked, never changed
    <folder>/.parts/<sha256>     what has come so far of one that is being sent

A name says what is in the file, so sending one twice changes nothing, and backups copy each once.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import threading
import time
from pathlib import Path

from .errors import AppError, NotFound

SHA = re.compile("[0-9a-f]{64}")
LEAST_FREE = 1 << 30  # the log must always find room on the disk
MOST_PARTS = 200
PART_DAYS = 30


class Pieces:
    """The files of one kind.

    Args:
        folder: where they lie.
        most: bytes of all of them; 0 for as many as the disk holds.
    """

    missing = "There is no such file here."
    longer = "More came than was told before. Send it from the start."
    differs = "The file is not what its name says: damaged on the way."
    bad: type[AppError]
    full: type[AppError]

    def __init__(self, folder: Path, most: int = 0) -> None:
        self.folder, self.most = folder, most
        self._lock = threading.Lock()
        self._total: int | None = None

    def path(self, sha: str) -> Path:
        """Returns the file of a name.

        Raises:
            NotFound: there is none.
        """
        path = self.folder / sha
        if not SHA.fullmatch(sha) or not path.is_file():
            raise NotFound(self.missing)
        return path

    def take(self, sha: str, size: int, offset: int, piece: bytes) -> tuple[int, bool]:
        """Takes a piece in; returns (bytes that are here now, whether it is whole).

        A piece that does not begin where the last one ended is left: the answer says where to go
        on. An empty one only asks.

        Raises:
            self.bad: the whole is not what its name says, or not fit; it is thrown away.
            self.full: there is no room for it.
        """
        with self._lock:
            if (self.folder / sha).is_file():
                return size, True
            part = self.folder / ".parts" / sha
            have = part.stat().st_size if part.is_file() else 0
            if not piece or offset != have:
                return have, False
            if have == 0:
                self._make_room(size)
            if have + len(piece) > size:
                part.unlink(missing_ok=True)
                raise self.bad(self.longer)
            part.parent.mkdir(parents=True, exist_ok=True)
            with part.open("ab") as file:
                file.write(piece)
            have += len(piece)
            if have == size:
                self._finish(part, sha)
            return have, have == size

    def fits(self, part: Path) -> None:
        """Raises `bad` for a whole file that is of the wrong kind."""

    def _make_room(self, size: int) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        if self._total is None:
            self._total = sum(f.stat().st_size for f in self.folder.glob("*") if f.is_file())
        free = shutil.disk_usage(self.folder).free
        if free - size < LEAST_FREE or (self.most and self._total + size > self.most):
            raise self.full(details={"free": free, "held": self._total})
        parts = sorted((self.folder / ".parts").glob("*"), key=lambda f: f.stat().st_mtime)
        old = time.time() - PART_DAYS * 86_400
        # Whoever began to send it still has all of it, and is told to begin again.
        for part in parts[: max(0, len(parts) - MOST_PARTS)]:
            part.unlink(missing_ok=True)
        for part in parts:
            if part.is_file() and part.stat().st_mtime < old:
                part.unlink(missing_ok=True)

    def _finish(self, part: Path, sha: str) -> None:
        size = part.stat().st_size
        try:
            with part.open("rb") as file:
                if hashlib.file_digest(file, "sha256").hexdigest() != sha:
                    raise self.bad(self.differs)
            self.fits(part)
        except self.bad:
            part.unlink()
            raise
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        part.replace(self.folder / sha)
        self._total = (self._total or 0) + size
