"""Moisture: water as a share of the total mass (wet basis), in 0.01 %. Results are exact fractions.

Nothing dries or wets the dry mass: every sum here follows from total x (1 - moisture) = dry mass.
Source: Richard & Trautmann, Cornell Composting, "Getting the right mix: moisture content".
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from .findings import Unfit
from .whole import half_up

# How many 0.01 % is the whole?
WHOLE = 10_000


def moisture(value: int) -> Fraction:
    """Return a moisture of 0 to 99.99 % as a fraction; `Unfit` when nothing dry would be left."""
    if not 0 <= value < WHOLE:
        raise Unfit("moisture_range", moisture=value)
    return Fraction(value, WHOLE)


def dry_mass(g: Fraction | int, at: int) -> Fraction:
    """Return the oven-dry grams in `g` grams at a moisture. Example: 2,500 g at 60 % hold 1,000."""
    return g * (1 - moisture(at))


def wet_mass(dry: Fraction | int, at: int) -> Fraction:
    """Return what `dry` oven-dry grams weigh at a moisture. Example: 1,000 g at 60 % are 2,500."""
    return dry / (1 - moisture(at))


def mix_moisture(parts: Sequence[tuple[int, int]]) -> int:
    """Return the moisture of a mix of (g, moisture), in 0.01 % half up; water is (g, 10,000).

    Example: [(1,000, 1,200), (1,200, 10,000)] is 6,000: material at 12 % with 1.2 times water.
    """
    total = sum(g for g, _ in parts)
    if total <= 0:
        raise Unfit("nothing_weighed")
    return half_up(Fraction(sum(g * at for g, at in parts), total))


def water_to_add(parts: Sequence[tuple[int, int]], target: int) -> Fraction:
    """Return the grams of water that bring a mix of (g, moisture) to `target`.

    Returns:
        Grams; below 0 when the mix is too wet by that much water.
        Example: [(100,000, 800), (20,000, 1,200), (5,000, 1,000)] to 6,200 takes 175,263 3/19 g.
    """
    dry = sum((dry_mass(g, at) for g, at in parts), Fraction(0))
    return wet_mass(dry, target) - sum(g for g, _ in parts)


def mass_at(g: int, before: int, after: int) -> Fraction:
    """Return what `g` grams weigh when their moisture goes from `before` to `after`.

    Example: 1,000,000 g from 25 % to 14 % weigh 872,093 g (IRRI Rice Knowledge Bank).
    """
    return wet_mass(dry_mass(g, before), after)


def second_mass(g: int, first: int, second: int, goal: int) -> Fraction:
    """Return how much of a second material brings `g` of a first one to the moisture `goal`.

    Raises:
        Unfit: "goal_outside" when no amount can, as both lie on one side of the goal.

    Example: 10,000 g at 77 % take 6,800 g at 35 % to reach 60 % (Richard & Trautmann).
    """
    above, below = moisture(first) - moisture(goal), moisture(goal) - moisture(second)
    if above == 0:
        return Fraction(0)
    if above * below <= 0:
        raise Unfit("goal_outside", first=first, second=second, goal=goal)
    return g * above / below


def from_dry_basis(value: int) -> int:
    """Turn water per dry mass into moisture, both 0.01 %. Example: 920 (9.2 %) is 842."""
    if value < 0:
        raise Unfit("moisture_range", moisture=value)
    return half_up(Fraction(value * WHOLE, WHOLE + value))


def to_dry_basis(value: int) -> int:
    """Turn moisture into water per dry mass, both 0.01 %. Example: 6,000 (60 %) is 15,000."""
    at = moisture(value)
    return half_up(WHOLE * at / (1 - at))


def of_dry(value: int, at: int) -> Fraction:
    """Turn a content of the material as received into one of its dry matter, in 0.01 %.

    Example: 44.68 % carbon of wood at 9.2 % dry basis (842 wet) is 48.79 % of dry matter
    (J. Wood Sci. 2020, 10.1186/s10086-020-01935-7, Table 3).
    """
    return value / (1 - moisture(at))


def after_loss(g: int, at: int, water_g: int) -> int:
    """Return the moisture after `water_g` of water left, in 0.01 %, as in the steriliser.

    Example: 2,500 g at 62 % less 50 g of water is at 61.22 %.
    """
    rest = g * moisture(at) - water_g
    if rest < 0 or g <= water_g:
        raise Unfit("more_than_held", water_g=water_g)
    return half_up(WHOLE * rest / (g - water_g))
