"""Where things lie inside one label: QR code at the left, words beside it, the code in large
type along the foot. All lengths are millimetres from the label's top left corner."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from .errors import LabelError
from .qr import MODULE_FLOOR, QUIET, SPAN, dots_wanted
from .stock import Stock

# The code in groups is ten characters wide; monospaced faces advance 0.60 to 0.61 em.
CODE_EMS = 10 * 0.61
CODE_LARGEST = 10.0  # em; larger reads no better from across a room's gangway
# Of the line box of one em: round capitals begin here, and the tail of a Q ends here.
CAPS_TOP, TAIL_END = 0.1, 0.98
CLEAR = 0.4  # mm between the quiet zone or the large code and any word

# The words (words.py) need this much room; on smaller stock they shrink with it.
WORDS_HEIGHT, WORDS_WIDTH = 18.5, 24.0
SMALLEST_SCALE = 0.75


@dataclass(frozen=True)
class Layout:
    """Places and sizes in mm. `code_*` is the QR code with its quiet zone, `words_*` the box
    for names, `human_*` the line of the large code (`human_em` its type size)."""

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


@lru_cache(maxsize=64)
def layout(stock: Stock) -> Layout:
    """The arrangement for a stock with the largest module that fits.

    Raises LabelError `stock_too_small` when not even the smallest readable code fits beside
    its words.
    """
    for dots in dots_wanted(stock.dpi):
        found = _arrange(stock, dots)
        if found is not None:
            return found
    raise LabelError(
        "stock_too_small",
        f"Labels of {stock.label_width:g} x {stock.label_height:g} mm ({stock.name}) are too "
        f"small: a QR code that phones read needs modules of {MODULE_FLOOR:g} mm, "
        f"{SPAN * MODULE_FLOOR:g} mm a side, and room for its words.",
        "Use larger labels, 40 x 25 mm at least.",
        stock=stock.name,
    )


def _arrange(stock: Stock, dots: int) -> Layout | None:
    module = dots * stock.dot
    size = SPAN * module
    # The quiet zone is white, so it may lie in the strip that must stay free of ink.
    edge = max(0.0, stock.pad - QUIET * module)
    left = top = _up(edge, stock.dot)

    wide = stock.label_width - 2 * stock.pad
    em = min(CODE_LARGEST, wide / CODE_EMS)
    human_y = stock.label_height - stock.pad - TAIL_END * em
    words_x = left + size + CLEAR
    words_width = stock.label_width - stock.pad - words_x
    words_height = human_y + CAPS_TOP * em - CLEAR - stock.pad
    if min(wide, words_width, words_height) <= 0 or top + size > human_y + CAPS_TOP * em:
        return None
    scale = min(1.0, words_height / WORDS_HEIGHT, words_width / WORDS_WIDTH)
    if scale < SMALLEST_SCALE:
        return None
    return Layout(
        module, dots, left, top, size,
        words_x, stock.pad, words_width, words_height, scale,
        stock.pad, human_y, wide, em,
    )  # fmt: skip


def _up(value: float, step: float) -> float:
    return math.ceil(value / step - 1e-9) * step
