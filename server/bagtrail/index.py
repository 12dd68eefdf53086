"""What the fold looks records up by: code, target, label claims; knows what counts and what not.

The twin of index.ts. Everything here is independent of the order of arrival: lists are sorted by
the order key when they are read.
"""

from __future__ import annotations

from . import rules
from .catalogue import KINDS, check_fields
from .line import Line
from .order import key_of

CORRECTIONS = ("record.voided", "record.amended", "record.admitted")


class Index:
    """All lines held, by id and by everything they name.

    Attributes:
        lines: id -> line as written (never changed).
        epochs: epochs of this log, oldest first; whoever holds the log sets them.
    """

    def __init__(self) -> None:
        self.lines: dict[str, Line] = {}
        self.epochs: list[str] = []
        self._by_code: dict[str, list[str]] = {}
        self._by_target: dict[str, list[str]] = {}
        self._claims: dict[str, list[str]] = {}
        self._answers: dict[str, list[str]] = {}
        self._effective: dict[str, Line] = {}
        self._void: dict[str, bool | frozenset[str]] = {}

    def add(self, line: Line) -> bool:
        """Take a line in; return False when it changes nothing.

        A line that has a place in the log replaces an unsent one of the same id.
        """
        old = self.lines.get(line["id"])
        if old is not None and (old["p"] or not line["p"]):
            return False
        self.lines[line["id"]] = line
        self.forget(line["id"])
        if old is None:
            for code in codes_of(line):
                self._by_code.setdefault(code, []).append(line["id"])
            if is_birth(line):
                for code in line["d"].get("to", []):
                    self._claims.setdefault(code, []).append(line["id"])
            if line["k"] in CORRECTIONS and "w" not in line:
                self._by_target.setdefault(line["d"]["target"], []).append(line["id"])
            if line["k"] == "question.answered" and "w" not in line:
                self._answers.setdefault(line["d"]["question"], []).append(line["id"])
        return True

    def forget(self, record_id: str) -> None:
        """Drop what was worked out about a record and about all that its corrections reach."""
        for one in self.kin(record_id):
            self._effective.pop(one, None)
            self._void.pop(one, None)

    def kin(self, record_id: str) -> list[str]:
        """List a record with all that it corrects and that corrects it, however far, if here."""
        alone = record_id not in self._by_target and record_id in self.lines
        if alone and not is_correction(self.lines[record_id]):
            return [record_id]  # nearly all are
        found: dict[str, None] = {}
        todo = [record_id]
        while todo:
            one = todo.pop()
            line = self.lines.get(one)
            if line is None or one in found:
                continue
            found[one] = None
            if is_correction(line):
                todo.append(line["d"]["target"])
            # A correction whose target changed may gain or lose its authority.
            todo.extend(self._by_target.get(one, ()))
        return list(found)

    def naming(self, code: str) -> list[Line]:
        """List the live lines that name a code, in order, each with its amendments."""
        found = [self.effective(i) for i in self._by_code.get(code, ()) if self.counts(i, code)]
        return sorted(found, key=key_of)

    def all_naming(self, code: str) -> list[str]:
        """List the ids of all lines that name a code, live or not."""
        return self._by_code.get(code, [])

    def counts(self, record_id: str, code: str | None = None) -> bool:
        """Tell whether a record counts (for a code): it is not held and not voided."""
        return self.held(record_id) is None and not self.voided(record_id, code)

    def held(self, record_id: str) -> str | None:
        """Return why a record is held, or None: "kind", "field:g", "device", "authority", ..."""
        line = self.lines[record_id]
        if "w" in line:
            return str(line["w"])
        target = None
        if line["k"] in ("record.voided", "record.amended"):
            # Asked first: whatever is looked up from here on is later, so it comes to an end.
            target = self.lines.get(line["d"]["target"])
            if target is None or not _later(line, target):
                return "target"
        if line["a"] == "-" and not self._admitted(record_id):
            return "foreign" if "foreign" in line.get("f", ()) else "device"
        if line["k"] == "record.admitted" and line["a"] not in ("o", "m"):
            return "authority"
        if target is not None:
            if not rules.may_correct(line, target) and not self._admitted(record_id):
                return "authority"
            if line["k"] == "record.amended" and self._amend_fault(line, target):
                return "fields"
        return None

    def voided(self, record_id: str, code: str | None = None) -> bool:
        """Tell whether a live void reaches a record, or one of its subjects."""
        gone = self._void.get(record_id)
        if gone is None:
            # The latest first: a void depends on later ones only; a long chain must not recurse.
            kin = [self.lines[i] for i in self.kin(record_id) if i not in self._void]
            for line in sorted(kin, key=_age, reverse=True):
                self._void[line["id"]] = self._find_void(line["id"])
            gone = self._void[record_id]
        if gone is True:
            return True
        if not gone:
            return False
        return code in gone

    def effective(self, record_id: str) -> Line:
        """Return a line with its live amendments in it: the later in order wins, field by field."""
        line = self._effective.get(record_id)
        if line is None:
            line = self._effective[record_id] = self._amended(self.lines[record_id])
        return line

    def holder(self, code: str) -> str | None:
        """Return the id of the birth that holds a label: the earliest live, else the earliest."""
        claims = [self.lines[i] for i in self._claims.get(code, ()) if self.held(i) is None]
        if not claims:
            return None
        live = [line for line in claims if not self.voided(line["id"])]
        return str(min(live or claims, key=key_of)["id"])

    def claimants(self, code: str) -> list[Line]:
        """List the live births that claim a label, in order."""
        ids = self._claims.get(code, ())
        return sorted((self.lines[i] for i in ids if self.counts(i)), key=key_of)

    def all_claimants(self, code: str) -> list[str]:
        """List the ids of all births that name a label, live or not."""
        return self._claims.get(code, [])

    def corrections_of(self, record_id: str) -> list[str]:
        """List the ids of the corrections of a record, live or not."""
        return self._by_target.get(record_id, [])

    def answer(self, question: str) -> Line | None:
        """Return the latest live answer to a question."""
        ids = [i for i in self._answers.get(question, ()) if self.counts(i)]
        return max((self.lines[i] for i in ids), key=key_of, default=None)

    def _admitted(self, record_id: str) -> bool:
        target = self.lines[record_id]
        return any(
            self.lines[i]["k"] == "record.admitted"
            and self.lines[i]["a"] in ("o", "m")
            and _later(self.lines[i], target)
            and not self.voided(i)
            for i in self._by_target.get(record_id, ())
        )

    def _find_void(self, record_id: str) -> bool | frozenset[str]:
        codes: set[str] = set()
        target = self.lines[record_id]
        for i in self._by_target.get(record_id, ()):
            void = self.lines[i]
            if void["k"] != "record.voided" or not self.counts(i):
                continue
            named = void["s"]
            if not named or set(named) >= set(target["s"]):
                return True
            codes.update(named)
        return bool(codes) and codes >= set(target["s"]) or frozenset(codes)

    def _amended(self, line: Line) -> Line:
        amendments = [
            self.lines[i]
            for i in self._by_target.get(line["id"], ())
            if self.lines[i]["k"] == "record.amended" and self.counts(i)
        ]
        if not amendments:
            return line
        line = {**line, "d": dict(line["d"]), "am": True}
        for amend in sorted(amendments, key=key_of):
            line["d"].update(amend["d"].get("fields", {}))
            was = amend["d"].get("was")
            if was is not None:
                if KINDS[line["k"]].timed:
                    line["t"] = min(was["ms"], line["e"])
                    line["o"] = was["p"]
                elif KINDS[line["k"]].field("was"):
                    line["d"]["was"] = was
        return line

    def _amend_fault(self, amend: Line, target: Line) -> bool:
        """Tell whether the amended fields would break the target's kind."""
        fields = amend["d"].get("fields", {})
        if "w" in target or target["k"] in CORRECTIONS or _names(target) & set(fields):
            return True
        return check_fields(target["k"], {**target["d"], **fields}) is not None


def is_birth(line: Line) -> bool:
    """Tell whether a line makes parts."""
    kind = KINDS.get(line["k"])
    return kind is not None and "born" in kind.rules and "w" not in line


def is_correction(line: Line) -> bool:
    """Tell whether a line voids, amends or admits another."""
    return line["k"] in CORRECTIONS and "w" not in line


def codes_of(line: Line) -> list[str]:
    """List all codes a line must be found by: its subjects, and the batches a harvest came from."""
    codes = list(line["s"])
    if line["k"] == "bag.harvested" and "w" not in line:
        codes.extend(pair[0] for pair in line["d"]["of"])
    return list(dict.fromkeys(codes))


def _names(line: Line) -> set[str]:
    """Return the fields a record is found by: void it and write it again, never amend them."""
    return {"to"} if is_birth(line) else {"of"}


def _later(a: Line, b: Line) -> bool:
    """Tell whether `a` was written after `b`: it makes corrections of corrections end."""
    return _age(a) > _age(b)


def _age(line: Line) -> tuple[int, str, int, str]:
    return line["e"], line["st"], line["sq"], line["id"]
