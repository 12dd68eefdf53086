"""The QR code of a tag: its text, its matrix, and its drawing as PDF path operators.

The text is FARM.CODE in upper case, 14 characters of QR's alphanumeric set, and so fits
version 2 (25 modules a side) at level H, the most error correction there is: a short text
buys torn and smeared labels twice the repair at the same size. A farm that wants any phone's
camera to open the bag's page puts an address before the code instead; it has the same size at
level M.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache

from . import symbols
from .errors import LabelError, shown
from .stock import MM_PER_INCH
from .symbols import BITS, MODULES, STRIDE

QUIET = 4  # modules kept white all round, ISO/IEC 18004
SPAN = MODULES + 2 * QUIET  # modules with the quiet zone

# Millimetres a module. A phone needs two camera pixels a module: 0.5 is the floor at arm's
# length, and 0.625 survives blur that 0.5 does not (measured at every level of correction).
MODULE_WANTED = 0.625
MODULE_FLOOR = 0.5

# Drivers that know black and white only paint every dot a shape touches. Drawing each run
# this much smaller (in modules) on every side keeps dark and light exactly alike.
# Units of the drawing a module, of which one or two are the inset: whole numbers make pages a
# fifth shorter. A large module takes less, as the inset must stay far from half a dot.
UNIT, FINE_UNIT = 100, 1000
FINE_DOTS = 10
_INSETS = {UNIT: 1, FINE_UNIT: 2}

_SYMBOLS = "0-9A-HJKMNP-TV-Z"  # Crockford's base 32
CODE = re.compile(rf"[BGPSHMKWX][{_SYMBOLS}]{{8}}", re.ASCII)
FARM = re.compile(rf"[{_SYMBOLS}]{{4}}", re.ASCII)
ADDRESS = re.compile(r"HTTPS?://[0-9A-Z.:/-]+/", re.ASCII)

Matrix = tuple[tuple[bool, ...], ...]


def payload(farm_tag: str, code: str, address: str = "") -> str:
    """`FARM.CODE`, or the address and the code.

    Raises LabelError when one of them is not written as ours are, or the address is so long
    that the code would need another version. The check symbol is not recomputed here: who
    issues codes does that.
    """
    if not isinstance(farm_tag, str) or not FARM.fullmatch(farm_tag):
        raise LabelError(
            "label_farm",
            f"The farm's tag {shown(farm_tag)} is not four symbols of 0-9 and A-Z "
            "without I, L, O and U.",
            "Print from a farm that has its tag.",
        )
    if not isinstance(code, str) or not CODE.fullmatch(code):
        raise LabelError(
            "label_code",
            f"{shown(code)} is not a tag's code: one of B G P S H M K W X, "
            "then eight of 0-9 and A-Z without I, L, O and U.",
            "Ask for labels with codes that were issued here, in upper case without spaces.",
        )
    if not address:
        return f"{farm_tag}.{code}"
    text = f"{address}{code}"
    if (
        not isinstance(address, str)
        or not ADDRESS.fullmatch(address)
        or (len(text) > symbols.CAPACITY["M"])
    ):
        raise LabelError(
            "label_address",
            f"The address {shown(address)} cannot stand in a tag's QR code.",
            f"Use one of {symbols.CAPACITY['M'] - 9} characters at most that starts with "
            "HTTPS://, ends with / and is written in upper case.",
            most=symbols.CAPACITY["M"] - 9,
        )
    return text


def level(text: str) -> str:
    """The most error correction at which version 2 holds the text."""
    return next(name for name in "HQM" if len(text) <= symbols.CAPACITY[name])


def matrix(text: str) -> Matrix:
    """Rows of 25 modules, True where dark, no quiet zone; the mask is chosen by the standard."""
    bits = f"{symbols.symbol(text, level(text)):0{BITS}b}"
    return tuple(
        tuple(bit == "1" for bit in bits[row : row + MODULES]) for row in range(0, BITS, STRIDE)
    )


def unit(dots: int) -> int:
    """Units a module in which symbols of so many printer dots a module are drawn."""
    return UNIT if dots <= FINE_DOTS else FINE_UNIT


@lru_cache(maxsize=2)
def _rectangles(unit: int) -> dict[tuple[int, int], bytes]:
    """Operators for every horizontal run, by where it begins and ends in a symbol's bits."""
    inset = _INSETS[unit]
    found = {}
    for row in range(MODULES):
        for first in range(MODULES):
            for end in range(first + 1, MODULES + 1):
                x, y = first * unit + inset, row * unit + inset
                wide, high = (end - first) * unit - 2 * inset, unit - 2 * inset
                run = (row * STRIDE + first, row * STRIDE + end)
                found[run] = b"%d %d %d %d re " % (x, y, wide, high)
    return found


_RUN = re.compile("1+")


def drawing(text: str, unit: int = UNIT) -> bytes:
    """PDF operators that fill the dark modules of a text: one rectangle a horizontal run.

    So many units are one module, y grows downwards, the origin is the symbol's corner inside
    its quiet zone.
    """
    bits = f"{symbols.symbol(text, level(text)):0{BITS}b}"
    rectangles = _rectangles(unit)
    return b"".join([rectangles[run.span()] for run in _RUN.finditer(bits)]) + b"f"


def dots_wanted(dpi: float, wanted: float = MODULE_WANTED) -> range:
    """Dots a module worth trying at this resolution, the best first, none under the floor."""
    per_mm = dpi / MM_PER_INCH
    most = max(1, round(wanted * per_mm))
    least = max(1, math.ceil(MODULE_FLOOR * per_mm - 1e-9))
    return range(most, least - 1, -1)
