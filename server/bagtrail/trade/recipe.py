"""Recipes and what their numbers are shares of: "bran 20 %" means four different mixes.

of_total_dry       of all ingredients, oven-dry (Shen & Royse 2001, 10.1007/s002530100748)
per_wood_dry       for each 100 of wood, oven-dry
of_total_weighed   of all ingredients as they are weighed, added water not counted
per_wood_weighed   for each 100 of wood as weighed ("50 g of rice bran per kg of sawdust")
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .findings import NOTE, REFUSE, Finding, Unfit
from .moisture import WHOLE, dry_mass, wet_mass
from .whole import half_up, largest_remainder

BASES = ("of_total_dry", "per_wood_dry", "of_total_weighed", "per_wood_weighed")

# How far may typed percentages be off their sum by rounding alone? 33.33 three times is 0.01 short;
# our choice is 0.02 an ingredient, in 0.01 %.
ROUNDING = 2


@dataclass(frozen=True)
class Part:
    """An ingredient of a recipe.

    Attributes:
        amount: in the recipe's basis, any one whole unit: 0.01 %, 0.001 %, g, parts.
        wood: whether it belongs to the 100 of wood that the others are counted against.
        moisture: 0.01 % wet basis as weighed; only the weighed bases read it.
    """

    name: str
    amount: int
    wood: bool = False
    moisture: int = 0


def dry_shares(basis: str, parts: Sequence[Part]) -> list[Fraction]:
    """Return each ingredient's exact share of the total dry mass; they add up to 1.

    Raises:
        Unfit: "basis_unknown" (there is no default), "no_ingredient", "amount_range", "no_wood".

    Example: per_wood_dry, wood 100 and bran 25, is [4/5, 1/5].
    """
    _check(basis, parts)
    dry = [dry_mass(p.amount, p.moisture if "weighed" in basis else 0) for p in parts]
    total = sum(dry, Fraction(0))
    return [d / total for d in dry]


def express(basis: str, shares: Sequence[Fraction], parts: Sequence[Part]) -> list[int]:
    """Say exact dry shares in a basis, in 0.01 %.

    Args:
        shares: of total dry, one a part.
        parts: for `wood` and `moisture`; their amounts are not read.

    Returns:
        0.01 %. The numbers of a total, and the wood's among those per wood, add up to 10,000.
        Example: of_total_dry [4/5, 1/5] is per_wood_dry [10,000, 2,500].
    """
    if basis not in BASES:
        raise Unfit("basis_unknown", basis=basis)
    masses = [
        wet_mass(s, p.moisture) if "weighed" in basis else s
        for s, p in zip(shares, parts, strict=True)
    ]
    whole = [p.wood or basis.startswith("of_total") for p in parts]
    total = sum((m for m, w in zip(masses, whole, strict=True) if w), Fraction(0))
    if total == 0:
        raise Unfit("no_wood")
    scaled = [m / total * WHOLE for m in masses]
    rounded = iter(largest_remainder([x for x, w in zip(scaled, whole, strict=True) if w], WHOLE))
    return [next(rounded) if w else half_up(x) for x, w in zip(scaled, whole, strict=True)]


def every_basis(basis: str, parts: Sequence[Part]) -> dict[str, list[int]]:
    """Return a recipe in every basis it can be said in, in 0.01 %; the per-wood ones need wood."""
    shares = dry_shares(basis, parts)
    woody = any(p.wood and p.amount for p in parts)
    return {
        name: express(name, shares, parts)
        for name in BASES
        if woody or not name.startswith("per_wood")
    }


def check_sum(basis: str, parts: Sequence[Part], whole: int = WHOLE) -> list[Finding]:
    """Tell whether percentages add up: all of them, or the wood's when they are per 100 of wood.

    Args:
        whole: 100 % in the amounts' unit. Weights and parts need no check: leave it out for them.

    Returns:
        Nothing; a note when only rounding is off; else a refusal with `sum` and, when the wood
        alone makes 100, `likely` "per_wood".
    """
    _check(basis, parts)
    wood = sum(p.amount for p in parts if p.wood)
    total = wood if basis.startswith("per_wood") else sum(p.amount for p in parts)
    off = abs(total - whole)
    if off == 0:
        return []
    values: dict[str, int | str] = {"sum": total, "whole": whole}
    if off * WHOLE <= ROUNDING * len(parts) * whole:
        return [Finding("shares_rounded", NOTE, "", values)]
    if wood == whole and basis.startswith("of_total"):
        values["likely"] = "per_wood"
    return [Finding("shares_sum", REFUSE, "", values)]


def _check(basis: str, parts: Sequence[Part]) -> None:
    if basis not in BASES:
        raise Unfit("basis_unknown", basis=basis)
    for part in parts:
        if part.amount < 0:
            raise Unfit("amount_range", name=part.name, amount=part.amount)
    if not any(part.amount for part in parts):
        raise Unfit("no_ingredient")
    if basis.startswith("per_wood") and not any(p.wood and p.amount for p in parts):
        raise Unfit("no_wood")
