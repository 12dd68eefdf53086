"""A print job between its words and its PDF: what is drawn on which sheet, and where.

Both ways to a PDF (plain.py, stamp.py) draw this and nothing else, so that they give the same
picture.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from .plan import Plan
from .qr import QUIET, drawing, unit
from .stock import Stock
from .templates import Line

PX = 96 / 25.4  # WeasyPrint's unit, CSS pixels, a millimetre


class Spot(NamedTuple):
    """Where a QR code with its quiet zone lies, and the size of its modules, in mm."""

    module: float
    code_x: float
    code_y: float


class Drawn(NamedTuple):
    """One tag: the text of its QR code (empty: none), its lines of words, and drawings in mm:
    `art` is its own, `backdrop` that of its type. Places are from the tag's corner."""

    payload: str
    plan: Plan | Spot
    lines: Sequence[Line]
    backdrop: bytes = b""
    art: bytes = b""


@dataclass(frozen=True)
class Job:
    """Tags in order on a stock; `start` is the first free cell."""

    stock: Stock
    tags: Sequence[Drawn]
    start: int = 0
    language: str = ""

    def sheets(self) -> Iterator[list[tuple[float, float, Drawn]]]:
        """The tags of each page, with their corner in mm."""
        origins = [self.stock.origin(cell) for cell in range(self.stock.cells)]
        first, cells = -self.start, self.stock.cells
        while first < len(self.tags):
            yield [
                (*origins[index - first], self.tags[index])
                for index in range(max(0, first), min(first + cells, len(self.tags)))
            ]
            first += cells


@dataclass(frozen=True)
class Pages(Job):
    """Tags that lie on their pages otherwise than in the stock's cells; `tags` are all of them."""

    pages: Sequence[list[tuple[float, float, Drawn]]] = ()

    def sheets(self) -> Iterator[list[tuple[float, float, Drawn]]]:
        return iter(self.pages)


def placed(tag: Drawn, x: float, y: float, stock: Stock) -> bytes:
    """Operators for all of a tag but its words, in mm from the page's corner."""
    out = []
    if tag.backdrop or tag.art:
        out.append(b"q 1 0 0 1 %.4f %.4f cm " % (x, y) + tag.backdrop + tag.art + b"Q ")
    if tag.payload:
        units = unit(round(tag.plan.module / stock.dot))
        scale = tag.plan.module / units
        left, top = symbol_place(tag.plan, x, y, stock)
        out.append(b"q %.8f 0 0 %.8f %.6f %.6f cm " % (scale, scale, left, top))
        out.append(drawing(tag.payload, units))
        out.append(b" Q\n")
    return b"".join(out)


def symbol_place(plan: Plan | Spot, x: float, y: float, stock: Stock) -> tuple[float, float]:
    """Left and top of a symbol in mm, moved onto the printer's dots of the page."""
    dot, quiet = stock.dot, QUIET * plan.module
    return (
        round((x + plan.code_x) / dot) * dot + quiet,
        round((y + plan.code_y) / dot) * dot + quiet,
    )
