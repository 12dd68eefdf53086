"""Where things lie inside one tag. All lengths are millimetres from its top left corner.

Wide stock has the QR code at the left and the words beside it, narrow stock the words below
it; the code in large type always runs along the foot. Tags of other types than bags have a
band at the right, or a frame all round (looks.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from .errors import LabelError
from .looks import LOOKS, Look
from .qr import MODULE_FLOOR, MODULE_WANTED, QUIET, SPAN, dots_wanted
from .stock import STOCKS, Stock

# The code in groups is ten characters wide; monospaced faces advance 0.60 to 0.61 em.
MONO_EM = 0.61
CODE_EMS = 10 * MONO_EM
CODE_LARGEST = 10.0  # em; larger reads no better from across a room's gangway
# em; smaller is not read with wet glasses. The smallest stock, with its code above the words, is
# for things held in the hand.
CODE_SMALLEST, CODE_SMALLEST_BELOW = 3.8, 3.2
# Of the line box of one em: round capitals begin here, and the tail of a Q ends here.
CAPS_TOP, TAIL_END = 0.1, 0.98
CLEAR = 0.4  # mm between the quiet zone or the large code and any word

# Five lines of words need this much room; on smaller stock they shrink with it.
WORDS_HEIGHT, WORDS_WIDTH = 18.5, 24.0
SMALLEST_SCALE = 0.7
SMALLEST_BANDED = 0.58  # words beside a band are few
STRIP = 2.6  # mm: one line of words, where there is no room for more

BAND_LEAST, BAND_WIDEST, BAND_SHARE, BAND_GAP = 5.0, 24.0, 0.16, 1.0

# Tags that are read from afar may have a code of this share of their width.
GROWN_SHARE, GROWN_MODULE, GROWN_CODE, GROWN_SCALE = 0.36, 2.0, 18.0, 6.0
GROWN_LEAST = 0.7  # of the widest large code that there is room for
LARGE_STOCK = 80.0, 35.0


@dataclass(frozen=True)
class Plan:
    """Places and sizes in mm. `code_*` is the QR code with its quiet zone, `words_*` the box
    for names, `human_*` the line of the large code (`human_em` its type size), `band_*` the
    band with the type's sign (width 0: none), `frame` the room that a frame takes at the
    edge. On a `strip` the words share one line."""

    module: float
    dots: int
    code_x: float
    code_y: float
    code_size: float
    words_x: float
    words_y: float
    words_width: float
    words_height: float
    scale: float
    human_x: float
    human_y: float
    human_width: float
    human_em: float
    band_x: float = 0.0
    band_y: float = 0.0
    band_width: float = 0.0
    band_height: float = 0.0
    frame: float = 0.0
    strip: bool = False


@lru_cache(maxsize=256)
def plan(stock: Stock, letter: str = "B") -> Plan:
    """The arrangement for tags of a type on a stock, with the largest module that fits.

    Raises LabelError `stock_too_small` when not even the smallest readable code fits, naming
    the next best stock that does.
    """
    found = _find(stock, letter)
    if found is not None:
        return found
    best = _next_best(stock, letter)
    raise LabelError(
        "stock_too_small",
        f"Labels of {stock.label_width:g} x {stock.label_height:g} mm ({stock.name[:40]}) are too "
        f"small: a QR code that phones read needs modules of {MODULE_FLOOR:g} mm, "
        f"{SPAN * MODULE_FLOOR:g} mm a side, and room for its words.",
        f"Use larger labels, {best.label_width:g} x {best.label_height:g} mm ({best.name})."
        if best
        else "Use larger labels, 40 x 25 mm at least.",
        stock=stock.name,
        best=best.name if best else None,
    )


def _next_best(stock: Stock, letter: str) -> Stock | None:
    """The smallest of the table's stock that fits: a roll for a roll, else the same page."""
    fitting = [
        other
        for other in (known.on(dpi=stock.dpi) for known in STOCKS.values())
        if other.is_roll == stock.is_roll
        and (stock.is_roll or other.page_width == stock.page_width)
        and _find(other, letter)
    ]
    if not fitting and not stock.is_roll:
        fitting = [known for known in STOCKS.values() if not known.is_roll and _find(known, letter)]
    return min(fitting, key=lambda s: s.label_width * s.label_height, default=None)


def _find(stock: Stock, letter: str) -> Plan | None:
    look = LOOKS[letter]
    wanted = MODULE_WANTED
    if _grows(stock, look):
        share = GROWN_SHARE * stock.label_width / SPAN
        wanted = min(GROWN_MODULE, max(wanted, share))
    tight = strip = None
    for dots in dots_wanted(stock.dpi, wanted):
        for arrange in (_beside, _below):
            found = arrange(stock, dots, look)
            if found is None:
                continue
            if found.strip:
                strip = strip or found
            # A larger code than usual must not press the words and the large code small.
            elif found.module <= MODULE_WANTED + stock.dot or (
                found.scale >= 1
                and found.human_em >= GROWN_LEAST * min(GROWN_CODE, found.human_width / CODE_EMS)
            ):
                return found
            else:
                tight = tight or found
    return tight or strip


def _grows(stock: Stock, look: Look) -> bool:
    """Large stock is for reading from afar, whatever it stands on."""
    wide, high = LARGE_STOCK
    return look.grows or (stock.label_width >= wide and stock.label_height >= high)


def _band(stock: Stock, look: Look) -> float:
    return min(BAND_WIDEST, max(BAND_LEAST, BAND_SHARE * stock.label_width)) if look.band else 0.0


def _edges(stock: Stock, look: Look, module: float) -> tuple[float, float]:
    """The free strip at the label's edge, and where the code with its quiet zone begins."""
    pad = stock.pad + look.frame
    # The quiet zone is white, so it may lie in the strip that must stay free of ink.
    edge = pad if look.frame else max(0.0, pad - QUIET * module)
    return pad, _up(edge, stock.dot)


def _beside(stock: Stock, dots: int, look: Look) -> Plan | None:
    module = dots * stock.dot
    size = SPAN * module
    pad, top = _edges(stock, look, module)
    wide = stock.label_width - 2 * pad
    foot = stock.label_height - pad
    largest = GROWN_CODE if _grows(stock, look) else CODE_LARGEST
    # A dot of air: whoever rasterises paints each dot that a capital touches.
    room = foot - top - size - stock.dot
    em = min(largest, wide / CODE_EMS, room / (TAIL_END - CAPS_TOP))
    if em < CODE_SMALLEST:
        return None
    human_y = foot - TAIL_END * em
    most = GROWN_SCALE if _grows(stock, look) else 1.0
    words_x = top + size + CLEAR
    band = _band(stock, look)
    words_width = stock.label_width - pad - words_x - (band + BAND_GAP if band else 0.0)
    words_height = human_y + CAPS_TOP * em - CLEAR - pad
    scale = min(words_height / WORDS_HEIGHT, words_width / WORDS_WIDTH)
    if scale < (SMALLEST_BANDED if look.band or look.frame else SMALLEST_SCALE):
        return None
    return Plan(
        module, dots, top, top, size,
        words_x, pad, words_width, words_height, min(scale, most),
        pad, human_y, wide, em,
        stock.label_width - pad - band, pad, band, words_height, look.frame,
    )  # fmt: skip


def _below(stock: Stock, dots: int, look: Look) -> Plan | None:
    module = dots * stock.dot
    size = SPAN * module
    pad, top = _edges(stock, look, module)
    left = math.floor((stock.label_width - size) / 2 / stock.dot + 1e-9) * stock.dot
    if left < top - stock.dot:
        return None
    wide = stock.label_width - 2 * pad
    foot = stock.label_height - pad
    room = foot - top - size - 2 * CLEAR
    largest = GROWN_CODE if _grows(stock, look) else CODE_LARGEST
    em = min(largest, wide / CODE_EMS, (room - STRIP) / (TAIL_END - CAPS_TOP))
    if em < CODE_SMALLEST_BELOW:
        return None
    human_y = foot - TAIL_END * em
    most = GROWN_SCALE if _grows(stock, look) else 1.0
    words_y = top + size + CLEAR
    words_height = human_y + CAPS_TOP * em - CLEAR - words_y
    band = _band(stock, look)
    words_width = wide - (band + BAND_GAP if band else 0.0)
    scale = min(words_height / WORDS_HEIGHT, words_width / WORDS_WIDTH)
    if strip := scale < SMALLEST_BANDED:
        scale, words_width, band = 1.0, wide, 0.0
    return Plan(
        module, dots, left, top, size,
        pad, words_y, words_width, words_height, min(scale, most),
        pad, human_y, wide, em,
        stock.label_width - pad - band, words_y, band, words_height, look.frame, strip,
    )  # fmt: skip


def _up(value: float, step: float) -> float:
    return math.ceil(value / step - 1e-9) * step
