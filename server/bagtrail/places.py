"""Where places stand, and which acts on places reach what stands there; the twin of places.ts."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from typing import NamedTuple

from .catalogue import KINDS
from .index import Index
from .line import Line
from .order import key_of

NEVER = "~"  # sorts after every key
_TO = {"place.named": "within", "place.moved": "to"}


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
        self._own: dict[str, list[Act]] = {}
        self._stays: dict[str, list[Stay]] | None = None
        self._rings: list[Line] = []

    def know(self, code: str) -> None:
        """Take note of a place; what was worked out is dropped."""
        self._codes.add(code)
        self.forget()

    def forget(self) -> None:
        """Drop what was worked out."""
        self._acts.clear()
        self._own.clear()
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
        """Return all places that a place ever stood in, however deep.

        Also those that a refused move named: when they move, the ring may open and the move count.
        """
        found: set[str] = set()
        todo = [code]
        while todo:
            inner = todo.pop()
            parents = [stay.parent for stay in self.stays(inner)]
            refused = [line for line in self.rings() if line["s"] == [inner]]
            parents += [line["d"].get(_TO[line["k"]]) for line in refused]
            for parent in parents:
                if parent and parent not in found:
                    found.add(parent)
                    todo.append(parent)
        return found

    def acts(self, code: str) -> list[Act]:
        """Return the acts that reach what stands at a place, in order."""
        if code not in self._acts:
            self._acts[code] = self._find_acts(code, "", NEVER)
        return self._acts[code]

    def next_act(self, code: str, after: str) -> Act | None:
        """Return the first act at a place later than a key."""
        acts = self.acts(code)
        i = bisect_right(acts, after, key=_key)
        return acts[i] if i < len(acts) else None

    def _find_acts(self, code: str, start: str, end: str) -> list[Act]:
        """Return the acts that reach a place between two keys.

        Bounded by the keys, because two places may have stood in each other, one after the other:
        at any one moment the places are a tree, so each chain of stays ends.
        """
        own = self._own_acts(code)
        first, last = bisect_right(own, start, key=_key), bisect_left(own, end, key=_key)
        found = own[first:last]
        for stay in self.stays(code):
            low, high = max(start, stay.start), min(end, stay.end)
            if stay.parent is None or low >= high:
                continue
            for act in self._find_acts(stay.parent, low, high):
                if code not in act.line.get("x", ()):
                    found.append(Act(act.key, act.line, (*act.via, stay.line)))
        return sorted(found, key=_key)

    def _own_acts(self, code: str) -> list[Act]:
        if code not in self._own:
            self._own[code] = [
                Act(key_of(line), line, ())
                for line in self._index.naming(code)
                if KINDS[line["k"]].reach and code in line["s"]
            ]
        return self._own[code]

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
            to = line["d"].get(_TO[line["k"]])
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


def _key(act: Act) -> str:
    return act.key


def _closes_ring(code: str, to: str | None, parent: dict[str, str | None]) -> bool:
    while to is not None:
        if to == code:
            return True
        to = parent.get(to)
    return False
