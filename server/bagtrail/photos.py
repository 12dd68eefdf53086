"""Photographs: files named by their own SHA-256 beside the database (see `pieces`)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from . import backup, jpeg
from .durable import counts
from .errors import BadPhoto, PhotosFull
from .pieces import LEAST_FREE, MOST_PARTS, PART_DAYS, SHA, Pieces
from .store import Store

__all__ = ["LEAST_FREE", "MOST_PARTS", "PART_DAYS", "SHA", "Photos", "shown"]


class Photos(Pieces):
    """The photographs of one farm."""

    missing = "This photograph is not on the farm's computer yet."
    differs = "The picture is not what its name says: damaged on the way."
    bad, full = BadPhoto, PhotosFull

    def __init__(self, folder: Path, most: int = 0) -> None:
        super().__init__(folder, most)
        self._safe: dict[str, frozenset[str]] = {}

    def fits(self, part: Path) -> None:
        """Raises BadPhoto for what is no plain JPEG."""
        jpeg.size(part.read_bytes())

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
