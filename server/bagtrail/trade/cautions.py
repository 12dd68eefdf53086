"""Warnings where the person stands, as data. None of them is a wall; only `carbide` is."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from .carbide import plain
from .findings import NOTE, WARN, Finding
from .moisture import WHOLE

# Which moistures are usual in mixes of sawdust, and where does straw become too wet? 0.01 %.
# Published optima run from 55 % (Shen et al. 2008) and 56 to 64 % (J. Wood Sci. 2016) to 60-65 %
# in handbooks; oyster straw 67-69 % (Penn State). It follows the wood's air space: trade doubt 4.
USUAL = {"sawdust": (5_200, 6_600), "straw": (0, 7_800)}

# From where on is a bran's nitrogen likely its protein? 5 %: wheat bran has 1.9-2.8 % N; a trade
# page prints "nitrogen 13.5 %", which is protein (trade doubt 10).
MOST_NITROGEN = 500

# Which weight should not be lifted without thought? 16 kg, the lower of HSE's filter values for
# loads held close at knuckle height (25 kg men, 16 kg women; INDG143, figures from memory).
LIFT_G = 16_000

# What may a bag be filled with? Packets of 0.5 kg to columns of 20 kg are written of (trade
# section 6); outside 0.2 to 25 kg a unit was likely mixed up. Our choice.
FILL_G = (200, 25_000)

# How wide may a weight miss a known mix-up's factor and still be taken for it? Our choice, 8 %.
MIX_UP = Fraction(8, 100)

# Which slips change a weight, and by what factor? Typed kg where g was asked, and so on; an
# avoirdupois pound is 453.59237 g exactly, an ounce a sixteenth of it.
SLIPS = {
    "kg_for_g": Fraction(1, 1_000),
    "g_for_kg": Fraction(1_000),
    "lb_for_kg": Fraction(100_000_000, 45_359_237),
    "kg_for_lb": Fraction(45_359_237, 100_000_000),
    "lb_for_g": Fraction(100_000, 45_359_237),
    "oz_for_g": Fraction(1_600_000, 45_359_237),
    "digit_more": Fraction(10),
    "digit_less": Fraction(1, 10),
}

_LIMES = (
    "hydrated lime", "slaked lime", "slack lime", "pickling lime", "builders lime",
    "builder s lime", "quick lime", "quicklime", "calcium hydroxide", "calcium oxide",
    "caoh2", "ca oh 2", "cao",
)  # fmt: skip
_WOODS = frozenset((
    "sawdust", "wood", "shavings", "oak", "beech", "alder", "poplar", "aspen", "maple", "birch",
    "ash", "chestnut", "eucalyptus",
))  # fmt: skip


def of_moisture(target: int, base: str) -> list[Finding]:
    """Warn of a moisture outside what is usual for a base; "moisture_low" or "moisture_high".

    A target of 1 % and less was likely typed as a fraction (0.6 for 60 %): "moisture_fraction".
    """
    if 0 < target <= WHOLE // 100:
        return [Finding("moisture_fraction", WARN, "", {"moisture": target})]
    if base not in USUAL:
        return []
    low, high = USUAL[base]
    values: dict[str, int | str] = {"moisture": target, "low": low, "high": high, "base": base}
    if target < low:
        return [Finding("moisture_low", WARN, "", values)]
    return [Finding("moisture_high", WARN, "", values)] if target > high else []


def of_nitrogen(name: str, n: int) -> list[Finding]:
    """Warn of a nitrogen (0.01 % of dry) that is likely protein; `likely` is it over 6.25."""
    if n <= MOST_NITROGEN:
        return []
    return [Finding("nitrogen_protein", WARN, name, {"n": n, "likely": (n * 8 + 25) // 50})]


def of_fill(fill_g: int) -> list[Finding]:
    """Warn of a fill weight that no bag has, with what was likely meant when a factor fits."""
    low, high = FILL_G
    if low <= fill_g <= high:
        return []
    values: dict[str, int | str] = {"fill_g": fill_g}
    if low <= fill_g * 1_000 <= high:
        values |= {"slip": "kg_for_g", "likely": fill_g * 1_000}
    return [Finding("fill_odd", WARN, "", values)]


def of_weight(name: str, planned_g: int, typed_g: int) -> list[Finding]:
    """Tell whether a typed weight misses the planned one by a known mix-up of units.

    Returns:
        Nothing, or "units_mixed" with `slip`, the closest of SLIPS, and the planned weight.
        Example: 18 typed for 18,000 is "kg_for_g"; 39,683 for 18,000 "lb_for_kg".
    """
    if planned_g <= 0 or typed_g <= 0:
        return []
    off = Fraction(typed_g, planned_g)
    near = [(abs(off / factor - 1), slip) for slip, factor in SLIPS.items()]
    miss, slip = min(near)
    if miss > MIX_UP:
        return []
    values: dict[str, int | str] = {"slip": slip, "planned_g": planned_g, "typed_g": typed_g}
    return [Finding("units_mixed", WARN, name, values)]


def of_amounts(amounts: Sequence[tuple[str, int]]) -> list[Finding]:
    """Note the cautions that (name, g) to be weighed at once call for, each once.

    "hydrated_lime" burns skin and eyes (ICSC 0408); "hardwood_dust" is an IARC group 1 carcinogen
    (Vol. 62, 100C); "lifting" from 16 kg on.
    """
    findings: list[Finding] = []
    for name, _ in amounts:
        if is_hydrated_lime(name):
            _once(findings, Finding("hydrated_lime", NOTE, name))
        if is_wood(name):
            _once(findings, Finding("hardwood_dust", NOTE, name))
    heaviest = max((g for _, g in amounts), default=0)
    if heaviest >= LIFT_G:
        findings.append(Finding("lifting", NOTE, "", {"g": heaviest, "from_g": LIFT_G}))
    return findings


def of_mixer(rotating: bool) -> list[Finding]:
    """Note that a rotating mixer is locked off before reaching in (OSHA 3170-02R, 2007)."""
    return [Finding("rotating_mixer", NOTE)] if rotating else []


def is_hydrated_lime(name: str) -> bool:
    """Tell whether a name means calcium hydroxide; quicklime counts, as it is worse."""
    text = f" {plain(name)} "
    return any(f" {lime} " in text for lime in _LIMES)


def is_wood(name: str) -> bool:
    """Tell whether a name is one of wood or sawdust."""
    words = plain(name).split(" ")
    return any(word in _WOODS or word.endswith(("sawdust", "wood")) for word in words)


def _once(findings: list[Finding], finding: Finding) -> None:
    if all(f.code != finding.code for f in findings):
        findings.append(finding)
