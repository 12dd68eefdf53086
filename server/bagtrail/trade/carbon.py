"""Carbon to nitrogen of a mix: carbon over nitrogen, never a mean of the ingredients' ratios.

Source: Richard, Cornell Waste Management Institute 1996: R = sum(Q C (100 - M)) / sum(Q N (100 -
M)). Wood's nitrogen is 0.06 to 0.8 % in one handbook, so the result has a range, and a wide one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .findings import Unfit
from .moisture import WHOLE, dry_mass
from .whole import half_up

# How much nitrogen is in feed protein? One part in 6.25 (crude protein = N x 6.25, Kjeldahl).
PROTEIN_PER_NITROGEN = Fraction(25, 4)


@dataclass(frozen=True)
class Content:
    """Carbon and nitrogen of one ingredient's dry matter, in 0.01 %: (lowest, likely, highest).

    `dry` is its dry mass or dry share in any one whole unit.
    """

    dry: int
    c: tuple[int, int, int]
    n: tuple[int, int, int]


@dataclass(frozen=True)
class Ratio:
    """C:N in hundredths (6,981 is 69.81 : 1); `high` is None when there may be no nitrogen at all.

    `c` and `n` are the mix's likely contents in 0.01 % of dry; `dominant` is the index of the
    ingredient whose own range moves the ratio most, None when there is no range.
    """

    likely: int | None
    low: int | None
    high: int | None
    c: int
    n: int
    dominant: int | None


def ratio(contents: Sequence[Content]) -> Ratio:
    """Return a mix's C:N with the range that its ingredients' ranges leave.

    Lowest is the least carbon over the most nitrogen of all ingredients at once.

    Raises:
        Unfit: "no_ingredient" without dry mass, "content_range" unless 0 <= low <= likely <= high
            <= 100 %.

    Example: 80 wood (48.79 C, 0.16 N) + 20 bran (45, 2.8) is 69.8, not a mean of 305 and 16.
    """
    for content in contents:
        for low, likely, high in (content.c, content.n):
            if not 0 <= low <= likely <= high <= WHOLE or content.dry < 0:
                raise Unfit("content_range", low=low, likely=likely, high=high)
    dry = sum(content.dry for content in contents)
    if dry == 0:
        raise Unfit("no_ingredient")
    c, n = _sums([(x.dry, x.c[1], x.n[1]) for x in contents])
    least = _over(*_sums([(x.dry, x.c[0], x.n[2]) for x in contents]))
    most = _over(*_sums([(x.dry, x.c[2], x.n[0]) for x in contents]))
    return Ratio(
        likely=_round(_over(c, n)),
        low=_round(least),
        high=_round(most),
        c=half_up(Fraction(c, dry)),
        n=half_up(Fraction(n, dry)),
        dominant=_dominant(contents),
    )


def mass_for_ratio(
    g: int, first: tuple[int, int, int], second: tuple[int, int, int], goal: int
) -> Fraction:
    """Return the grams of a second material that bring `g` of a first one to a C:N.

    Args:
        first, second: (moisture, C of dry, N of dry), 0.01 %.
        goal: C:N in hundredths.

    Raises:
        Unfit: "goal_outside" when no amount can, as both lie on one side of the goal.

    Example: 10,000 g of grass (77 %, C 45, N 2.4) take 3,474 g of leaves (35 %, C 50, N 0.75) to
        30 : 1.
    """
    at, c, n = first
    missing = dry_mass(g, at) * (Fraction(goal * n, 100) - c)
    at, c, n = second
    brought = dry_mass(1, at) * (c - Fraction(goal * n, 100))
    if missing == 0:
        return Fraction(0)
    if missing * brought <= 0:
        raise Unfit("goal_outside", goal=goal)
    return missing / brought


def nitrogen_of_protein(protein: int) -> int:
    """Turn crude protein into nitrogen, both 0.01 %. Example: 1,400 (14 %) is 224."""
    return half_up(protein / PROTEIN_PER_NITROGEN)


def carbon_of_ash(ash: int) -> int:
    """Estimate carbon of dry matter from its ash, both 0.01 %: (100 - ash) / 1.8, good to 2-10 %.

    Source: Gotaas 1956, quoted in Organic Waste Recycling, Table 3.1.
    """
    return half_up(Fraction((WHOLE - ash) * 5, 9))


def _sums(rows: Sequence[tuple[int, int, int]]) -> tuple[int, int]:
    return sum(dry * c for dry, c, _ in rows), sum(dry * n for dry, _, n in rows)


def _over(c: int, n: int) -> Fraction | None:
    return Fraction(100 * c, n) if n else None


def _round(x: Fraction | None) -> int | None:
    return None if x is None else half_up(x)


def _dominant(contents: Sequence[Content]) -> int | None:
    """The ingredient that, varied alone with the others likely, widens the ratio most."""
    widest: tuple[Fraction, int] | None = None
    for i, own in enumerate(contents):
        others = [(x.dry, x.c[1], x.n[1]) for j, x in enumerate(contents) if j != i]
        low = _over(*_sums([*others, (own.dry, own.c[0], own.n[2])]))
        high = _over(*_sums([*others, (own.dry, own.c[2], own.n[0])]))
        if low is not None and high is None:
            return i
        if low is None or high is None or high == low:
            continue
        if widest is None or high - low > widest[0]:
            widest = (high - low, i)
    return None if widest is None else widest[1]
