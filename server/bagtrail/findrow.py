"""What Find needs of a batch, its parts in columns: all that a phone holds of an archived one.

The twin of client/src/findrow.ts, for batches that ask nothing and hold nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from .fold import Unit
from .index import is_birth
from .line import Line


def find_row(unit: Unit, lines: Iterable[Line]) -> dict[str, Any]:
    """Returns a folded batch as columns, one entry a part.

    Args:
        lines: those of its row.

    Returns:
        {"unit", "name", "mixed"?, "codes", "nums", "stage", "place", "strain", "load", "gate",
        "words", "n", "since", "next", "bad", "keys", "asks": [], "held": []}: codes joined by
        blanks, numbers for people by line feeds; stage to gate are indexes into ``words`` (0 is
        none); ``bad`` has a "1" for each contaminated part; ``keys`` are all labels and ids of
        births that lead here. Times in ms UTC.
    """
    parts = dict(sorted(unit["parts"].items()))  # as in the text of a row
    at = {"": 0}

    def column(*names: str) -> list[int]:
        found = []
        for part in parts.values():
            text = next((part[name] for name in names if name in part), None)
            found.append(at.setdefault(text if isinstance(text, str) else "", len(at)))
        return found

    stage, place = column("end", "stage"), column("place")
    strain, load, gate = column("strain"), column("load"), column("gate")
    mixed = unit["mixed"].get("was", {}).get("ms")
    return {
        "unit": unit["unit"],
        "name": unit["name"] if isinstance(unit.get("name"), str) else unit["unit"],
        **({"mixed": mixed} if isinstance(mixed, int) else {}),
        "codes": " ".join(parts),
        "nums": "\n".join(part.get("num", "") for part in parts.values()),
        "stage": stage,
        "place": place,
        "strain": strain,
        "load": load,
        "gate": gate,
        "words": list(at),
        "n": [part["n"] for part in parts.values()],
        "since": [part.get("ended", part.get("since")) for part in parts.values()],
        "next": [part["next"] for part in parts.values()],
        "bad": "".join("1" if part.get("bad") else "0" for part in parts.values()),
        "keys": " ".join(_keys(unit, lines)),
        "asks": [],
        "held": [],
    }


def _keys(unit: Unit, lines: Iterable[Line]) -> Iterable[str]:
    """Returns what leads to this unit; where two births claim a label, only if a part has it."""
    keys: dict[str, None] = {}
    for line in lines:
        if not is_birth(line):
            continue
        keys[line["id"]] = None
        for label in line["d"].get("to", ()):
            if label in unit["parts"] or label not in unit["refs"]:
                keys[label] = None
    return keys
