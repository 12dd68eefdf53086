"""Where places stand, and which acts on places reach what stands there; the twin of places.ts."""

from __future__ import annotations

from bisect import bisect_right
from typing import NamedTuple

from .catalogue import KINDS
from .index import Index
from .line import Line
from .order import key_of

NEVER = "~"  # sorts after every key


class Act(NamedTuple):
    """An act on a place as it reaches another place inside: `via` are the joins between the two."""

    key: str
    line: Line
    via: tuple[Line, ...]


class Stay(NamedTuple):
    """From `start` to `end` (keys) a place stood within `parent`, put there by `line`."""

    start: str
    end: str
    parent: str | None
    line: Line


class Places:
    """The tree of places over time. Built from the index when asked, dropped when places change."""

    def __init__(self, index: Index) -> None:
        self._index = index
        self._codes: set[str] = set()
        self._acts: dict[str, list[Act]] = {}
        self._stays: dict[str, list[Stay]] | None = None
        self._rings: list[Line] = []

    def know(self, code: str) -> None:
        """Take note of a place; what was worked out is dropped."""
        self._codes.add(code)
        self.forget()

    def forget(self) -> None:
        """Drop what was worked out."""
        self._acts.clear()
        self._stays = None

    def stays(self, code: str) -> list[Stay]:
        """Return where a place stood, in order."""
        return self._tree().get(code, [])

    def within(self, code: str) -> str | None:
        """Return the place that a place stands in now."""
        stays = self.stays(code)
        return stays[-1].parent if stays else None

    def rings(self) -> list[Line]:
        """Return the moves that would have put a place inside itself; they are ignored."""
        self._tree()
        return self._rings

    def around(self, code: str) -> set[str]:
        """Return all places that a place ever stood in, however deep."""
        found: set[str] = set()
        todo = [code]
        while todo:
            for stay in self.stays(todo.pop()):
                if stay.parent and stay.parent not in found:
                    found.add(stay.parent)
                    todo.append(stay.parent)
        return found

    def acts(self, code: str) -> list[Act]:
        """Return the acts that reach what stands at a place, in order."""
        if code not in self._acts:
            self._acts[code] = []  # a ring in old data must not recurse
            self._acts[code] = self._find_acts(code)
        return self._acts[code]

    def next_act(self, code: str, after: str) -> Act | None:
        """Return the first act at a place later than a key."""
        acts = self.acts(code)
        i = bisect_right(acts, after, key=lambda act: act.key)
        return acts[i] if i < len(acts) else None

    def _find_acts(self, code: str) -> list[Act]:
        found = [
            Act(key_of(line), line, ())
            for line in self._index.naming(code)
            if KINDS[line["k"]].reach and code in line["s"]
        ]
        for stay in self.stays(code):
            if stay.parent is None:
                continue
            for act in self.acts(stay.parent):
                if stay.start < act.key < stay.end and code not in act.line.get("x", ()):
                    found.append(Act(act.key, act.line, (*act.via, stay.line)))
        return sorted(found, key=lambda act: act.key)

    def _tree(self) -> dict[str, list[Stay]]:
        if self._stays is not None:
            return self._stays
        moves = []
        for code in self._codes:
            for line in self._index.naming(code):
                if "place_tree" in KINDS[line["k"]].rules and line["s"] == [code]:
                    moves.append((key_of(line), code, line))
        moves.sort(key=lambda m: m[0])
        stays: dict[str, list[Stay]] = {}
        self._stays = stays
        self._rings = []
        parent: dict[str, str | None] = {}
        for key, code, line in moves:
            field = "within" if line["k"] == "place.named" else "to"
            to = line["d"].get(field)
            if line["k"] == "place.named" and to is None and code in parent:
                continue  # a new name alone moves nothing
            if _closes_ring(code, to, parent):
                self._rings.append(line)
                continue
            parent[code] = to
            own = stays.setdefault(code, [])
            if own:
                own[-1] = own[-1]._replace(end=key)
            own.append(Stay(key, NEVER, to, line))
        return stays


def _closes_ring(code: str, to: str | None, parent: dict[str, str | None]) -> bool:
    while to is not None:
        if to == code:
            return True
        to = parent.get(to)
    return False
