"""Label stock: where the labels lie on a page. All lengths are millimetres.

A row of the table describes paper by its measures only. To add one, measure the sheet and
write a row; everything else (size of the QR code, size of the type) follows from it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from types import MappingProxyType
from typing import Any

from .errors import LabelError, shown

MM_PER_INCH = 25.4
# Desk label printers have heads of 8 dots a millimetre. A desk printer for sheets resolves
# more, and a module of whole 8-dot steps is even there too, to a small part of a module.
HEAD_DPI = 203.2
# What printers call themselves, and what their heads are.
DPI = MappingProxyType({203: HEAD_DPI, 300: 300.0, 600: 600.0})
LONGEST_SIDE = 500.0
CLOSE = 1e-6


@dataclass(frozen=True)
class Stock:
    """One kind of label paper, and how the printer takes it.

    `pad` is the strip inside each label kept free of ink: for labels at the edge of a sheet
    it is what a sheet printer cannot reach, for single labels the play of the paper. `nudge_*`
    moves everything right and down, for a printer that feeds a little off. Measures that fit
    no paper are a LabelError `stock_wrong`, a nudge off the page is `label_nudge`.
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
    nudge_x: float = 0.0
    nudge_y: float = 0.0

    def __post_init__(self) -> None:
        counts = ("columns", "rows")
        for name in (field.name for field in fields(self) if field.name != "name"):
            value = getattr(self, name)
            kinds = (int,) if name in counts else (int, float)
            if isinstance(value, bool) or not isinstance(value, kinds) or not math.isfinite(value):
                self._wrong(f"its {name} is {shown(value)}, not a number", field=name)
        if self.columns < 1 or self.rows < 1 or self.columns * self.rows > 1000:
            self._wrong("it needs from one to a thousand labels a page", field="columns")
        if min(self.page_width, self.page_height, self.label_width, self.label_height) <= 0:
            self._wrong("a side is zero or less", field="label_width")
        if max(self.page_width, self.page_height) > LONGEST_SIDE:
            self._wrong(f"a page longer than {LONGEST_SIDE:g} mm", field="page_height")
        if self.gap_x < 0 or self.gap_y < 0:
            self._wrong("its labels overlap: a gap is less than nothing", field="gap_x")
        if min(self.margin_left, self.margin_top, self.pad) < 0:
            self._wrong("a margin is less than nothing", field="margin_left")
        if not 150 <= self.dpi <= 2400:
            self._wrong(f"{self.dpi:g} dots per inch is no printer", field="dpi")
        right = self.margin_left + self.columns * (self.label_width + self.gap_x) - self.gap_x
        bottom = self.margin_top + self.rows * (self.label_height + self.gap_y) - self.gap_y
        if right > self.page_width + CLOSE or bottom > self.page_height + CLOSE:
            self._wrong("the labels reach past the page", field="columns")
        if 2 * self.pad >= min(self.label_width, self.label_height):
            self._wrong("its free edge leaves no room for a label", field="pad")
        for axis, before, after in (
            ("x", self.margin_left, self.page_width - right),
            ("y", self.margin_top, self.page_height - bottom),
        ):
            nudge = getattr(self, f"nudge_{axis}")
            low, high = -before - self.pad, after + self.pad
            if not low - CLOSE <= nudge <= high + CLOSE:
                raise LabelError(
                    "label_nudge",
                    f"A nudge of {nudge:g} mm in {axis} moves labels of {self._called()} "
                    "off the page.",
                    f"Choose {low:g} to {high:g} mm, or set the paper's edge at the printer.",
                    field=f"nudge_{axis}",
                    least=low,
                    most=high,
                )

    def _called(self) -> str:
        return shown(self.name)[1:-1]

    def _wrong(self, what: str, **details: Any) -> None:
        raise LabelError(
            "stock_wrong",
            f"stock {self._called()}: {what}.",
            "Measure the paper again, in millimetres.",
            **details,
        )

    @property
    def cells(self) -> int:
        """Labels on one page."""
        return self.columns * self.rows

    @property
    def dot(self) -> float:
        """Width of one printer dot in mm."""
        return MM_PER_INCH / self.dpi

    @property
    def is_roll(self) -> bool:
        """One label is one page."""
        return self.cells == 1 and self.label_width == self.page_width

    def origin(self, cell: int) -> tuple[float, float]:
        """Left and top edge (mm from the page's top left corner) of a cell, counted by rows,
        the nudge included."""
        if not 0 <= cell < self.cells:
            raise ValueError(f"stock {self.name} has cells 0 to {self.cells - 1}, not {cell}")
        row, column = divmod(cell, self.columns)
        return (
            self.margin_left + column * (self.label_width + self.gap_x) + self.nudge_x,
            self.margin_top + row * (self.label_height + self.gap_y) + self.nudge_y,
        )

    def on(self, **printer: Any) -> Stock:
        """The same paper in a certain printer: `dpi` (203 means 203.2), `nudge_x`, `nudge_y`."""
        if "dpi" in printer and printer["dpi"] in (203, 300, 600):
            printer["dpi"] = DPI[printer["dpi"]]
        return replace(self, **printer)

    def as_data(self) -> dict[str, Any]:
        """The measures as JSON, as `stock_from` takes them."""
        return asdict(self)


def roll(width: float, height: float, pad: float = 1.5) -> Stock:
    """Single labels of any size: each is a page of its own."""
    return Stock(f"roll-{width:g}x{height:g}", width, height, 1, 1, width, height, pad=pad)


# ISO 216: A4 is 210 x 297 mm. US Letter is 8 1/2 x 11 inches, 215.9 x 279.4 mm.
_A4, _LETTER = (210.0, 297.0), (215.9, 279.4)

_TABLE = (
    # Eight rows of 37 mm leave 1 mm, half of it at the top.
    Stock("a4-24", *_A4, 3, 8, 70.0, 37.0, margin_top=0.5, pad=4.5),
    Stock("a4-40", *_A4, 4, 10, 52.5, 29.7, pad=4.2),
    Stock("a4-21", *_A4, 3, 7, 63.5, 38.1, 7.25, 15.15, 2.5),
    Stock("a4-65", *_A4, 5, 13, 38.1, 21.2, 4.75, 10.7, 2.5, pad=1.0),
    Stock("a4-8", *_A4, 2, 4, 99.1, 67.7, 4.65, 13.1, 2.5, pad=2.5),
    Stock("a4-2", *_A4, 1, 2, 199.6, 143.5, 5.2, 5.0, pad=5.0),
    # Labels of whole parts of an inch: 2 5/8 x 1, 4 x 1, 4 x 2, 4 x 3 1/3.
    Stock("letter-30", *_LETTER, 3, 10, 66.675, 25.4, 4.7625, 12.7, 3.175),
    Stock("letter-20", *_LETTER, 2, 10, 101.6, 25.4, 3.96875, 12.7, 4.7625),
    Stock("letter-10", *_LETTER, 2, 5, 101.6, 50.8, 3.96875, 12.7, 4.7625),
    Stock("letter-6", *_LETTER, 2, 3, 101.6, 84.6, 3.96875, 12.7, 4.7625, pad=2.5),
    roll(50, 30),
    roll(60, 30),
    roll(40, 30),
    roll(25, 25, pad=1.0),
    roll(100, 50, pad=2.0),
)

STOCKS: Mapping[str, Stock] = MappingProxyType({stock.name: stock for stock in _TABLE})

_SIZE = re.compile(r"roll-(\d{1,3}(?:\.\d{1,2})?)x(\d{1,3}(?:\.\d{1,2})?)", re.ASCII)


def stock_named(name: str) -> Stock:
    """The stock of that name; `roll-70x45` is a roll of labels of any such size.

    Raises LabelError `stock_unknown`, naming those there are.
    """
    if isinstance(name, str):
        if name in STOCKS:
            return STOCKS[name]
        if size := _SIZE.fullmatch(name):
            return roll(float(size[1]), float(size[2]))
    raise LabelError(
        "stock_unknown",
        f"There is no label stock called {shown(name)}.",
        f"Choose one of: {', '.join(STOCKS)}; or a roll by its size, as roll-70x45.",
        stock=name[:40] if isinstance(name, str) else type(name).__name__,
        known=list(STOCKS),
    )


def stock_from(data: object) -> Stock:
    """A stock from JSON: its name, or an object of a Stock's measures (`on` applied where it
    names a stock with `stock`, and `dpi`, `nudge_x`, `nudge_y`).

    Raises LabelError `stock_wrong` or `stock_unknown`.
    """
    if isinstance(data, str):
        return stock_named(data)
    known = {field.name for field in fields(Stock)}
    if not isinstance(data, Mapping) or not data.keys() <= known | {"stock"}:
        odd = sorted(str(key) for key in data.keys() - known) if isinstance(data, Mapping) else []
        raise LabelError(
            "stock_wrong",
            f"A stock cannot be described by {', '.join(odd)[:80] or shown(data)}.",
            f"Give a name, or {', '.join(sorted(known))}.",
        )
    if "stock" in data:
        rest = {key: value for key, value in data.items() if key != "stock"}
        if not rest.keys() <= {"dpi", "nudge_x", "nudge_y"}:
            raise LabelError(
                "stock_wrong",
                "A stock of the table keeps its measures.",
                "Give dpi, nudge_x and nudge_y only, or all measures without a table's name.",
            )
        return stock_named(data["stock"]).on(**rest)
    try:
        return Stock(**{"name": "own", **data})
    except TypeError:
        needed = "page_width, page_height, columns, rows, label_width and label_height"
        raise LabelError(
            "stock_wrong", "The stock is described in part.", f"Give {needed} in millimetres."
        ) from None
