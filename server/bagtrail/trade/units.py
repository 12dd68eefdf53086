"""Units as people say them and whole numbers as records hold them, both ways, exactly."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from .findings import Unfit
from .whole import half_up

# How many grams is one pound? 453.59237 exactly (avoirdupois, 1959).
# This and the next: NIST Handbook 44, Appendix C; NIST SP 811, Appendix B.8.
_LB_G = Fraction(45_359_237, 100_000)
# How many millimetres is one inch? 25.4 exactly.
_IN_MM = Fraction(254, 10)
# How many millilitres is one US gallon? 231 cubic inches, 3,785.411784 mL exactly.
_GAL_ML = 231 * _IN_MM**3 / 1_000
# How many millilitres is one imperial gallon? 4,546.09 exactly (UK Weights and Measures Act 1985).
_GAL_UK_ML = Fraction(454_609, 100)
# What does one kilogram weigh under standard gravity? 9.80665 N exactly (CGPM 1901).
_GRAVITY = Fraction(980_665, 100_000)
# How many pascals is one pound-force a square inch? About 6,894.757.
_PSI_PA = _LB_G / 1_000 * _GRAVITY / (_IN_MM / 1_000) ** 2
# How many pascals is one inch of mercury (conventional, 0 °C)? 3,386.389 (NIST SP 811, B.8).
_INHG_PA = Fraction(3_386_389, 1_000)
# How many litres is one cubic foot?
_FT3_L = (12 * _IN_MM) ** 3 / 1_000_000


@dataclass(frozen=True)
class Unit:
    """A unit: whole = said x `factor` + `offset`; `quantity` names what records hold it in."""

    quantity: str
    factor: Fraction
    offset: Fraction = Fraction(0)


# Quantity: what the whole number counts. mass g, volume mL, length mm, pressure Pa,
# temperature 0.01 °C, span 0.01 K (a difference, no offset), density g/L.
UNITS: dict[str, Unit] = {
    "g": Unit("mass", Fraction(1)),
    "kg": Unit("mass", Fraction(1_000)),
    "t": Unit("mass", Fraction(1_000_000)),
    "lb": Unit("mass", _LB_G),
    "oz": Unit("mass", _LB_G / 16),
    "mL": Unit("volume", Fraction(1)),
    "L": Unit("volume", Fraction(1_000)),
    "gal": Unit("volume", _GAL_ML),
    "qt": Unit("volume", _GAL_ML / 4),
    "fl oz": Unit("volume", _GAL_ML / 128),
    "gal UK": Unit("volume", _GAL_UK_ML),
    "ft³": Unit("volume", _FT3_L * 1_000),
    "mm": Unit("length", Fraction(1)),
    "cm": Unit("length", Fraction(10)),
    "m": Unit("length", Fraction(1_000)),
    "in": Unit("length", _IN_MM),
    "ft": Unit("length", 12 * _IN_MM),
    "Pa": Unit("pressure", Fraction(1)),
    "hPa": Unit("pressure", Fraction(100)),
    "kPa": Unit("pressure", Fraction(1_000)),
    "bar": Unit("pressure", Fraction(100_000)),
    "psi": Unit("pressure", _PSI_PA),
    "inHg": Unit("pressure", _INHG_PA),
    "°C": Unit("temperature", Fraction(100)),
    "°F": Unit("temperature", Fraction(500, 9), Fraction(-16_000, 9)),
    "K": Unit("temperature", Fraction(100), Fraction(-27_315)),
    "K span": Unit("span", Fraction(100)),
    "°F span": Unit("span", Fraction(500, 9)),
    "g/L": Unit("density", Fraction(1)),
    "kg/m³": Unit("density", Fraction(1)),
    "lb/ft³": Unit("density", _LB_G / _FT3_L),
    "lb/yd³": Unit("density", _LB_G / _FT3_L / 27),
}

# What do people type for a unit? In lower case without dots and spaces; "oz" is never fluid.
_TYPED = {
    "kgs": "kg", "kilo": "kg", "kilos": "kg", "gr": "g", "gram": "g", "grams": "g", "tonne": "t",
    "lbs": "lb", "pound": "lb", "pounds": "lb", "#": "lb", "ounce": "oz", "ounces": "oz",
    "ml": "mL", "l": "L", "litre": "L", "litres": "L", "liter": "L", "liters": "L",
    "gallon": "gal", "gallons": "gal", "quart": "qt", "quarts": "qt", "floz": "fl oz",
    "imperialgallon": "gal UK", "galuk": "gal UK", "ukgal": "gal UK", "ft3": "ft³", "cuft": "ft³",
    "metre": "m", "metres": "m", "meter": "m", "meters": "m", '"': "in", "inch": "in",
    "inches": "in", "'": "ft", "foot": "ft", "feet": "ft", "pa": "Pa", "hpa": "hPa", "mbar": "hPa",
    "kpa": "kPa", "psig": "psi", "psia": "psi", "lb/in2": "psi", "inhg": "inHg", "c": "°C",
    "degc": "°C", "celsius": "°C", "f": "°F", "degf": "°F", "fahrenheit": "°F", "k": "K",
    "g/l": "g/L", "kg/m3": "kg/m³", "lb/ft3": "lb/ft³", "lb/yd3": "lb/yd³",
}  # fmt: skip

_NUMBER = re.compile(r"([+-]?)([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)")


def whole(value: Fraction | int, unit: str) -> int:
    """Turn a value in a unit into the whole number of its quantity, half up.

    Example: whole(250, "°F") is 12,111 (0.01 °C); whole(5, "lb") is 2,268 g.
    """
    u = unit_of(unit)
    return half_up(value * u.factor + u.offset)


def said(count: int, unit: str, digits: int = 0) -> int:
    """Turn a whole number into a unit, as a whole number of its last shown digit, half up.

    Example: said(12_100, "°F", 1) is 2,498: 249.8 °F.
    """
    u = unit_of(unit)
    return half_up((count - u.offset) / u.factor * 10**digits)


def unit_of(name: str) -> Unit:
    """Return a unit by its own name or as people type it; `Unfit` "unit_unknown" otherwise."""
    if name in UNITS:
        return UNITS[name]
    # Degree signs of other keyboards (º) and superscripts fall together with what stands above.
    typed = re.sub(r"[.\s°º]", "", name).lower().replace("²", "2").replace("³", "3")
    for key in (_TYPED.get(typed, typed), f"°{typed.upper()}"):
        if key in UNITS:
            return UNITS[key]
    raise Unfit("unit_unknown", unit=name)


def number(text: str) -> Fraction:
    """Read one typed number exactly; both "2.5" and "2,5" are two and a half.

    Raises:
        Unfit: "number"; "number_ambiguous" where a comma or point before three digits may part
            thousands ("1,500"): a factor of a thousand is no matter to guess.
    """
    bare = text.strip().replace("\u2212", "-")
    match = _NUMBER.fullmatch(bare)
    if not match:
        raise Unfit("number", text=text)
    sign, digits = match.groups()
    if re.fullmatch(r"[1-9][0-9]{0,2}[,][0-9]{3}", digits):
        raise Unfit("number_ambiguous", text=text)
    value = Fraction(("0" + digits).replace(",", "."))
    return -value if sign == "-" else value


def read(text: str, quantity: str, unit: str) -> int:
    """Read a typed amount into the whole number of a quantity: "5 lb 4 oz", "2,5 kg", "250".

    Args:
        unit: counts for a number that stands without one.

    Raises:
        Unfit: "number", "number_ambiguous", "unit_unknown"; "unit_other" when the unit measures
            something else.
    """
    text = re.sub(r"/(ft|yd|m|in)([23])", lambda m: f"/{m[1]}{'²³'[int(m[2]) - 2]}", text)
    pieces = re.findall(r"([+\-\u2212]?[0-9.,]+)\s*([^0-9+\-\u2212]*)", text.strip())
    if not pieces or "".join(n + u for n, u in pieces).replace(" ", "") != text.replace(" ", ""):
        raise Unfit("number", text=text)
    total = Fraction(0)
    for typed, word in pieces:
        u = unit_of(word.strip() or unit)
        if u.quantity != quantity or (u.offset and len(pieces) > 1):
            raise Unfit("unit_other", unit=word.strip() or unit, quantity=quantity)
        total += number(typed) * u.factor + u.offset
    return half_up(total)
