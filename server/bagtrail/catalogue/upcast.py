"""From an older version of a kind to that of today: what is stored never changes, its reading does.

The steps of a kind stand in its entry as data, so that both languages take them alike:

    ("name", old, new)           the field is called otherwise
    ("fill", field, value)       a field that is not there gets a value
    ("drop", field)              the field is gone
    ("times", field, n)          its unit became n times smaller
    ("word", field, old, new)    a choice is called otherwise
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from .model import Kind


def upcast(kind: Kind, version: int, d: dict[str, Any]) -> dict[str, Any]:
    """Return a record's data as the kind of today has it; the data given is left as it is.

    Args:
        version: of the kind when it was written, from 1 to the kind's own.

    Data that breaks its own old form comes out broken in the new one, and is held for that.
    """
    d = dict(d)
    for steps in kind.upcasts[version - 1 :]:
        for step in steps:
            _STEPS[step[0]](d, *step[1:])
    return d


def _name(d: dict[str, Any], old: str, new: str) -> None:
    if old in d:
        d[new] = d.pop(old)


def _fill(d: dict[str, Any], field: str, value: Any) -> None:
    d.setdefault(field, value)


def _drop(d: dict[str, Any], field: str) -> None:
    d.pop(field, None)


def _times(d: dict[str, Any], field: str, n: int) -> None:
    if isinstance(d.get(field), int) and not isinstance(d[field], bool):
        d[field] *= n


def _word(d: dict[str, Any], field: str, old: str, new: str) -> None:
    if d.get(field) == old:
        d[field] = new


_STEPS: dict[str, Callable[..., None]] = {
    "name": _name,
    "fill": _fill,
    "drop": _drop,
    "times": _times,
    "word": _word,
}
