"""The life of one part (a bag, or a group of alike bags): its acts in order, folded to its state.

The twin of life.ts. A part's acts are its own, those of its parent before it was split off, those
of its batch, loads and spawn lots (belonging is timeless), and those on the places where it stood
at that point of the order.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from . import rules
from .catalogue import KINDS
from .ids import type_of
from .index import Index, is_birth
from .line import Line
from .order import key_of
from .places import Places

Keyed = tuple[str, Line]


@dataclass
class Node:
    """A part's place in its batch's tree, and what was folded for it."""

    code: str
    born: int
    num: str
    birth: Line
    parent: Node | None
    split: str  # key of the split that made it, "" for a part of the filling
    children: list[Node] = field(default_factory=list)
    events: list[Keyed] = field(default_factory=list)
    members: set[str] = field(default_factory=set)
    path: list[Line] = field(default_factory=list)
    part: dict[str, Any] = field(default_factory=dict)
    stood: set[str] = field(default_factory=set)
    questions: list[dict[str, Any]] = field(default_factory=list)
    n: int = 0
    asks: list[dict[str, Any]] = field(default_factory=list)

    def root(self) -> Node:
        """Return the part of the filling that this one comes from."""
        node = self
        while node.parent is not None:  # a label may be split a thousand times over
            node = node.parent
        return node


class Life:
    """Folds nodes. `strain_of` gives the strain of a spawn lot, or None."""

    def __init__(
        self, index: Index, places: Places, strain_of: Callable[[str], str | None]
    ) -> None:
        self._index = index
        self._places = places
        self._strain_of = strain_of

    def fold(self, node: Node, batch_acts: list[Line]) -> None:
        """Fold one node; its parent must have been folded before."""
        node.questions = []
        events = self._events(node, batch_acts)
        known: set[str] = set()
        while True:
            node.events = sorted(events, key=lambda e: e[0])
            self._walk(node)
            found = self._found(node)
            fresh = found - known
            if not fresh:
                break
            known |= fresh
            more = self._acts_of_members(node, fresh, events)
            if not more:
                break
            events.extend(more)
        node.members = known

    def _events(self, node: Node, batch_acts: list[Line]) -> list[Keyed]:
        events: list[Keyed] = [(key_of(node.birth), node.birth)]
        have = {node.birth["id"]}
        if node.parent is not None:
            for key, line in node.parent.events:
                # A birth counts whatever the clocks of the two phones said or it excepts.
                early = key < node.split and node.code not in line.get("x", ())
                if (early or is_birth(line)) and line["id"] not in have:
                    have.add(line["id"])
                    events.append((key, line))
        for line in batch_acts:
            key = key_of(line)
            if line["id"] in have or key < node.split or node.code in line.get("x", ()):
                continue
            have.add(line["id"])
            if self._reaches(node, line, [node.root().birth]):
                events.append((key, line))
        for line in self._index.naming(node.code):
            if line["id"] not in have and _acts(line):
                have.add(line["id"])
                events.append((key_of(line), line))
        return events

    def _found(self, node: Node) -> set[str]:
        codes = {line["s"][0] for line in node.path if "load" in KINDS[line["k"]].rules}
        codes |= {line["d"]["spawn"] for line in node.path if "spawn" in line["d"] and _acts(line)}
        return codes

    def _acts_of_members(self, node: Node, codes: set[str], events: list[Keyed]) -> list[Keyed]:
        have = {line["id"] for _, line in events}
        more: list[Keyed] = []
        for code in sorted(codes):
            shared = node.parent is not None and code in node.parent.members
            join = self._join_of(node, code)
            for line in self._index.naming(code):
                key = key_of(line)
                # A load's result is said of the load, also when its bags were put in by another.
                reaches = KINDS[line["k"]].reach or line["k"] == "load.ran"
                if line["id"] in have or not reaches or node.code in line.get("x", ()):
                    continue
                if shared and key < node.split:
                    continue
                have.add(line["id"])
                if self._reaches(node, line, [join] if join else []):
                    more.append((key, line))
        return more

    def _join_of(self, node: Node, code: str) -> Line | None:
        for line in node.path:
            load = "load" in KINDS[line["k"]].rules and line["s"][0] == code
            if load or line["d"].get("spawn") == code:
                return line
        return None

    def _reaches(self, node: Node, line: Line, joins: list[Line]) -> bool:
        """Tell whether an act on something larger reaches a part: "seen" only what was known."""
        if KINDS[line["k"]].reach != "seen":
            return True
        if all(rules.seen(line, join, self._index.epochs) for join in joins):
            return True
        _ask(node, f"reach:{line['id']}:{node.code}", "reach", [line["id"]], [node.code])
        return False

    def _walk(self, node: Node) -> None:
        node.part, node.path, node.stood = {"born": node.born}, [], set()
        node.questions = [q for q in node.questions if q["rule"] == "reach"]
        run = _Run(node, self._index, self._strain_of)
        events, i, after = node.events, 0, ""
        done: set[str] = set()
        while True:
            place = node.part.get("place")
            act = self._places.next_act(place, after) if place else None
            if i < len(events) and (act is None or events[i][0] <= act.key):
                after, line = events[i]
                i += 1
                if line["id"] not in done:
                    done.add(line["id"])
                    run.apply(line)
            elif act is not None:
                after = act.key
                if act.line["id"] in done or _excepted(node, act.line, act.key):
                    continue
                joins = [run.join, *act.via] if run.join is not None else list(act.via)
                if self._reaches(node, act.line, joins):
                    done.add(act.line["id"])
                    run.apply(act.line, by_place=True)
            else:
                break
        if not node.part["inferred"]:
            del node.part["inferred"]


class _Run:
    """One walk over a part's acts."""

    def __init__(self, node: Node, index: Index, strain_of: Callable[[str], str | None]) -> None:
        self.node = node
        self.part = node.part
        self.part["inferred"] = []
        self.part["next"] = 1
        self.join: Line | None = None
        self._index = index
        self._strain_of = strain_of
        self._ended: Line | None = None
        self._move: Line | None = None
        self._pick: Line | None = None
        self._first: Line | None = None
        self._by_place = False

    def apply(self, line: Line, by_place: bool = False) -> None:
        """Apply one act in its order; `by_place`: it reached the part where the part stood."""
        self._by_place = by_place
        kind = KINDS[line["k"]]
        part, at = self.part, when(line)
        if self._ended is not None and kind.alive:
            if self.node.code in line["s"]:
                known = rules.seen(line, self._ended, self._index.epochs)
                self._ask("after_end", self._ended, line, known=known)
                self.node.path.append(line)
            return
        self.node.path.append(line)
        part["last"] = max(at, part.get("last", 0))
        for effect in kind.effects:
            self._effect(effect, line, at)
        for rule in kind.rules:
            handler = getattr(self, f"_{rule}", None)
            if handler is not None:
                handler(line, at)

    def _effect(self, effect: tuple[Any, ...], line: Line, at: int) -> None:
        part, d, name = self.part, line["d"], effect[1]
        match effect[0]:
            case "put":
                part[name] = {f: d[f] for f in effect[2] if f in d} | {"t": at}
            case "append":
                part.setdefault(name, []).append({f: d[f] for f in effect[2] if f in d} | {"t": at})
            case "add":
                part[name] = part.get(name, 0) + effect[2]
            case "set":
                if effect[2] in d:
                    part[name] = d[effect[2]]
            case _ if self._ended is not None:
                return
            case "stage":
                rules.reach_stage(part, name, at)
            case "stand":
                if name in d:
                    part["place"], part["placed"] = d[name], at
                    self.node.stood.add(d[name])
                    self.join = line
            case "end":
                self._end(line, d[name], at)
            case "end_if":
                if d.get(name) == effect[2]:
                    self._end(line, effect[3], at)

    def _end(self, line: Line, cause: str, at: int) -> None:
        self.part["end"], self.part["ended"] = cause, at
        self.part.pop("place", None)
        self.part.pop("placed", None)
        self._ended = line

    def _born(self, line: Line, at: int) -> None:
        # Also when its end was stated for a time before the filling: every part has a stage.
        if line["k"] == "stock.opened":
            rules.reach_stage(self.part, line["d"]["stage"], at, stated=True)
        elif line["k"] == "bag.filled":
            rules.reach_stage(self.part, "filled", at)

    def _load(self, line: Line, at: int) -> None:
        part, code = self.part, line["s"][0]
        if "result" not in line["d"]:
            # What failed stays failed until another run of it is told to have passed.
            if part.get("load") != code and part.get("gate") != "failed":
                part["gate"] = "open"
            part["load"] = code
            return
        part["load"], part["gate"] = code, line["d"]["result"]
        if line["d"]["result"] != "failed" and self._ended is None:
            rules.reach_stage(self.part, "sterilised", at)

    def _inoculated(self, line: Line, at: int) -> None:
        d, part = line["d"], self.part
        strain = d.get("strain") or (self._strain_of(d["spawn"]) if "spawn" in d else None)
        if strain and part.get("strain") not in (None, strain) and self._first is not None:
            self._ask("strain_twice", self._first, line)
        if strain:
            part["strain"] = strain
        if "spawn" in d:
            part["spawn"] = d["spawn"]
        part["inoculated"] = at
        self._first = line
        if part.get("gate") == "failed":
            if d.get("override"):
                part["gate"] = "overridden"
            else:
                self._ask("gate", line)

    def _new_flush(self, line: Line, at: int) -> None:
        self.part["next"] = self.part.get("flush", 0) + 1

    def _harvested(self, line: Line, at: int) -> None:
        d, part = line["d"], self.part
        part["flush"] = max(part.get("flush", 0), d["flush"])
        part["next"] = part["flush"]
        part["picked"] = at
        if d.get("done"):
            part["next"] += 1
            rules.reach_stage(part, "resting", at)
        if line["s"] == [self.node.code]:
            part["g"] = part.get("g", 0) + d["g"]
        last = self._pick
        if last is not None and last["st"] == line["st"] and last["s"] == line["s"]:
            if 0 <= line["e"] - last["e"] < rules.REPEAT_MS:
                self._ask("harvest_repeat", last, line)
        self._pick = line

    def _moved(self, line: Line, at: int) -> None:
        last = self._move
        self._move = line
        # What was carried off with all that stood there agrees with the move that brought it there.
        if last is None or last["d"]["to"] == line["d"]["to"] or self._by_place:
            return
        epochs = self._index.epochs
        if abs(line["e"] - last["e"]) <= rules.APART_MS:
            return
        if not rules.seen(line, last, epochs) and not rules.seen(last, line, epochs):
            self._ask("two_places", last, line)

    def _ask(self, rule: str, *lines: Line, **more: Any) -> None:
        ids = [line["id"] for line in lines]
        _ask(self.node, ":".join([rule, *ids, self.node.code]), rule, ids, [self.node.code], **more)


def when(line: Line) -> int:
    """Return when an act happened, for people: what was said, else what the order goes by."""
    was = line["d"].get("was")
    return int(was["ms"]) if isinstance(was, dict) else int(line["t"])


def _acts(line: Line) -> bool:
    kind = KINDS[line["k"]]
    return bool(kind.reach) or "load" in kind.rules or "noted" in kind.rules


def _excepted(node: Node, line: Line, key: str) -> bool:
    x = line.get("x")
    here: Node | None = node
    while x and here is not None:
        if here.code in x:
            return True
        here = here.parent if key < here.split else None
    return False


def _ask(node: Node, question: str, rule: str, ids: list[str], sub: list[str], **more: Any) -> None:
    if all(q["id"] != question for q in node.questions):
        node.questions.append({"id": question, "rule": rule, "recs": ids, "sub": sub, **more})


def is_part(code: str) -> bool:
    """Tell whether a code names a part."""
    return type_of(code) in ("B", "G")
