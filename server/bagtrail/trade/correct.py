"""After mixing: how much water a mix still takes, or how much dry mix takes up what is too much."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .findings import Unfit
from .moisture import WHOLE, dry_mass, mass_at, mix_moisture
from .whole import half_up, largest_remainder

# What does a hard squeeze say? A drop or two is field capacity; the words are the trade's.
SQUEEZES = {"no_drop": "water", "drop_or_two": "none", "runs": "dry_mix"}

# How much water does one step after a squeeze add? Our choice: 1 % of the mix, about half a per
# cent of moisture at 60 %; then squeeze again.
STEP = 100


@dataclass(frozen=True)
class Correction:
    """What to add: "water", "dry_mix" or "none".

    Attributes:
        g: whole grams to add.
        parts: grams of each ingredient of the dry mix, in the recipe's order; they make `g`.
        total_g, moisture: of the mix afterwards.
        exact: False when only a squeeze was felt, and `g` is a step to try.
    """

    kind: str
    g: int
    parts: tuple[int, ...]
    total_g: int
    moisture: int | None
    exact: bool = True


def correct(
    mix_g: int, measured: int, target: int, recipe: Sequence[tuple[Fraction | int, int]]
) -> Correction:
    """Return what brings a mix from its measured moisture to the target.

    Args:
        mix_g: what is in the mixer.
        recipe: (dry share or amount, moisture of the lot at hand) of each ingredient; what is too
            wet gets more of the same recipe without water.

    Raises:
        Unfit: "dry_mix_too_wet" when the ingredients themselves are not drier than the target.

    Example: 48,000 g at 59.25 % to 60 % takes 900 g of water.
    """
    none = tuple(0 for _ in recipe)
    if measured == target:
        return Correction("none", 0, none, mix_g, measured)
    if measured < target:
        g = half_up(mass_at(mix_g, measured, target)) - mix_g
        after = mix_moisture([(mix_g, measured), (g, WHOLE)])
        return Correction("water" if g else "none", g, none, mix_g + g, after)
    return _dry_mix(mix_g, measured, target, recipe)


def from_squeeze(mix_g: int, felt: str) -> Correction:
    """Return a step to try after a squeeze: "no_drop", "drop_or_two", "runs".

    Water has an amount, dry mix has none: how much runs off a hand says too little.
    """
    if felt not in SQUEEZES:
        raise Unfit("squeeze_unknown", felt=felt)
    kind = SQUEEZES[felt]
    g = half_up(Fraction(mix_g * STEP, WHOLE)) if kind == "water" else 0
    return Correction(kind, g, (), mix_g + g, None, exact=False)


def _dry_mix(
    mix_g: int, measured: int, target: int, recipe: Sequence[tuple[Fraction | int, int]]
) -> Correction:
    as_weighed = [share / dry_mass(1, at) for share, at in recipe]
    weighed = sum(as_weighed, Fraction(0))
    if weighed == 0:
        raise Unfit("no_ingredient")
    own = 1 - sum((Fraction(share) for share, _ in recipe), Fraction(0)) / weighed
    if own * WHOLE >= target:
        raise Unfit("dry_mix_too_wet", target=target, moisture=half_up(own * WHOLE))
    # mix_g x measured + x x own = (mix_g + x) x target
    exact = mix_g * Fraction(measured - target, WHOLE) / (Fraction(target, WHOLE) - own)
    g = half_up(exact)
    parts = largest_remainder([g * w / weighed for w in as_weighed], g)
    after = mix_moisture(
        [(mix_g, measured), *((a, at) for a, (_, at) in zip(parts, recipe, strict=True))]
    )
    return Correction("dry_mix" if g else "none", g, tuple(parts), mix_g + g, after)
