"""From a record's text to the compact line that the fold reads; the twin of line.ts."""

from __future__ import annotations

import json
import re
from typing import Any

from . import ids
from .catalogue import KINDS, check
from .catalogue.check import is_int
from .catalogue.model import MAX_MS, MAX_SAFE
from .catalogue.upcast import upcast
from .order import stated_time

Line = dict[str, Any]

MAX_TEXT_BYTES = 16 * 1024
MAX_DEPTH = 32


class NotARecord(ValueError):
    """The text is no record at all: it cannot even be attributed to a stream."""


def parse(text: str) -> dict[str, Any]:
    """Read a record's text as JavaScript does; a number that is not whole and exact becomes None.

    So both languages see the same line of a faulty record, and a row never holds what JSON cannot.

    Raises:
        NotARecord: it is no JSON object, is nested too deep, or its envelope has no identity.
    """
    try:
        # Fifteen digits are always exact, and so few brackets cannot nest too deep: nearly every
        # record is read without a look at each of its numbers.
        reader = _EXACT if _LONG_NUMBER.search(text) else _PLAIN
        record = reader.decode(text)
        if text.count("{") + text.count("[") > MAX_DEPTH:
            _bound(record, 0)
    except (ValueError, RecursionError) as error:
        raise NotARecord("not a JSON object") from error
    if not isinstance(record, dict):
        raise NotARecord("not a JSON object")
    for name in ("id", "dev", "st", "ty"):
        if not isinstance(record.get(name), str):
            raise NotARecord(f"{name} is missing")
    if not ids.is_record_id(record["id"]) or not _is_hex(record["st"], 16):
        raise NotARecord("id or st is malformed")
    if not record["dev"].startswith("d") or not _is_hex(record["dev"][1:], 16):
        raise NotARecord("dev is malformed")
    for name, least in (("gen", 1), ("sq", 1), ("at", 0)):
        if not is_int(record.get(name)) or not least <= record[name] <= MAX_MS:
            raise NotARecord(f"{name} is malformed")
    if record["sq"] > 9_999_999_999:
        raise NotARecord("sq is malformed")
    return record


def line_of(
    text: str, receipt: dict[str, Any] | None = None, pos: int = 0, role: str = "-"
) -> Line:
    """Return the line of a record.

    Args:
        text: the record as stored.
        receipt: {"id","h","e","p","t","q","f","a","dev"}, or None while the record is unsent.
        pos: its place in the log where there is no receipt, 0 while unsent. A receipt says the
            place it was given first, in its own epoch: what "had seen" compares with a base.
        role: the writer's role letter (o, m, w, -) where there is no receipt yet.
    """
    return line_from(parse(text), receipt, pos, role)


def line_from(record: dict[str, Any], receipt: dict[str, Any] | None, pos: int, role: str) -> Line:
    """Return the line of a record already parsed; see `line_of`."""
    flags = receipt["f"].split() if receipt and receipt["f"] else []
    eff = receipt["t"] if receipt else record["at"]
    line: Line = {
        "id": record["id"],
        "k": record["ty"],
        "tv": record["tv"] if is_int(record.get("tv")) else 0,
        "t": eff,
        "e": eff,
        "st": record["st"],
        "sq": record["sq"],
        "b": _text(record.get("base")),
        "by": _text(record.get("by")),
        "dev": record["dev"],
        "a": receipt["a"] if receipt else role,
        "ep": receipt["e"] if receipt else "",
        "p": receipt["p"] if receipt else pos,
    }
    kind = KINDS.get(line["k"])
    on = record.get("on")
    if on is not None and (kind is None or kind.timed):
        if isinstance(on, dict) and is_int(on.get("ms")) and on.get("p") in ("m", "d"):
            line["t"] = stated_time(on["ms"], eff)
            line["o"] = on["p"]
            if on["ms"] > eff:
                flags = [*flags, "on_future"]
    for short, name in (("g", "act"), ("r", "rnd")):
        if isinstance(record.get(name), str):
            line[short] = record[name]
    line["s"] = _codes(record.get("sub"))
    if record.get("except"):
        line["x"] = _codes(record["except"])
    line["d"] = record["d"] if isinstance(record.get("d"), dict) else {}
    if kind is not None and 1 <= line["tv"] < kind.version:
        line["d"], line["tv"] = upcast(kind, line["tv"], line["d"]), kind.version
    if flags:
        line["f"] = flags
    why = _whole(record) or check(line["k"], line["tv"], line["s"], line["d"])
    if why:
        line["w"] = why
    return line


def _whole(record: dict[str, Any]) -> str | None:
    """Return why the envelope's lists or data are not what they must be."""
    if not is_int(record.get("v")) or record["v"] != 1:
        return "version"
    for name in ("sub", "except"):
        value = record.get(name, [])
        if not isinstance(value, list) or len(value) > 1_000:
            return "sub"
        if not all(isinstance(code, str) and ids.type_of(code) for code in value):
            return "sub"
    return None if isinstance(record.get("d"), dict) else "field:d"


def _codes(value: Any) -> list[str]:
    return (
        [c for c in value if isinstance(c, str) and ids.type_of(c)]
        if isinstance(value, list)
        else []
    )


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""


def _is_hex(text: str, length: int) -> bool:
    return len(text) == length and _HEX.fullmatch(text) is not None


def _whole_int(digits: str) -> int | None:
    # Sixteen digits and a sign hold all exact numbers; int() refuses texts above 4,300 digits.
    value = int(digits) if len(digits) <= 17 else MAX_SAFE + 1
    return value if abs(value) <= MAX_SAFE else None


def _whole_float(text: str) -> int | None:
    value = float(text)
    return int(value) if abs(value) <= MAX_SAFE and value == int(value) else None


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is not JSON")


_HEX = re.compile("[0-9a-f]*")
_LONG_NUMBER = re.compile("[0-9]{16}")
_PLAIN = json.JSONDecoder(parse_float=_whole_float, parse_constant=_no_constant)
_EXACT = json.JSONDecoder(
    parse_int=_whole_int, parse_float=_whole_float, parse_constant=_no_constant
)


def _bound(value: Any, depth: int) -> None:
    if depth > MAX_DEPTH:
        raise ValueError("nested too deep")
    if isinstance(value, dict):
        for part in value.values():
            _bound(part, depth + 1)
    elif isinstance(value, list):
        for part in value:
            _bound(part, depth + 1)
