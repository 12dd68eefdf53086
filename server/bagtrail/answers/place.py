"""What stands at a place, and in the places inside it."""

from __future__ import annotations

from typing import Any

from ..fold import Farm
from .words import batches, code_from, missing, name_of, path_of, ref


def place(farm: Farm, text: str) -> dict[str, Any]:
    """Returns {"code", "place", "path", "n", "standing", "inside"}.

    ``standing`` groups live bags by batch, strain and stage: {"batch", "name", "strain", "stage",
    "n", "codes"}; ``inside`` are the places within, each {"code", "name", "type", "n"} with all
    that stands in them, however deep.

    Raises:
        BadCode, NotFound: no code of a place, or one that nothing carries.
    """
    code = code_from(text, "P")
    stands = _standing(farm)
    entry = ref(farm)["places"].get(code)
    if entry is None and code not in stands:
        raise missing(code)
    children = _children(farm)
    inside = [
        {
            "code": child,
            "name": name_of(farm, child),
            "type": ref(farm)["places"][child].get("type", ""),
            "n": _total(child, stands, children),
        }
        for child in sorted(children.get(code, []), key=lambda c: (name_of(farm, c), c))
    ]
    return {
        "code": code,
        "place": entry or {},
        "path": path_of(farm, code),
        "n": _total(code, stands, children),
        "standing": _grouped(farm, stands.get(code, [])),
        "inside": inside,
    }


Standing = tuple[str, str, dict[str, Any]]


def _standing(farm: Farm) -> dict[str, list[Standing]]:
    """Returns the live parts at each place: {place: [(batch, code, part)]}."""
    found: dict[str, list[Standing]] = {}
    for unit in batches(farm):
        for code, part in unit["parts"].items():
            if part.get("place") and "end" not in part and part["n"]:
                found.setdefault(part["place"], []).append((unit["unit"], code, part))
    return found


def _children(farm: Farm) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for code, entry in ref(farm)["places"].items():
        if "within" in entry:
            found.setdefault(entry["within"], []).append(code)
    return found


def _total(code: str, stands: dict[str, list[Standing]], children: dict[str, list[str]]) -> int:
    """Returns the bags at a place and in all places within it; the tree has no rings (fold)."""
    own: int = sum(part["n"] for _, _, part in stands.get(code, []))
    return own + sum(_total(child, stands, children) for child in children.get(code, []))


def _grouped(farm: Farm, standing: list[Standing]) -> list[dict[str, Any]]:
    groups: dict[tuple[str, str, str], dict[str, Any]] = {}
    for batch, code, part in sorted(standing, key=lambda s: (s[0], s[1])):
        key = (batch, part.get("strain", ""), part.get("stage", ""))
        group = groups.setdefault(
            key,
            {
                "batch": batch,
                "name": name_of(farm, batch),
                "strain": key[1],
                "strain_name": name_of(farm, key[1]) if key[1] else "",
                "stage": key[2],
                "n": 0,
                "codes": [],
            },
        )
        group["n"] += part["n"]
        group["codes"].append(code)
    return sorted(groups.values(), key=lambda g: (-g["n"], g["batch"], g["stage"]))
