"""What an entry of the catalogue is: a kind of record with its fields and its effects.

Effects are data from a closed set, so that the fold of either language can read them:

    ("ref", collection)          the subject is an entry of that collection; its fields are set
    ("set", name, field)         the part's `name` becomes the field (the last in order wins)
    ("put", name, (fields...))   the part's `name` becomes an object of those fields and the time
    ("append", name, (fields..)) the same object is added to a list
    ("add", name, n)             the part's `name` grows by n
    ("stage", name)              the part reaches that stage
    ("stand", field)             the part stands at that place from here on
    ("end", field)               the part's life ends, with the field as its cause
    ("end_if", field, value, c)  the same with cause c, if the field has that value

What they cannot say is a rule: a function of the same name in both languages.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any

INT, TEXT, CODE, CODES, CHOICE, FLAG = "int", "text", "code", "codes", "choice", "flag"
TIME, ID, PARTS, OF, FIELDS, WAS = "time", "id", "parts", "of", "fields", "was"
ROWS = "rows"

MAX_SAFE = 2**53 - 1  # whole numbers beyond it are not exact in JavaScript
MAX_SUBJECTS = 1_000
# The latest ms that thirteen digits of the order key can hold.
MAX_MS = 9_999_999_999_999


@dataclass(frozen=True)
class Field:
    """One field of a record's data. `max` counts code points for text and entries for lists.

    `rows` are the fields of each entry of a ROWS list, of types that hold no list themselves.
    """

    name: str
    type: str
    required: bool = False
    unit: str = ""
    min: int = 0
    max: int = MAX_SAFE
    choices: tuple[str, ...] = ()
    letters: tuple[str, ...] = ()
    rows: tuple[Field, ...] = ()


@dataclass(frozen=True)
class Kind:
    """One kind of record.

    Args:
        sub: what it may be about (type letters, words such as "strain").
        subs: how many subjects it takes, least and most.
        timed: a person may state when it happened (`on`); others carry `was` for display only.
        reach: "stood" takes all that stood there, "seen" only what the writer had seen, "" names.
        alive: it makes sense only for a part whose life has not ended.
        rules: named rules of the fold that this kind triggers.
        upcasts: for each older version the steps to the next one (see upcast.py).
    """

    name: str
    doc: str
    sub: tuple[str, ...]
    subs: tuple[int, int] = (1, MAX_SUBJECTS)
    fields: tuple[Field, ...] = ()
    effects: tuple[tuple[Any, ...], ...] = ()
    rules: tuple[str, ...] = ()
    timed: bool = True
    reach: str = ""
    alive: bool = False
    version: int = 1
    upcasts: tuple[tuple[tuple[Any, ...], ...], ...] = ()
    example: dict[str, Any] = field(default_factory=dict)

    def field(self, name: str) -> Field | None:
        """Return the field of that name."""
        return next((f for f in self.fields if f.name == name), None)


KINDS: dict[str, Kind] = {}
EFFECTS = {"ref": 2, "set": 3, "put": 3, "append": 3, "add": 3, "stage": 2, "stand": 2, "end": 2,
           "end_if": 4}  # fmt: skip
UPCASTS = {"name": 3, "fill": 3, "drop": 2, "times": 3, "word": 4}
TYPES = (INT, TEXT, CODE, CODES, CHOICE, FLAG, TIME, ID, PARTS, OF, FIELDS, WAS, ROWS)
PLAIN = (INT, TEXT, CODE, CHOICE, FLAG)  # what an entry of rows may hold


def add(kind: Kind) -> Kind:
    """Enter a kind; refuse a duplicate or malformed entry at import, where its author stands."""
    if kind.name in KINDS:
        raise ValueError(f"{kind.name}: entered twice")
    for effect in kind.effects:
        if EFFECTS.get(effect[0]) != len(effect):
            raise ValueError(f"{kind.name}: no such effect {effect!r}")
    if len(kind.upcasts) != kind.version - 1:
        raise ValueError(f"{kind.name}: {kind.version - 1} older versions need as many upcasts")
    for step in (step for steps in kind.upcasts for step in steps):
        if UPCASTS.get(step[0]) != len(step):
            raise ValueError(f"{kind.name}: no such step {step!r}")
    names = [f.name for f in kind.fields]
    if len(set(names)) != len(names):
        raise ValueError(f"{kind.name}: a field stands twice")
    for f in kind.fields:
        if f.type not in TYPES or (f.type == ROWS) != bool(f.rows):
            raise ValueError(f"{kind.name}.{f.name}: malformed field")
        if any(inner.type not in PLAIN for inner in f.rows):
            raise ValueError(f"{kind.name}.{f.name}: rows hold plain fields only")
        if any((one.type == CHOICE) != bool(one.choices) for one in (f, *f.rows)):
            raise ValueError(f"{kind.name}.{f.name}: malformed field")
    KINDS[kind.name] = kind
    return kind


def as_data(kind: Kind) -> dict[str, Any]:
    """Return a kind as plain JSON data, defaults left out: what the client reads."""
    data: dict[str, Any] = {"name": kind.name, "version": kind.version, "doc": kind.doc,
                            "sub": list(kind.sub), "subs": list(kind.subs)}  # fmt: skip
    data |= {"timed": kind.timed, "alive": kind.alive, "reach": kind.reach}
    data["rules"] = list(kind.rules)
    data["effects"] = [list(map(_plain, e)) for e in kind.effects]
    data["fields"] = [_field(f) for f in kind.fields]
    if kind.upcasts:
        data["upcasts"] = [[list(step) for step in steps] for steps in kind.upcasts]
    data["example"] = kind.example
    return data


def _field(f: Field) -> dict[str, Any]:
    data: dict[str, Any] = {
        k: _plain(v)
        for k, v in asdict(f).items()
        if k in ("name", "type") or (k != "rows" and v != getattr(_DEFAULTS, k))
    }
    if f.rows:
        data["rows"] = [_field(inner) for inner in f.rows]
    return data


_DEFAULTS = Field("", "")


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value
