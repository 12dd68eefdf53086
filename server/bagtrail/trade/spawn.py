"""Spawn rate on a stated basis: the same spoonful is 4.17, 4.00 or 10.96 per cent.

There is no default basis: published rates leave it out too often (trade page, doubt 19).
"""

from __future__ import annotations

from fractions import Fraction

from .findings import Unfit
from .moisture import WHOLE, dry_mass, mix_moisture
from .whole import ceiling, half_up

SPAWN_BASES = ("wet_substrate", "final_block", "dry_substrate")


def spawn_mass(basis: str, rate: int, substrate_g: int, moisture: int) -> Fraction:
    """Return the exact grams of spawn for `substrate_g` wet grams at a rate in 0.01 %.

    Args:
        basis: one of SPAWN_BASES: wet substrate, substrate and spawn together, dry substrate.
        moisture: the substrate's, 0.01 %; only dry_substrate reads it.

    Raises:
        Unfit: "spawn_basis_unknown"; "spawn_rate_range" below 0, or 100 % of the final block.

    Example: 3.75 % of 312,500 wet grams is 11,718.75 g (Royse 2002: 1.25 to 5 % of wet).
    """
    part = Fraction(rate, WHOLE)
    if basis not in SPAWN_BASES:
        raise Unfit("spawn_basis_unknown", basis=basis)
    if rate < 0 or (basis == "final_block" and rate >= WHOLE):
        raise Unfit("spawn_rate_range", rate=rate)
    if basis == "final_block":
        return substrate_g * part / (1 - part)
    if basis == "dry_substrate":
        return dry_mass(substrate_g, moisture) * part
    return substrate_g * part


def spawn_rates(spawn_g: int, substrate_g: int, moisture: int) -> dict[str, int]:
    """Return the rate of spawn on every basis, in 0.01 %.

    Example: 100 g in 2,400 g at 62 %: wet_substrate 417, final_block 400, dry_substrate 1,096.
    """
    if spawn_g < 0 or substrate_g <= 0:
        raise Unfit("nothing_weighed")
    dry = dry_mass(substrate_g, moisture)
    return {
        "wet_substrate": half_up(Fraction(spawn_g * WHOLE, substrate_g)),
        "final_block": half_up(Fraction(spawn_g * WHOLE, substrate_g + spawn_g)),
        "dry_substrate": half_up(spawn_g * WHOLE / dry),
    }


def one_to(blocks: int, unit_g: int) -> Fraction:
    """Return the grams each block gets when one spawn bag goes into so many blocks."""
    if blocks < 1 or unit_g < 1:
        raise Unfit("nothing_weighed")
    return Fraction(unit_g, blocks)


def spawn_units(blocks: int, per_unit: int) -> int:
    """Return how many spawn bags must be opened: 42 blocks at ten a bag take 5."""
    if blocks < 0 or per_unit < 1:
        raise Unfit("nothing_weighed")
    return ceiling(Fraction(blocks, per_unit))


def block_moisture(substrate_g: int, moisture: int, spawn_g: int, spawn_moisture: int) -> int:
    """Return a block's moisture once the spawn is in, in 0.01 %.

    Example: 2,400 g at 62 % with 100 g of spawn at 50 % is 61.52 %.
    """
    return mix_moisture([(substrate_g, moisture), (spawn_g, spawn_moisture)])
