"""Label stock: where the labels lie on a page. All lengths are millimetres.

A row of the table describes paper by its measures only. To add one, measure the sheet and
write a row; everything else (size of the QR code, size of the type) follows from it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from .errors import LabelError

MM_PER_INCH = 25.4
# Desk label printers have heads of 8 dots a millimetre. A desk printer for sheets resolves
# more, and a module of whole 8-dot steps is even there too, to a small part of a module.
HEAD_DPI = 203.2


@dataclass(frozen=True)
class Stock:
    """One kind of label paper.

    `pad` is the strip inside each label kept free of ink: for labels at the edge of a sheet
    it is what a sheet printer cannot reach, for single labels the play of the paper.
    """

    name: str
    page_width: float
    page_height: float
    columns: int
    rows: int
    label_width: float
    label_height: float
    margin_left: float = 0.0
    margin_top: float = 0.0
    gap_x: float = 0.0
    gap_y: float = 0.0
    pad: float = 1.5
    dpi: float = HEAD_DPI

    def __post_init__(self) -> None:
        lengths = (self.page_width, self.page_height, self.label_width, self.label_height)
        spaces = (self.margin_left, self.margin_top, self.gap_x, self.gap_y, self.pad)
        if not all(math.isfinite(v) for v in (*lengths, *spaces, self.dpi)):
            raise ValueError(f"stock {self.name}: a measure is not a finite number")
        if min(lengths) <= 0 or min(spaces) < 0 or self.dpi <= 0:
            raise ValueError(f"stock {self.name}: a measure is negative or zero")
        if self.columns < 1 or self.rows < 1:
            raise ValueError(f"stock {self.name}: it needs one column and one row at least")
        right = self.margin_left + self.columns * self.label_width + (self.columns - 1) * self.gap_x
        bottom = self.margin_top + self.rows * self.label_height + (self.rows - 1) * self.gap_y
        if right > self.page_width + 1e-6 or bottom > self.page_height + 1e-6:
            raise ValueError(f"stock {self.name}: the labels reach past the page")

    @property
    def cells(self) -> int:
        """Labels on one page."""
        return self.columns * self.rows

    @property
    def dot(self) -> float:
        """Width of one printer dot in mm."""
        return MM_PER_INCH / self.dpi

    def origin(self, cell: int) -> tuple[float, float]:
        """Left and top edge (mm from the page's top left corner) of a cell, counted by rows."""
        if not 0 <= cell < self.cells:
            raise ValueError(f"stock {self.name} has cells 0 to {self.cells - 1}, not {cell}")
        row, column = divmod(cell, self.columns)
        return (
            self.margin_left + column * (self.label_width + self.gap_x),
            self.margin_top + row * (self.label_height + self.gap_y),
        )


# ISO 216: A4 is 210 x 297 mm. Eight rows of 37 mm leave 1 mm, half of it at the top.
A4_24 = Stock(
    "a4-24", 210.0, 297.0, columns=3, rows=8, label_width=70.0, label_height=37.0,
    margin_top=0.5, pad=4.5,
)  # fmt: skip
ROLL_50X30 = Stock("roll-50x30", 50.0, 30.0, columns=1, rows=1, label_width=50.0, label_height=30.0)

STOCKS: Mapping[str, Stock] = MappingProxyType({s.name: s for s in (A4_24, ROLL_50X30)})


def stock_named(name: str) -> Stock:
    """The stock of that name; raises LabelError `stock_unknown`, naming those there are."""
    stock = STOCKS.get(name) if isinstance(name, str) else None
    if stock is None:
        known = ", ".join(STOCKS)
        shown = name[:40] if isinstance(name, str) else type(name).__name__
        raise LabelError(
            "stock_unknown",
            f"There is no label stock called {shown!r}.",
            f"Choose one of: {known}.",
            stock=shown,
            known=list(STOCKS),
        )
    return stock
