"""The QR code of a tag: its text, its matrix, and its drawing as PDF path operators.

The text is FARM.CODE in upper case, 14 characters of QR's alphanumeric set, and so fits
version 2 (25 modules a side) at level H, the most error correction there is: a short text
buys torn and smeared labels twice the repair at the same size.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache

import qrcode
from qrcode.util import MODE_ALPHA_NUM, QRData

from .errors import LabelError
from .stock import MM_PER_INCH

VERSION = 2
MODULES = 25  # ISO/IEC 18004: 17 + 4 x version
QUIET = 4  # modules kept white all round, ISO/IEC 18004
SPAN = MODULES + 2 * QUIET  # modules with the quiet zone

# Millimetres a module. A phone needs two camera pixels a module: 0.5 is the floor at arm's
# length, and 0.625 survives blur that 0.5 does not (measured at every level of correction).
MODULE_WANTED = 0.625
MODULE_FLOOR = 0.5

# Drivers that know black and white only paint every dot a shape touches. Drawing each run
# this much smaller (in modules) on every side keeps dark and light exactly alike.
INSET = 0.01

_SYMBOLS = "0-9A-HJKMNP-TV-Z"  # Crockford's base 32
CODE = re.compile(rf"[BGPSHMKWX][{_SYMBOLS}]{{8}}", re.ASCII)
FARM = re.compile(rf"[{_SYMBOLS}]{{4}}", re.ASCII)

Matrix = tuple[tuple[bool, ...], ...]


def payload(farm_tag: str, code: str) -> str:
    """`FARM.CODE`; raises LabelError when either is not written as our tags are.

    The check symbol is not recomputed here: who issues codes does that.
    """
    if not isinstance(farm_tag, str) or not FARM.fullmatch(farm_tag):
        raise LabelError(
            "label_farm",
            f"The farm's tag {_shown(farm_tag)} is not four symbols of 0-9 and A-Z "
            "without I, L, O and U.",
            "Print from a farm that has its tag.",
        )
    if not isinstance(code, str) or not CODE.fullmatch(code):
        raise LabelError(
            "label_code",
            f"{_shown(code)} is not a tag's code: one of B G P S H M K W X, "
            "then eight of 0-9 and A-Z without I, L, O and U.",
            "Ask for labels with codes that were issued here, in upper case without spaces.",
        )
    return f"{farm_tag}.{code}"


def matrix(text: str) -> Matrix:
    """Rows of 25 modules, True where dark, no quiet zone; the mask is chosen by the standard."""
    symbol = qrcode.QRCode(
        version=VERSION, error_correction=qrcode.constants.ERROR_CORRECT_H, border=0
    )
    symbol.add_data(QRData(text, mode=MODE_ALPHA_NUM), optimize=0)
    symbol.make(fit=False)
    return tuple(tuple(bool(module) for module in row) for row in symbol.modules)


def path(modules: Matrix) -> bytes:
    """PDF operators that fill the dark modules: one rectangle a horizontal run.

    One unit is one module, y grows downwards, the origin is the symbol's corner inside its
    quiet zone.
    """
    out: list[str] = []
    high = 1 - 2 * INSET
    for y, row in enumerate(modules):
        x = 0
        while x < len(row):
            start = x
            while x < len(row) and row[x]:
                x += 1
            if x > start:
                out.append(f"{start + INSET:g} {y + INSET:g} {x - start - 2 * INSET:g} {high:g} re")
            x += 1
    return ("\n".join(out) + "\nf").encode("ascii")


@lru_cache(maxsize=4096)
def drawing(farm_tag: str, code: str) -> bytes:
    """Path operators for a tag, kept so that a reprint costs nothing."""
    return path(matrix(payload(farm_tag, code)))


def dots_wanted(dpi: float) -> range:
    """Dots a module worth trying at this resolution, the best first, none under the floor."""
    per_mm = dpi / MM_PER_INCH
    most = max(1, round(MODULE_WANTED * per_mm))
    least = max(1, math.ceil(MODULE_FLOOR * per_mm - 1e-9))
    return range(most, least - 1, -1)


def _shown(value: object) -> str:
    """A value as it may stand in an error: short, and with every control character escaped."""
    return ascii(value[:40]) if isinstance(value, str) else type(value).__name__
