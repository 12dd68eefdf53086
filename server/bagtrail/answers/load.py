"""Steriliser loads: what stood in each, how it went, and what became of the bags of its vessel."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..fold import Farm
from .words import batches, code_from, missing, name_of, ref

LOSSES = ("burst", "melted")
Part = dict[str, Any]


def loads(farm: Farm) -> dict[str, Any]:
    """Returns {"loads": [...]}: open ones first, then the newest.

    Each {"code", "load" (the fields on record), "bags", "bad", "batches": [names]}.
    """
    found = _parts(farm)
    rows = []
    for code, entry in ref(farm)["loads"].items():
        parts = found.get(code, [])
        rows.append({
            "code": code, "load": entry, "bags": sum(part["n"] for _, part in parts),
            "bad": sum(part["n"] for _, part in parts if "bad" in part),
            "batches": sorted({name_of(farm, batch) for batch, _ in parts}),
        })  # fmt: skip
    rows.sort(key=lambda row: ("result" in row["load"], -_at(row["load"]), row["code"]))
    return {"loads": rows}


def load(farm: Farm, text: str) -> dict[str, Any]:
    """Returns {"code", "load", "batches", "own"} of one load.

    ``batches`` are [{"code", "name", "n", "live", "bad", "burst", "melted"}] in bags whose last
    load it is; ``own`` is the record of its vessel and way, see `own_record`.

    Raises:
        BadCode, NotFound: no code of a load, or one that nothing carries.
    """
    code = code_from(text, "H")
    entry = ref(farm)["loads"].get(code)
    if entry is None:
        raise missing(code)
    found = _parts(farm)
    sums: dict[str, dict[str, Any]] = {}
    for batch, part in found.get(code, []):
        one = sums.setdefault(batch, {"code": batch, "name": name_of(farm, batch), "n": 0,
                                      "live": 0, "bad": 0, "burst": 0, "melted": 0})  # fmt: skip
        one["n"] += part["n"]
        one["live"] += part["n"] if "end" not in part else 0
        one["bad"] += part["n"] if "bad" in part else 0
        if part.get("end") in LOSSES:
            one[part["end"]] += part["n"]
    own = own_record(
        entry,
        ref(farm)["loads"],
        {c: [(part["n"], "bad" in part) for _, part in parts] for c, parts in found.items()},
    )
    listed = sorted(sums.values(), key=lambda s: (s["name"], s["code"]))
    return {"code": code, "load": entry, "batches": listed, "own": own}


def own_record(
    like: Mapping[str, Any],
    all_loads: Mapping[str, Mapping[str, Any]],
    bags: Mapping[str, list[tuple[int, bool]]],
) -> dict[str, int]:
    """Sums up the loads of one vessel and way that ran and did not fail.

    Args:
        like: the load or vessel whose fields pot (or vessel) and way say which are meant.
        bags: of each load the parts whose last load it is: (bags, contaminated later).

    Returns:
        {"loads", "bags", "bad"}; loads whose bags are all gone to a later load do not count.
    """
    own = {"loads": 0, "bags": 0, "bad": 0}
    for code, entry in all_loads.items():
        if _vessel(entry) != _vessel(like) or entry.get("result") not in ("passed", "unsure"):
            continue
        if not bags.get(code):
            continue
        own["loads"] += 1
        own["bags"] += sum(n for n, _ in bags[code])
        own["bad"] += sum(n for n, bad in bags[code] if bad)
    return own


def _vessel(entry: Mapping[str, Any]) -> tuple[str, str]:
    return str(entry.get("pot") or entry.get("vessel") or ""), str(entry.get("way", ""))


def _at(entry: Mapping[str, Any]) -> int:
    return int(entry.get("begun") or entry.get("made") or 0)


def _parts(farm: Farm) -> dict[str, list[tuple[str, Part]]]:
    """Returns the parts by their last load: {load: [(batch, part)]}."""
    found: dict[str, list[tuple[str, Part]]] = {}
    for unit in batches(farm):
        for part in unit["parts"].values():
            if part.get("load") and part["n"]:
                found.setdefault(part["load"], []).append((unit["unit"], part))
    return found
