"""Air pressure at an altitude: the standard atmosphere up to 11 km.

Source: ICAO Doc 7488/3 (1993), equal to the U.S. Standard Atmosphere 1976 in this layer. Weather
moves the real pressure by 2 to 3 kPa either way, about 0.6 °C of boiling point.
"""

from __future__ import annotations

from .findings import Unfit
from .whole import in_words

# What is the pressure at mean sea level? 101,325 Pa.
SEA_LEVEL_PA = 101_325.0
# How warm is it there, and by how much colder each metre up? 288.15 K, 6.5 K/km.
_T0, _LAPSE = 288.15, 0.0065
# Which power of temperature does pressure follow? g M / (R L), with g 9.80665 m/s², M
# 0.0289644 kg/mol, R 8.31432 J/(mol K) as the 1976 standard has it: 5.255876.
_POWER = 9.80665 * 0.0289644 / (8.31432 * _LAPSE)
# What radius turns geometric into geopotential metres? 6,356,766 m.
_RADIUS_M = 6_356_766.0
# Where does the layer of this formula end? Below the Dead Sea's shore to 11 km.
LOWEST_M, HIGHEST_M = -5_000.0, 11_000.0


def pressure_pa(altitude_m: float) -> float:
    """Return the standard air pressure in Pa at a geometric altitude in m, as on a map.

    Raises:
        Unfit: "altitude_range" outside -5,000 to 11,000 m.

    Example: 1,000 m is 89,876 Pa; 2,000 m is 79,501 Pa.
    """
    if not LOWEST_M <= altitude_m <= HIGHEST_M:
        raise Unfit("altitude_range", altitude_m=in_words(altitude_m))
    return at_geopotential(_RADIUS_M * altitude_m / (_RADIUS_M + altitude_m))


def at_geopotential(height_m: float) -> float:
    """Return the standard air pressure in Pa at a geopotential height in m, as tables print it."""
    return float(SEA_LEVEL_PA * (1 - _LAPSE * height_m / _T0) ** _POWER)
