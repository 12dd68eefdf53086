"""Weighing in: what was really put on the scale, and the water that it now takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .cautions import of_weight
from .findings import WARN, Finding, Unfit
from .moisture import WHOLE, dry_mass, mix_moisture, water_to_add
from .whole import half_up, largest_remainder

# How far may a weight be off the plan before it is asked about? Our choice, 2 % of it; a farm sets
# its own.
TOLERANCE = 200


@dataclass(frozen=True)
class Weighing:
    """A line of a charge: what was planned and, once weighed, what was weighed."""

    name: str
    planned_g: int
    moisture: int
    actual_g: int | None = None


@dataclass(frozen=True)
class Weighed:
    """A charge as it stands on the scale; lines not yet weighed count as planned.

    Attributes:
        done: whether every line was weighed.
        water_g: what it takes to reach the target: whole grams, never below 0.
        total_g, moisture: with the water that was added, or with `water_g` before that.
        dry_g: oven-dry grams, half up.
        shares: of total dry, 0.01 %, one a line; they make 10,000.
        off: how far each line is from its plan, 0.01 % of it; None before it is weighed.
    """

    done: bool
    water_g: int
    total_g: int
    moisture: int
    dry_g: int
    shares: tuple[int, ...]
    off: tuple[int | None, ...]
    findings: tuple[Finding, ...]


def weigh_in(
    lines: Sequence[Weighing],
    target: int,
    added_water_g: int | None = None,
    tolerance: int = TOLERANCE,
) -> Weighed:
    """Return the mix that the actual weights make.

    Args:
        target: moisture, 0.01 %.
        added_water_g: the water really added; None before.
        tolerance: 0.01 % of the planned weight.

    Returns:
        Findings: "weight_off" beyond the tolerance, "units_mixed" when it misses by a known factor,
        "too_wet" when no water is wanted and the target is exceeded all the same.

    Raises:
        Unfit: "nothing_weighed"; "amount_range" for weights below 0.

    Example: planned 18,000 g at 8 % and 3,000 g at 12 % with 27,000 g of water for 60 %: 18,500 g
        of pellets really weighed take 27,650 g of water.
    """
    if any(x.planned_g < 0 or (x.actual_g or 0) < 0 for x in lines) or (added_water_g or 0) < 0:
        raise Unfit("amount_range")
    grams = [x.planned_g if x.actual_g is None else x.actual_g for x in lines]
    parts = [(g, x.moisture) for g, x in zip(grams, lines, strict=True)]
    if sum(grams) == 0:
        raise Unfit("nothing_weighed")
    wanted = water_to_add(parts, target)
    water_g = max(0, half_up(wanted))
    water = water_g if added_water_g is None else added_water_g
    reached = mix_moisture([*parts, (water, WHOLE)])
    findings = [f for x in lines if x.actual_g is not None for f in _check(x, tolerance)]
    if wanted < 0 and reached > target:
        findings.append(Finding("too_wet", WARN, "", {"target": target, "reached": reached}))
    dry = [dry_mass(g, at) for g, at in parts]
    total = sum(dry, Fraction(0))
    return Weighed(
        done=all(x.actual_g is not None for x in lines),
        water_g=water_g,
        total_g=sum(grams) + water,
        moisture=reached,
        dry_g=half_up(total),
        shares=tuple(largest_remainder([d / total * WHOLE for d in dry], WHOLE)),
        off=tuple(_off(x) for x in lines),
        findings=tuple(findings),
    )


def dry_per_bag(fill_g: int, moisture: int) -> int:
    """Return a bag's oven-dry grams, half up: what biological efficiency is counted against."""
    return half_up(dry_mass(fill_g, moisture))


def _off(line: Weighing) -> int | None:
    if line.actual_g is None or line.planned_g == 0:
        return None
    return half_up(Fraction((line.actual_g - line.planned_g) * WHOLE, line.planned_g))


def _check(line: Weighing, tolerance: int) -> list[Finding]:
    assert line.actual_g is not None
    off = abs(line.actual_g - line.planned_g)
    # A gram is always forgiven: two per cent of 30 g of gypsum is no weight a scale can show.
    if off <= 1 or off * WHOLE <= tolerance * line.planned_g:
        return []
    mixed = of_weight(line.name, line.planned_g, line.actual_g)
    values: dict[str, int | str] = {"planned_g": line.planned_g, "actual_g": line.actual_g}
    return mixed or [Finding("weight_off", WARN, line.name, values)]
