"""What a phone holds whole, and what it holds of the rest (design 7.10).

Whole: batches with a live bag, with something open, or written about within ``KEPT_DAYS``. Any
other is *archived* on the phone: one summary row without lines, from which Find, the labels of its
bags and its sums are still right. Its lines are fetched again when somebody looks at it, or when a
record comes that touches it. The twin of the rule is client/src/scope.ts.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from . import rules
from .fold import FARM, LOOSE, ROW_VERSION, Farm, Row, Unit
from .index import codes_of, is_birth
from .line import Line
from .order import key_of

KEPT_DAYS = 60
_DAY_MS = 86_400_000


def may_rest(unit: Unit) -> bool:
    """Tells whether nothing lives in a batch and nothing in it waits for an answer."""
    if unit["unit"] in (FARM, LOOSE) or unit["questions"] or unit["held"]:
        return False
    return all("end" in part or part["n"] == 0 for part in unit["parts"].values())


def is_archived(unit: Unit, lines: Iterable[Line], now_ms: int) -> bool:
    """Tells whether a phone holds a batch as its summary only.

    Args:
        unit: as folded.
        lines: those of its row.
        now_ms: ms UTC.
    """
    return may_rest(unit) and _last(lines) < now_ms - KEPT_DAYS * _DAY_MS


def _last(lines: Iterable[Line]) -> int:
    return max((line["e"] for line in lines), default=0)


def summary_row(unit: Unit, lines: Iterable[Line]) -> Row:
    """Returns the row that a phone keeps of an archived batch: its sums, and what reaches it.

    ``last`` is when its newest record was written, ms UTC.
    """
    kept = {name: unit[name] for name in ("name", "moisture", "mixed", "refs") if name in unit}
    row: Row = {"unit": unit["unit"], "v": ROW_VERSION, "archived": True, "lines": []}
    return row | kept | {"last": _last(lines), "summary": rules.summary(unit)}


def lines_behind(farm: Farm, unit: str, pos: int) -> list[Line]:
    """Returns the lines of a batch up to a place of the log, in order.

    With them come those of every label that its bags were ever given, and of what was born of
    them: a record after that place may have led them to another batch since, or to none.
    """
    index = farm.index
    todo = [line["id"] for line in farm.row(unit)["lines"]]
    ids: set[str] = set()
    while todo:
        record_id = todo.pop()
        if record_id in ids:
            continue
        ids.add(record_id)
        todo += index.kin(record_id)
        if is_birth(index.lines[record_id]):
            for code in _names_born(index.lines[record_id]):
                todo += [*index.all_naming(code), *index.all_claimants(code)]
    lines = (index.lines[one] for one in ids)
    return sorted((line for line in lines if 0 < line["p"] <= pos), key=key_of)


def _names_born(birth: Line) -> list[str]:
    """Lists every code that a part of a birth may have: its label, or its untagged name."""
    labels = list(birth["d"].get("to", ()))
    untagged = f"g-{birth['id']}"
    return [*labels, untagged, *(f"{untagged}.{i}" for i in range(len(labels)))]


def batches_of(farm: Farm, record_ids: Iterable[str]) -> list[str]:
    """Returns the batches that records lead to, or led to once, by code.

    A label may have had another home before: the batch of every birth that claims it is named.
    None for a record the log does not have.
    """
    index = farm.index
    found: set[str] = set()
    for record_id in record_ids:
        for kin in index.kin(record_id):
            for code in codes_of(index.lines[kin]):
                births = (index.lines[one]["s"][0] for one in index.all_claimants(code))
                found.update(home for one in (code, *births) if (home := farm.home(one)))
    return sorted(found)


def lines_of(
    farm: Farm, units: Iterable[str], pos: int, most_bytes: int
) -> list[tuple[str, list[Line]]]:
    """Returns batches with their lines up to a place; as many as fit, at least one.

    Args:
        units: codes of batches; one the log does not know has no lines.
        most_bytes: about; the rest is for the next request.
    """
    there = set(farm.units())
    found: list[tuple[str, list[Line]]] = []
    size = 0
    for unit in dict.fromkeys(units):
        lines = lines_behind(farm, unit, pos) if unit in there else []
        size += sum(_size(line) for line in lines)
        if found and size > most_bytes:
            break
        found.append((unit, lines))
    return found


def _size(line: dict[str, Any]) -> int:
    return 250 + len(str(line["d"]))
