"""The file ``starts`` beside the database: what a database put back cannot know (sync.md 3.4).

It is no part of a backup. It holds the number of starts, so that an older database is noticed at
once, and the devices with their generations, so that a phone whose key was taken back after the
backup stays locked out.
"""

from __future__ import annotations

import json
import os
import secrets
from pathlib import Path
from typing import Any

KEPT = ("gen", "role", "person", "name", "letter", "state", "made")


class SideFile:
    """The side file of one data folder; a missing or damaged one says nothing."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._stamp: tuple[int, int] = (0, 0)
        self._known: dict[str, Any] = {}

    def read(self) -> dict[str, Any]:
        """Returns {"gen": starts, "devices": {dev: {...}}}; read again only when it changed."""
        try:
            found = self.path.stat()
            stamp = (found.st_mtime_ns, found.st_ino)
            if stamp != self._stamp:
                said = json.loads(self.path.read_text(encoding="utf-8"))
                self._known = said if isinstance(said, dict) else {"gen": int(said)}
                self._stamp = stamp
        except (OSError, ValueError, TypeError):
            self._known, self._stamp = {}, (0, 0)
        devices = self._known.get("devices")
        gen = self._known.get("gen")
        return {
            "gen": gen if isinstance(gen, int) else 0,
            "devices": devices if isinstance(devices, dict) else {},
        }

    def gen(self) -> int:
        """Returns the number of starts that the file knows of."""
        return int(self.read()["gen"])

    def write(self, gen: int, devices: list[dict[str, Any]]) -> None:
        """Writes the file whole and flushed, so that a cut leaves the old one."""
        told = {row["dev"]: {name: row[name] for name in KEPT} for row in devices}
        temporary = self.path.with_name(f"{self.path.name}.{secrets.token_hex(4)}")
        with temporary.open("w", encoding="utf-8") as file:
            json.dump({"v": 1, "gen": gen, "devices": told}, file, ensure_ascii=False)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(self.path)
