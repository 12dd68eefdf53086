"""HTML and CSS of a label page. Words in, markup out: everything from outside is escaped here.

Few boxes are what makes WeasyPrint quick: a label is one picture (QR code and sign), one box
a line of words and one for the large code, each at a place known beforehand.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

from .layout import Layout
from .stock import Stock

FACES = '"DejaVu Sans", "Noto Sans", Verdana, sans-serif'
MONO_FACES = '"DejaVu Sans Mono", "Noto Sans Mono", Menlo, Consolas, monospace'


@dataclass(frozen=True)
class Line:
    """One line of words: place from the label's corner and type size, in mm."""

    text: str
    x: float
    y: float
    width: float
    size: float
    bold: bool = False


# Share of the type size between two lines. The box of a line is clipped at its edges.
LEADING = 1.22


def style(stock: Stock, place: Layout) -> str:
    """The style sheet for a stock."""
    # A PDF's lengths end after six digits. Rounded up, the page would be a part of a dot more
    # than whole dots, and rasterisers would add a row and stretch every code over it.
    wide, high = stock.page_width - 1e-4, stock.page_height - 1e-4
    return f"""
@page {{ size: {wide:.4f}mm {high:.4f}mm; margin: 0 }}
html, body {{ margin: 0; font-family: {FACES}; line-height: {LEADING}; color: #000 }}
section {{ position: relative; height: {stock.page_height - 0.5}mm; break-after: page }}
section:last-child {{ break-after: auto }}
img, p {{ position: absolute; margin: 0 }}
img {{ width: {stock.label_width}mm; height: {stock.label_height}mm }}
p {{ white-space: pre; overflow: hidden; text-overflow: ellipsis }}
.b {{ font-weight: bold }}
.c {{ font: bold {place.human_em:.4f}mm/1 {MONO_FACES}; width: {place.human_width:.4f}mm }}
"""


def picture(url: str, x: float, y: float) -> str:
    """The drawing of a label whose corner lies at x, y (mm from the page's corner)."""
    return f'<img src="{escape(url)}" style="left:{x:.6f}mm;top:{y:.6f}mm">'


def words(line: Line, x: float, y: float) -> str:
    """One line of words of a label whose corner lies at x, y."""
    name = ' class="b"' if line.bold else ""
    return (
        f'<p{name} style="left:{x + line.x:.3f}mm;top:{y + line.y:.3f}mm;'
        f'width:{line.width:.3f}mm;font-size:{line.size:.3f}mm">{escape(line.text)}</p>'
    )


def human(text: str, place: Layout, x: float, y: float) -> str:
    """The large code of a label whose corner lies at x, y."""
    left, top = x + place.human_x, y + place.human_y
    return f'<p class="c" style="left:{left:.3f}mm;top:{top:.3f}mm">{escape(text)}</p>'


def document(css: str, sheets: Iterable[str]) -> str:
    """The whole page text."""
    body = "".join(f"<section>{sheet}</section>" for sheet in sheets)
    return f"<!doctype html><html><head><style>{css}</style></head><body>{body}</body></html>"
