"""The fold: from lines to state. Same lines, same state, in any order of arrival, repeated or not.

The twin of fold.ts. A unit is what is folded, stored and sent as one row: a batch with its parts,
"farm" (places, strains, spawn lots, loads, people, settings) or "?" (codes nobody has born yet).
`add` only takes a line in and marks what it touches; reading a unit folds what is marked.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from . import rules
from .catalogue import KINDS
from .ids import type_of
from .index import CORRECTIONS, Index, codes_of, is_birth, is_correction
from .life import Life, Node, is_part
from .line import Line
from .order import key_of
from .places import Places
from .reference import REFERENCES, reference

FARM, LOOSE = "farm", "?"
ROW_VERSION = 1
ABOUT = (*CORRECTIONS, "question.answered")

Unit = dict[str, Any]
Row = dict[str, Any]


class Farm:
    """State of a farm, or of as much of it as was loaded."""

    def __init__(self) -> None:
        self.index = Index()
        self.places = Places(self.index)
        self._life = Life(self.index, self.places, self.strain_of)
        self._units: dict[str, Unit] = {}
        # Which units a place, spawn lot or load is named in, so that a word about it finds them.
        self._users: dict[str, set[str]] = {}
        self._nodes: dict[str, dict[str, Node]] = {}
        self._dirty: dict[str, set[str] | None] = {FARM: None, LOOSE: None}
        self._codes: set[str] = set()  # of parts, as far as a line named them
        self._loose: set[str] = set()  # of these, the ones that may have no home
        self._recheck = False
        self._farm_lines: set[str] = set()

    def add(self, line: Line) -> set[str]:
        """Take a line in and return the units it touches; a line already known touches none."""
        touched: set[str] = set()
        # A receipt may take away the role that an unsent record was given.
        again = line["id"] in self.index.lines
        if self.index.add(line):
            self._recheck = self._recheck or again
            self._touch(line, touched)
        return touched

    def units(self) -> list[str]:
        """List the units there are, "?" only while it holds something."""
        found = set(self._units) | set(self._dirty)
        if LOOSE in found and not self.unit(LOOSE)["lines"]:
            found.discard(LOOSE)
        return sorted(found)

    def home(self, code: str) -> str | None:
        """Return the batch that a part's code belongs to, or None while its birth is unknown."""
        seen: set[str] = set()
        while code not in seen:
            seen.add(code)
            if type_of(code) == "M":
                return code
            birth = code[2:38] if code.startswith("g-") else self.index.holder(code)
            line = self.index.lines.get(birth) if birth else None
            if line is None or not is_birth(line) or self.index.held(line["id"]):
                return None
            if code.startswith("g-") and not self._is_untagged(line["id"], code[38:]):
                return None
            code = line["s"][0]
        return None

    def _is_untagged(self, birth: str, suffix: str) -> bool:
        """Tell whether a birth has a part of that name: no label, or one that lost a clash."""
        line = self.index.effective(birth)
        to = line["d"].get("to", [])
        if suffix:
            i = int(suffix[1:])
            return suffix == f".{i}" and i < len(to) and self.index.holder(to[i]) != birth
        bags = sum(1 for code in to if code[0] == "B")
        return bags == len(to) and bool(line["d"].get("n", bags) > bags)

    def strain_of(self, spawn: str) -> str | None:
        """Return the strain of a spawn lot: its own, else its parent's."""
        lots = self.unit(FARM)["ref"]["spawn"]
        seen: set[str] = set()
        while spawn in lots and spawn not in seen:
            seen.add(spawn)
            if "strain" in lots[spawn]:
                return str(lots[spawn]["strain"])
            spawn = lots[spawn].get("parent", "")
        return None

    def unit(self, unit: str) -> Unit:
        """Return a unit, folded.

        A batch: {"unit","name","moisture","mixed","parts","picks","questions","held","refs"};
        the farm: {"unit","ref","questions","held"}; "?": {"unit","codes","lines","held"}.
        """
        if unit in self._dirty or unit not in self._units:
            marked = self._dirty.pop(unit, None)
            if unit == FARM:
                self._keep(unit, self._fold_farm())
            elif unit == LOOSE:
                self._keep(unit, self._fold_loose())
            else:
                self._keep(unit, self._fold_batch(unit, marked))
        return self._units[unit]

    def part(self, code: str) -> dict[str, Any] | None:
        """Return a part's state, or None while nobody has born it."""
        home = self.home(code)
        return self.unit(home)["parts"].get(code) if home else None

    def history(self, code: str) -> list[Line]:
        """List the acts of a part in order, with those of its parent before the split."""
        home = self.home(code)
        if home is None:
            return []
        self.unit(home)
        node = self._nodes.get(home, {}).get(code)
        if node is None and home in self._units:
            self._fold_afresh(home)
            node = self._nodes[home].get(code)
        return list(node.path) if node else []

    def row(self, unit: str) -> Row:
        """Return a unit with its lines: the form in which it is stored and sent."""
        folded = self.unit(unit)
        ids = self._line_ids(unit)
        # With all that corrects them: a harvest may be of two batches, its void names one.
        ids = {kin for i in ids for kin in self.index.kin(i)}
        lines = sorted((self.index.lines[i] for i in ids), key=key_of)
        return {**folded, "v": ROW_VERSION, "lines": lines}

    def rows(self) -> Iterable[Row]:
        """Yield the rows of all units, in the order of their names."""
        for unit in self.units():
            yield self.row(unit)

    def load_row(self, row: Row) -> None:
        """Take in a stored row: its lines, and its state unless it is of another version."""
        fresh = [line for line in row["lines"] if self.index.add(line)]
        touched: set[str] = set()
        for line in fresh:
            self._touch(line, touched)
        if row["v"] == ROW_VERSION and row["unit"] not in (LOOSE,):
            self._keep(row["unit"], {k: v for k, v in row.items() if k not in ("v", "lines")})
            self._nodes.pop(row["unit"], None)
            self._dirty.pop(row["unit"], None)

    # -- marking ---------------------------------------------------------------------------------

    def _touch(self, line: Line, touched: set[str]) -> None:
        """Mark what a new line touches: its units, and those of all that it corrects."""
        if line["k"] == "question.answered" and not line["s"]:
            for unit in list(self._units):
                self._mark(unit, None, touched)
        kin = self.index.kin(line["id"])
        kind = KINDS.get(line["k"])
        simple = kind is not None and (bool(kind.reach) or "noted" in kind.rules)
        for i in kin:
            one = self.index.lines[i]
            self._touch_codes(one, touched, whole=len(kin) > 1 or not simple)
            if is_birth(one):
                self._recheck = self._recheck or len(kin) > 1
                for label in one["d"].get("to", []):
                    claims = self.index.all_claimants(label)
                    self._recheck = self._recheck or len(claims) > 1
                    for claim in claims:
                        home = self.home(self.index.lines[claim]["s"][0])
                        self._mark(home or LOOSE, None, touched)
                self._settle(touched)

    def _touch_codes(self, line: Line, touched: set[str], whole: bool) -> None:
        codes = codes_of(line)
        farm = not codes
        for code in codes:
            kind = type_of(code)
            if kind == "M":
                self._mark(code, None, touched)
            elif is_part(code):
                home = self.home(code)
                self._codes.add(code)
                if home is None:
                    self._loose.add(code)
                self._mark(home or LOOSE, None if whole else {code}, touched)
            else:
                farm = True
                if kind == "P":
                    self.places.know(code)
                if kind in ("P", "S", "H"):
                    self._mark_users(code, touched)
        if farm:
            self._farm_lines.add(line["id"])
            self._mark(FARM, None, touched)

    def _mark_users(self, code: str, touched: set[str]) -> None:
        for unit in self._users.get(code, ()):
            self._mark(unit, None, touched)

    def _mark(self, unit: str, parts: set[str] | None, touched: set[str]) -> None:
        touched.add(unit)
        have = self._dirty.get(unit, set()) if unit in self._dirty or unit in self._units else None
        nodes = self._nodes.get(unit)
        if parts is None or have is None or nodes is None or not parts <= nodes.keys():
            self._dirty[unit] = None
        else:
            self._dirty[unit] = have | parts

    def _settle(self, touched: set[str]) -> None:
        self._mark(LOOSE, None, touched)
        for code in list(self._loose):
            home = self.home(code)
            if home is not None:
                self._loose.discard(code)
                self._mark(home, None, touched)

    # -- folding ---------------------------------------------------------------------------------

    def _fold_farm(self) -> Unit:
        lines = [
            self.index.effective(i)
            for i in self._farm_lines
            if self.index.counts(i) and self.index.lines[i]["k"] in REFERENCES
        ]
        ref, questions = reference(sorted(lines, key=key_of), self.index.epochs)
        for code, place in ref["places"].items():
            within = self.places.within(code)
            place.pop("within", None)
            if within:
                place["within"] = within
        for line in self.places.rings():
            questions.append({"id": f"ring:{line['id']}", "rule": "ring", "recs": [line["id"]],
                              "sub": list(line["s"])})  # fmt: skip
        return {"unit": FARM, "ref": ref, "questions": self._open(questions),
                "held": self._held(self._farm_lines)}  # fmt: skip

    def _fold_loose(self) -> Unit:
        ids = self._line_ids(LOOSE)
        held = [{"id": i, "why": self.index.held(i) or "unknown"} for i in sorted(ids)
                if not self.index.voided(i) and not self._corrects(i)]  # fmt: skip
        return {"unit": LOOSE, "codes": sorted(self._loose), "lines": sorted(ids), "held": held}

    def _keep(self, unit: str, folded: Unit) -> None:
        before = self._units.get(unit, {}).get("refs", ())
        for code in before:
            self._users[code].discard(unit)
        for code in folded.get("refs", ()):
            self._users.setdefault(code, set()).add(unit)
        self._units[unit] = folded

    def _corrects(self, record_id: str) -> bool:
        """Tell whether a record is a correction that counts, whatever label it names."""
        return is_correction(self.index.lines[record_id]) and self.index.held(record_id) is None

    def _fold_afresh(self, unit: str) -> None:
        self._nodes.pop(unit, None)
        self._keep(unit, self._fold_batch(unit, None))

    def _fold_batch(self, unit: str, marked: set[str] | None) -> Unit:
        nodes = self._nodes.get(unit)
        acts = [line for line in self.index.naming(unit) if _batch_act(line, unit)]
        if nodes is None or marked is None:
            nodes = self._nodes[unit] = self._grow(unit)
            for node in nodes.values():
                self._fold_node(node, acts)
        else:
            for node in nodes.values():  # parents come before children
                if node.code in marked or (node.parent and node.parent.code in marked):
                    marked.add(node.code)
                    self._fold_node(node, acts)
        return self._sum_batch(unit, nodes)

    def _fold_node(self, node: Node, acts: list[Line]) -> None:
        self._life.fold(node, acts)
        node.n, recs = self._count(node)
        node.asks = self._clash(node)
        if node.n < 0:
            node.asks.append({"id": f"count_negative:{node.code}", "rule": "count_negative",
                              "recs": recs, "sub": [node.code]})  # fmt: skip
        birth = node.birth["id"]
        if self.index.voided(birth):
            node.asks.append({"id": f"split_voided:{birth}:{node.code}", "rule": "split_voided",
                              "recs": [birth], "sub": [node.code]})  # fmt: skip

    def _lots(self, code: str) -> set[str]:
        """Return a spawn lot with the lots it was made from, as their strain is its strain."""
        lots = self.unit(FARM)["ref"]["spawn"]
        found: set[str] = set()
        while code and code not in found:
            found.add(code)
            code = lots.get(code, {}).get("parent", "")
        return found

    def _sum_batch(self, unit: str, nodes: dict[str, Node]) -> Unit:
        parts: dict[str, Any] = {}
        questions: list[dict[str, Any]] = []
        refs: set[str] = set()
        for node in nodes.values():
            part = {**node.part, "n": node.n, "id": node.birth["id"]}
            if node.parent:
                part["up"] = node.parent.code
            if node.num:
                part["num"] = node.num
            parts[node.code] = part
            questions.extend([*node.questions, *node.asks])
            for member in node.members:
                refs |= self._lots(member)
            for place in node.stood:
                refs |= {place, *self.places.around(place)}
        ids = self._line_ids(unit)
        for line in [self.index.lines[i] for i in ids]:
            # Not here yet, and when it comes it may name other codes than its correction.
            if is_correction(line) and line["d"]["target"] not in self.index.lines:
                refs.add(line["d"]["target"])
            if is_birth(line):  # what another unit says of these labels changes this one
                labels = line["d"].get("to", ())
                refs |= {code for code in labels if len(self.index.all_claimants(code)) > 1}
        folded: Unit = {
            "unit": unit,
            "parts": parts,
            "picks": self._picks(unit),
            "refs": sorted(refs),
        }
        folded |= self._mix(unit)
        folded["questions"] = self._open(questions)
        folded["held"] = self._held(ids)
        return folded

    def _grow(self, unit: str) -> dict[str, Node]:
        """Build the tree of parts of a batch: births of the batch, then splits of each part."""
        nodes: dict[str, Node] = {}
        todo: list[tuple[str, Node | None]] = [(unit, None)]
        while todo:
            code, parent = todo.pop(0)
            births = [self.index.effective(i) for i in self.index.all_naming(code)
                      if is_birth(self.index.lines[i]) and self.index.lines[i]["s"][0] == code
                      and self.index.held(i) is None]  # fmt: skip
            for birth in sorted(births, key=key_of):
                for node in self._children(birth, parent):
                    if node.code in nodes:
                        continue
                    nodes[node.code] = node
                    if parent is not None:
                        parent.children.append(node)
                    todo.append((node.code, node))
        return nodes

    def _children(self, birth: Line, parent: Node | None) -> Iterable[Node]:
        voided = self.index.voided(birth["id"])
        split = key_of(birth) if parent else ""
        first, bags = birth["d"].get("first", ""), 0
        for label, count, suffix in rules.born(birth):
            num = ""
            if label.startswith("B"):
                num = rules.number_of(first, bags) if first else ""
                bags += 1
            code = self._code_of(birth["id"], label, suffix)
            if voided and not self._named_live(code, birth["id"]):
                continue
            yield Node(code, 0 if voided else count, num, birth, parent, split)

    def _named_live(self, code: str, birth: str) -> bool:
        # A correction or an answer names what it is about; by itself it keeps nothing alive.
        return any(
            i != birth and self.index.lines[i]["k"] not in ABOUT and self.index.counts(i, code)
            for i in self.index.all_naming(code)
        )

    def _count(self, node: Node) -> tuple[int, list[str]]:
        n, recs = node.born, [node.birth["id"]]
        for line in self.index.naming(node.code):
            if line["k"] == "group.corrected":
                n += line["d"]["by"]
                recs.append(line["id"])
            elif is_birth(line) and line["s"][0] == node.code:
                n -= sum(count for _, count, _ in rules.born(line))
                recs.append(line["id"])
        return n, recs

    def _clash(self, node: Node) -> list[dict[str, Any]]:
        if not node.code.startswith("g-") or "." not in node.code:
            return []
        i = int(node.code.rpartition(".")[2])
        label = node.birth["d"]["to"][i]
        recs = [line["id"] for line in self.index.claimants(label)]
        if len(recs) < 2:
            return []
        return [{"id": f"label_twice:{label}:{node.code}", "rule": "label_twice", "recs": recs,
                 "sub": [label, node.code]}]  # fmt: skip

    def _mix(self, unit: str) -> dict[str, Any]:
        """Return a batch's name, moisture and mix: fields of its batch records, the later wins."""
        data: dict[str, Any] = {}
        for line in self.index.naming(unit):
            if "batch" in KINDS[line["k"]].rules and line["s"] == [unit]:
                data.update(line["d"])
                data.setdefault("was", {"ms": line["t"], "p": "m"})
        found = {k: data[k] for k in ("name", "moisture") if k in data}
        names = ("recipe", "recipe_name", "parts", "wet_g", "target", "dry_g", "lines", "was")
        return found | {"mixed": {k: data[k] for k in names if k in data}}

    def _picks(self, unit: str) -> list[dict[str, Any]]:
        """List what was picked of a batch, in order; grams follow `of`, never membership."""
        picks = []
        for line in self.index.naming(unit):
            d = line["d"]
            if line["k"] == "bag.harvested" and any(pair[0] == unit for pair in d["of"]):
                pick = {
                    "id": line["id"],
                    "g": d["g"],
                    "of": d["of"],
                    "flush": d["flush"],
                    "t": line["t"],
                }
                if "grade" in d:
                    pick["grade"] = d["grade"]
                picks.append(pick)
        return picks

    def _line_ids(self, unit: str) -> set[str]:
        if unit == FARM:
            return self._farm_lines
        if unit == LOOSE:
            # A new claim on a label, or a correction of a birth, can take a home away again.
            among = self._codes if self._recheck else self._loose
            self._loose = {code for code in among if self.home(code) is None}
            self._recheck = False
            return {i for code in self._loose for i in self.index.all_naming(code)}
        ids: set[str] = set()
        codes = [unit]
        known = {unit}
        for code in codes:  # grows: also by parts of voided splits, which have no node
            for i in self.index.all_naming(code):
                ids.add(i)
                line = self.index.lines[i]
                if not is_birth(line) or line["s"][0] != code or self.index.held(i):
                    continue
                for label, _, suffix in rules.born(self.index.effective(i)):
                    child = self._code_of(i, label, suffix)
                    if child not in known:
                        known.add(child)
                        codes.append(child)
        return ids

    def _code_of(self, birth: str, label: str, suffix: str) -> str:
        """Return a part's code: its label, if its birth holds it."""
        if label and self.index.holder(label) == birth:
            return label
        return f"g-{birth}{suffix}"

    def _held(self, ids: Iterable[str]) -> list[dict[str, Any]]:
        held = [(i, self.index.held(i)) for i in sorted(ids)]
        return [{"id": i, "why": why} for i, why in held if why and not self.index.voided(i)]

    def _open(self, questions: list[dict[str, Any]]) -> list[dict[str, Any]]:
        open_ = [q for q in questions if self.index.answer(q["id"]) is None]
        return sorted(open_, key=lambda q: q["id"])


def _batch_act(line: Line, unit: str) -> bool:
    kind = KINDS[line["k"]]
    return unit in line["s"] and (bool(kind.reach) or "load" in kind.rules)
