"""The drying test: a sample weighed wet, dried in oven or microwave, weighed again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .findings import NOTE, WARN, Finding, Unfit
from .moisture import WHOLE, moisture
from .whole import half_up

# How far may repeats lie apart before the sample was hardly well mixed? Our choice, 1 % moisture:
# one more per cent of water in a 60 % mix is 2.5 % of what is added.
REPEATS_APART = 100

# How much may the last drying still have taken, as a share of the dry sample? Our choice, 0.1 %.
STILL_DRYING = 10

# How much of gypsum is crystal water, in 0.01 %? CaSO4·2H2O: 2 x 18.015 / 172.17 g/mol = 20.9 %
# (ICSC 1215). It leaves from about 100 °C on, so an oven counts some of it as moisture.
GYPSUM_WATER = 2_090


@dataclass(frozen=True)
class Reading:
    """One sample on one scale, in any one whole unit (0.01 g, mg): the container stays on.

    `dry_before` is the weighing before the last one, when the sample was dried again to see
    whether it had finished.
    """

    wet: int
    dry: int
    tare: int = 0
    dry_before: int | None = None


@dataclass(frozen=True)
class Drying:
    """Moistures in 0.01 % wet basis: of each reading, their mean, and highest less lowest."""

    each: tuple[int, ...]
    mean: int
    spread: int
    findings: tuple[Finding, ...]


def drying(readings: Sequence[Reading], gypsum: int = 0) -> Drying:
    """Return the moisture a drying test found: (wet - dry) / (wet - tare).

    Args:
        readings: one sample or repeats of one lot or mix.
        gypsum: gypsum's share of the dry mix in 0.01 %; notes how much too high the test may read.

    Raises:
        Unfit: "no_reading"; "reading_order" unless wet >= dry > tare >= 0, with its number.

    Example: 14 wet, 6.3 dry, 4 tare is 77 % (Cornell's example: 10 g dried to 2.3 g).
    """
    if not readings:
        raise Unfit("no_reading")
    exact = [_one(reading, number) for number, reading in enumerate(readings, 1)]
    each = tuple(half_up(x) for x in exact)
    mean = half_up(sum(exact, Fraction(0)) / len(exact))
    spread = max(each) - min(each)
    findings = []
    if spread > REPEATS_APART:
        findings.append(Finding("repeats_apart", WARN, "", {"spread": spread}))
    for number, r in enumerate(readings, 1):
        if r.dry_before is not None and (r.dry_before - r.dry) * WHOLE > STILL_DRYING * (
            r.dry - r.tare
        ):
            findings.append(Finding("still_drying", WARN, "", {"reading": number}))
    if gypsum:
        findings.append(Finding("gypsum_water", NOTE, "", {"most": gypsum_water(gypsum, mean)}))
    return Drying(each, mean, spread, tuple(findings))


def gypsum_water(share: int, at: int) -> int:
    """Return by how much gypsum's crystal water can raise a mix's oven moisture, in 0.01 %.

    Args:
        share: of the dry mix, 0.01 %.
        at: the mix's moisture, 0.01 %.

    Example: 2 % gypsum at 62 % moisture reads at most 0.16 % too high.
    """
    return half_up(Fraction(share * GYPSUM_WATER, WHOLE) * (1 - moisture(at)))


def _one(r: Reading, number: int) -> Fraction:
    if not r.wet >= r.dry > r.tare >= 0:
        raise Unfit("reading_order", reading=number)
    return Fraction(WHOLE * (r.wet - r.dry), r.wet - r.tare)
