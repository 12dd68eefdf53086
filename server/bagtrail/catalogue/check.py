"""Whether a record can be folded: the twin of check.ts, so that both sides hold the same ones.

A record that fails is kept all the same; the reason is shown where it waits for an answer.
"""

from __future__ import annotations

import re
from typing import Any

from .. import ids
from .model import (
    CHOICE,
    CODE,
    CODES,
    FIELDS,
    FLAG,
    ID,
    INT,
    KINDS,
    MAX_MS,
    MAX_SAFE,
    OF,
    PARTS,
    ROWS,
    TEXT,  # fmt: skip
    TIME,
    WAS,
    Field,
)

_UNFIT = re.compile("[\x00\ud800-\udfff]")  # NUL, and halves of a surrogate pair


def check(ty: str, tv: int, sub: list[Any], d: dict[str, Any]) -> str | None:
    """Return why a record cannot be folded ("kind", "version", "sub", "field:name"), or None."""
    kind = KINDS.get(ty)
    if kind is None:
        return "kind"
    if tv != kind.version:
        return "version"
    if not kind.subs[0] <= len(sub) <= kind.subs[1] or len(set(sub)) != len(sub):
        return "sub"
    if any(ids.type_of(code) not in kind.sub for code in sub):
        return "sub"
    if "load" in kind.rules and not sub[0].startswith("H"):
        return "sub"
    return check_fields(ty, d)


def check_fields(ty: str, d: dict[str, Any]) -> str | None:
    """Return "field:name" for the first field of a kind that its data breaks, in written order."""
    kind = KINDS[ty]
    for f in kind.fields:
        if f.name not in d:
            if f.required:
                return f"field:{f.name}"
        elif not _fits(f, d[f.name]):
            return f"field:{f.name}"
    unknown = sorted(name for name in d if kind.field(name) is None)
    if unknown:
        return "field:?"
    if "no_carbide" in kind.rules and any(map(is_carbide, _names(d))):
        return "carbide"
    if "born" in kind.rules:
        return _check_born(d)
    return None


def is_carbide(name: str) -> bool:
    """Tell whether an ingredient's name means calcium carbide, which is never put in substrate.

    With water it gives acetylene (ICSC 0406, 2017); it is a spell-alike of calcium carbonate.
    """
    bare = re.sub(r"[^a-z0-9]", "", name.lower().replace("\u2082", "2"))
    return bool(re.search(r"carb[iy]d|karbid|carbite", bare)) or bare == "cac2"


def _names(d: dict[str, Any]) -> list[str]:
    rows = (row for key in ("parts", "amounts", "lines") for row in d.get(key, []))
    names = [row["name"] for row in rows]
    return [*names, *(d[k] for k in ("name", "recipe_name") if k in d)]


def _check_born(d: dict[str, Any]) -> str | None:
    """A birth counts its bags or labels them all; at most one group tag takes what has no label."""
    to = d.get("to", [])
    bags = sum(1 for code in to if code[0] == "B")
    groups = len(to) - bags
    if "n" not in d:
        return "field:n" if groups or not bags else None
    if groups > 1 or bags > d["n"] or (groups == 1 and bags == d["n"]):
        return "field:to"
    return None


def _fits(f: Field, value: Any) -> bool:
    return _TESTS[f.type](f, value)


def is_int(value: Any) -> bool:
    """Tell whether a JSON value is a whole number both languages hold exactly (true is none)."""
    return isinstance(value, int) and not isinstance(value, bool) and abs(value) <= MAX_SAFE


def _int(f: Field, value: Any) -> bool:
    return is_int(value) and f.min <= value <= f.max


def _text(f: Field, value: Any) -> bool:
    if not isinstance(value, str) or _UNFIT.search(value):
        return False
    return (1 if f.required else 0) <= len(value) <= f.max


def _code(f: Field, value: Any) -> bool:
    return isinstance(value, str) and ids.type_of(value) in f.letters


def _codes(f: Field, value: Any) -> bool:
    """Labels: written codes only, for the name of an untagged part is nobody's to give away."""
    return (
        isinstance(value, list)
        and f.min <= len(value) <= f.max
        and all(_code(f, c) and ids.is_code(c) for c in value)
        and len(set(value)) == len(value)
    )


def _choice(f: Field, value: Any) -> bool:
    return isinstance(value, str) and value in f.choices


def _flag(f: Field, value: Any) -> bool:
    return isinstance(value, bool)


def _time(f: Field, value: Any) -> bool:
    return is_int(value) and 0 <= value <= MAX_MS


def _id(f: Field, value: Any) -> bool:
    return isinstance(value, str) and ids.is_record_id(value)


def _was(f: Field, value: Any) -> bool:
    """A time a person said, of a kind that is ordered by the clock: {"ms", "p": "m" | "d"}."""
    return (
        isinstance(value, dict)
        and set(value) == {"ms", "p"}
        and _time(f, value["ms"])
        and value["p"] in ("m", "d")
    )


def _parts(f: Field, value: Any) -> bool:
    """Ingredients: [{"name", "share"}], share in 0.01 % of total dry mix."""
    return (
        isinstance(value, list)
        and f.min <= len(value) <= f.max
        and all(
            isinstance(p, dict)
            and set(p) == {"name", "share"}
            and isinstance(p["name"], str)
            and 1 <= len(p["name"]) <= 60
            and not _UNFIT.search(p["name"])
            and is_int(p["share"])
            and 0 < p["share"] <= 10_000
            for p in value
        )
    )


def _of(f: Field, value: Any) -> bool:
    """What a harvest came from: [[batch, strain or ""], ...], no pair twice."""
    if not isinstance(value, list) or not f.min <= len(value) <= f.max:
        return False
    for pair in value:
        if (
            not isinstance(pair, list)
            or len(pair) != 2
            or not all(isinstance(x, str) for x in pair)
        ):
            return False
        if ids.type_of(pair[0]) != "M" or (pair[1] and ids.type_of(pair[1]) != "strain"):
            return False
    return len({tuple(pair) for pair in value}) == len(value)


def _fields(f: Field, value: Any) -> bool:
    return isinstance(value, dict) and len(value) <= f.max


def _rows(f: Field, value: Any) -> bool:
    """A list of like objects: each field of `f.rows` fits or, where it may, is left out."""
    return (
        isinstance(value, list)
        and f.min <= len(value) <= f.max
        and all(
            isinstance(row, dict)
            and {x.name for x in f.rows if x.required} <= set(row)
            and set(row) <= {x.name for x in f.rows}
            and all(_fits(x, row[x.name]) for x in f.rows if x.name in row)
            for row in value
        )
    )


_TESTS = {INT: _int, TEXT: _text, CODE: _code, CODES: _codes, CHOICE: _choice, FLAG: _flag,
          TIME: _time, ID: _id, WAS: _was, PARTS: _parts, OF: _of, FIELDS: _fields,
          ROWS: _rows}  # fmt: skip
