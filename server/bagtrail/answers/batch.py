"""Where a batch lives, how it stands and what it yielded, split by strain."""

from __future__ import annotations

from typing import Any

from .. import rules
from ..fold import Farm
from .words import code_from, missing, name_of, path_of


def batch(farm: Farm, text: str) -> dict[str, Any]:
    """Returns a batch with its sums.

    Returns:
        {"code", "name", "mixed", "moisture", "sums", "strains", "shared", "places", "parts",
        "questions"}. ``sums`` is ``rules.summary``'s "all" with ``bad_share`` and ``odd_share``
        in 0.01 % of all bags; ``strains`` the same by strain; ``places`` a list of {"code",
        "path", "n"}, most bags first.

    Raises:
        BadCode, NotFound: no code of a batch, or one that nothing carries.
    """
    code = code_from(text, "M")
    if code not in farm.units():
        raise missing(code)
    unit = farm.unit(code)
    summary = rules.summary(unit)
    places = summary["all"]["places"]
    return {
        "code": code,
        "name": unit.get("name", code),
        "mixed": unit["mixed"],
        **({"moisture": unit["moisture"]} if "moisture" in unit else {}),
        "sums": with_shares(summary["all"]),
        "strains": [
            {"code": strain, "name": name_of(farm, strain) if strain else "", **with_shares(sums)}
            for strain, sums in sorted(summary["strains"].items())
        ],
        "shared": summary["shared"],
        "places": [
            {"code": place, "path": path_of(farm, place) if place else [], "n": n}
            for place, n in sorted(places.items(), key=lambda item: (-item[1], item[0]))
        ],
        "parts": unit["parts"],
        "questions": unit["questions"],
    }


def with_shares(sums: dict[str, Any]) -> dict[str, Any]:
    """Returns sums with the contaminated and the abnormal share, 0.01 % of all bags counted."""
    bags = sums["bags"]
    if bags <= 0:
        return sums
    return {
        **sums,
        "bad_share": (2 * sums["bad"] * 10_000 + bags) // (2 * bags),
        "odd_share": (2 * sums["odd"] * 10_000 + bags) // (2 * bags),
    }
