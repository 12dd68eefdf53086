"""The one order in which records are folded: a string, so that both languages compare alike."""

from __future__ import annotations

from typing import Any


def stated_time(on_ms: int | None, eff: int) -> int:
    """Return the time a record sorts by: what a person said, unless it lies after the clock."""
    return on_ms if on_ms is not None and 0 <= on_ms <= eff else eff


def key_of(line: dict[str, Any]) -> str:
    """Return the order key (t, eff, st, sq, id) as one collatable string.

    Times are ms UTC from 0 to 9,999,999,999,999 (year 2286), so thirteen digits hold them.
    """
    return f"{line['t']:013d}.{line['e']:013d}.{line['st']}.{line['sq']:010d}.{line['id']}"
