"""Photographs: files named by their own SHA-256 beside the database, taken in piece by piece.

    photos/<sha256>            whole, checked, never changed
    photos/.parts/<sha256>     what has come so far of one that is being sent

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
from typing import Any

from . import backup, jpeg
from .durable import counts
from .errors import BadPhoto, NotFound, PhotosFull
from .store import Store

SHA = re.compile("[0-9a-f]{64}")
LEAST_FREE = 1 << 30  # the log must always find room on the disk
MOST_PARTS = 200
PART_DAYS = 30


class Photos:
    """The photographs of one farm.

    Args:
        folder: where they lie.
        most: bytes of all of them; 0 for as many as the disk holds.
    """

    def __init__(self, folder: Path, most: int = 0) -> None:
        self.folder, self.most = folder, most
        self._lock = threading.Lock()
        self._total: int | None = None
        self._safe: dict[str, frozenset[str]] = {}

    def path(self, sha: str) -> Path:
        """Returns the file of a photograph.

        Raises:
            NotFound: there is none of that name.
        """
        path = self.folder / sha
        if not SHA.fullmatch(sha) or not path.is_file():
            raise NotFound("This photograph is not on the farm's computer yet.")
        return path

    def take(self, sha: str, size: int, offset: int, piece: bytes) -> tuple[int, bool]:
        """Takes a piece in; returns (bytes that are here now, whether it is whole).

        A piece that does not begin where the last one ended is left: the answer says where to go
        on. An empty one only asks.

        Raises:
            BadPhoto: the whole is not what its name says, or no plain JPEG; it is thrown away.
            PhotosFull: there is no room for it.
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
                raise BadPhoto("More came than was told before. Send it from the start.")
            part.parent.mkdir(parents=True, exist_ok=True)
            with part.open("ab") as file:
                file.write(piece)
            have += len(piece)
            if have == size:
                self._finish(part, sha)
            return have, have == size

    def _make_room(self, size: int) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        if self._total is None:
            self._total = sum(f.stat().st_size for f in self.folder.glob("*") if f.is_file())
        free = shutil.disk_usage(self.folder).free
        if free - size < LEAST_FREE or (self.most and self._total + size > self.most):
            raise PhotosFull(details={"free": free, "held": self._total})
        parts = sorted((self.folder / ".parts").glob("*"), key=lambda f: f.stat().st_mtime)
        old = time.time() - PART_DAYS * 86_400
        # Whoever began to send it still has all of it, and is told to begin again.
        for part in parts[: max(0, len(parts) - MOST_PARTS)]:
            part.unlink(missing_ok=True)
        for part in parts:
            if part.is_file() and part.stat().st_mtime < old:
                part.unlink(missing_ok=True)

    def _finish(self, part: Path, sha: str) -> None:
        data = part.read_bytes()
        try:
            if hashlib.sha256(data).hexdigest() != sha:
                raise BadPhoto("The picture is not what its name says: damaged on the way.")
            jpeg.size(data)
        except BadPhoto:
            part.unlink()
            raise
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        part.replace(self.folder / sha)
        self._total = (self._total or 0) + len(data)

    def standing(self, shas: list[str], store: Store) -> dict[str, list[str]]:
        """Returns which of some photographs are missing here, and which a backup that counts holds.

        Returns:
            {"missing": [sha, ...], "safe": [sha, ...]}; a phone may let go of the safe ones.
        """
        with store.reading():
            rows = [row for row in store.backups() if counts(row, store)]
        kept = {row["name"] for row in rows}
        self._safe = {name: held for name, held in self._safe.items() if name in kept}
        for row in rows:
            path = Path(row["folder"]) / row["name"]
            if row["name"] not in self._safe and path.is_file():
                self._safe[row["name"]] = frozenset(backup.read_manifest(path)["photos"])
        safe = frozenset().union(*self._safe.values())
        here = {sha for sha in shas if (self.folder / sha).is_file()}
        return {
            "missing": [sha for sha in shas if sha not in here],
            "safe": [sha for sha in shas if sha in safe and sha in here],
        }


def shown(sha: str, have: int, whole: bool) -> dict[str, Any]:
    """Returns the reply to a piece."""
    return {"k": "photo1", "sha256": sha, "have": have, "whole": whole}
