"""Saturated steam: which temperature belongs to a pressure, and the pot at the farm's altitude.

Source: IAPWS R7-97(2012), Industrial Formulation 1997, region 4: equations 30 and 31 with the
coefficients of Table 34.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from .atmosphere import pressure_pa
from .findings import WARN, Finding, Unfit
from .whole import in_words, nearest

_N = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5,
    -0.32325550322333e7, 0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6,
    -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip
# Where does region 4 begin and end? 273.15 K to the critical point, 647.096 K.
_LOWEST_K, _HIGHEST_K = 273.15, 647.096
_LOWEST_PA, _HIGHEST_PA = 611.213, 22_064_000.0
_KELVIN = 273.15

# How far may a thermometer lie below the steam table before air is likely in the chamber? Our
# choice, 1 K: weather's 0.6 K and half a kelvin of the gauge and the probe.
AIR_K = 1.0


def saturation_pressure_pa(temp_c: float) -> float:
    """Return the absolute pressure of saturated steam in Pa.

    Raises:
        Unfit: "steam_range" outside 0 to 373.946 °C.

    Example: 121 °C is 205,040 Pa.
    """
    t = temp_c + _KELVIN
    if not _LOWEST_K <= t <= _HIGHEST_K:
        raise Unfit("steam_range", temp=in_words(100 * temp_c))
    theta = t + _N[8] / (t - _N[9])
    a = theta**2 + _N[0] * theta + _N[1]
    b = _N[2] * theta**2 + _N[3] * theta + _N[4]
    c = _N[5] * theta**2 + _N[6] * theta + _N[7]
    return float(1e6 * (2 * c / (-b + sqrt(b * b - 4 * a * c))) ** 4)


def saturation_temperature_c(pressure_abs_pa: float) -> float:
    """Return the temperature of saturated steam at an absolute pressure, in °C.

    Raises:
        Unfit: "steam_range" outside 611.213 Pa to 22.064 MPa.

    Example: 0.1 MPa is 99.605919 °C (372.755919 K in Table 36).
    """
    if not _LOWEST_PA <= pressure_abs_pa <= _HIGHEST_PA:
        raise Unfit("steam_range", pressure_pa=in_words(pressure_abs_pa))
    beta = (pressure_abs_pa / 1e6) ** 0.25
    e = beta**2 + _N[2] * beta + _N[5]
    f = _N[0] * beta**2 + _N[3] * beta + _N[6]
    g = _N[1] * beta**2 + _N[4] * beta + _N[7]
    d = 2 * g / (-f - sqrt(f * f - 4 * e * g))
    return float((_N[9] + d - sqrt((_N[9] + d) ** 2 - 4 * (_N[8] + _N[9] * d))) / 2 - _KELVIN)


def boiling_c(altitude_m: float) -> float:
    """Return where water boils in an open pot, °C. Example: 96.65 °C at 1,000 m."""
    return saturation_temperature_c(pressure_pa(altitude_m))


def gauge_for_pa(temp_c: float, altitude_m: float) -> float:
    """Return the gauge pressure in Pa that saturated steam of `temp_c` shows at an altitude.

    Example: 121.1 °C takes 104.4 kPa at sea level and 115.8 kPa at 1,000 m.
    """
    return saturation_pressure_pa(temp_c) - pressure_pa(altitude_m)


def temperature_at_gauge_c(gauge_pa: float, altitude_m: float) -> float:
    """Return the steam's temperature at a gauge pressure, if no air is left in the chamber.

    Example: 15 psi is 120.95 °C at sea level and 118.26 °C at 1,500 m.
    """
    return saturation_temperature_c(pressure_pa(altitude_m) + gauge_pa)


@dataclass(frozen=True)
class Pot:
    """What a farm's altitude means for its pot, in whole Pa and 0.01 °C, to the nearest."""

    air_pa: int
    boils: int
    gauge_pa: int
    temp: int


def pot(altitude_mm: int, temp: int = 12_100) -> Pot:
    """Return air pressure, boiling point and the gauge pressure needed for `temp` (0.01 °C)."""
    altitude_m = altitude_mm / 1_000
    return Pot(
        air_pa=nearest(pressure_pa(altitude_m)),
        boils=nearest(100 * boiling_c(altitude_m)),
        gauge_pa=nearest(gauge_for_pa(temp / 100, altitude_m)),
        temp=temp,
    )


def trapped_air(gauge_pa: float, temp_c: float, altitude_m: float) -> Finding | None:
    """Warn when a pot is colder than its pressure says: air shares the chamber, or the gauge lies.

    Returns:
        "air_in_chamber" with `should_be` and `temp` in 0.01 °C and `air_pa`, the air's part of the
        pressure (Dalton); "gauge_or_probe" when it is warmer than steam can be by as much; or None.
    """
    should_be = temperature_at_gauge_c(gauge_pa, altitude_m)
    if abs(should_be - temp_c) <= AIR_K:
        return None
    values: dict[str, int | str] = {
        "should_be": nearest(100 * should_be),
        "temp": nearest(100 * temp_c),
    }
    if temp_c > should_be:
        return Finding("gauge_or_probe", WARN, "", values)
    air = pressure_pa(altitude_m) + gauge_pa - saturation_pressure_pa(temp_c)
    return Finding("air_in_chamber", WARN, "", {**values, "air_pa": nearest(air)})
