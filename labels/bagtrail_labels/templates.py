"""HTML and CSS of a label page. Words in, markup out: everything from outside is escaped here.

Few boxes are what makes WeasyPrint quick: a sheet is one picture (all QR codes, signs, bands)
and one box a line of words, each at a place known beforehand.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from functools import lru_cache
from html import escape
from typing import NamedTuple

from .stock import Stock

FACES = '"DejaVu Sans", "Noto Sans", Verdana, sans-serif'
MONO_FACES = '"DejaVu Sans Mono", "Noto Sans Mono", Menlo, Consolas, monospace'

# Characters of codes and bags' numbers. Set in a face of one width they need no layout of
# their own: any of them beside any other is the same two glyphs (stamp.py).
MONO = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ -/.#+"


class Style(NamedTuple):
    """How a line is set: type size in mm, and its face."""

    size: float
    bold: bool = False
    mono: bool = False


class Line(NamedTuple):
    """One line of words: place and width in mm."""

    text: str
    x: float
    y: float
    width: float
    style: Style


@lru_cache(maxsize=4096)
def shared(text: str, x: float, y: float, width: float, style: Style) -> Line:
    """As `placed`, one object for the many tags that bear the same words."""
    return placed(text, x, y, width, style)


def placed(text: str, x: float, y: float, width: float, style: Style) -> Line:
    """A line at a place in whole thousandths of a mm, as the style sheet has it: what is stamped
    and what is laid out must not differ by rounding."""
    return Line(text, round(x, 3), round(y, 3), round(width, 3), style)


# Share of the type size between two lines. The box of a line is clipped at its edges.
LEADING = 1.22


def page_size(stock: Stock) -> tuple[float, float]:
    """The page in mm: whole dots of the printer, at most one dot less than the paper.

    Of a page that ends within a dot, rasterisers make whole dots by stretching all of it, and
    with it every code. A PDF's lengths end after six digits; rounded up, they would be a part
    of a dot too much again.
    """
    wide = math.floor(stock.page_width / stock.dot + 1e-6) * stock.dot
    high = math.floor(stock.page_height / stock.dot + 1e-6) * stock.dot
    return wide - 1e-4, high - 1e-4


def style(page: tuple[float, float]) -> str:
    """The style sheet for pages of a size in mm."""
    wide, high = page
    return f"""
@page {{ size: {wide:.4f}mm {high:.4f}mm; margin: 0 }}
html, body {{ margin: 0; font-family: {FACES}; line-height: {LEADING}; color: #000 }}
section {{ position: relative; white-space: pre; height: {high - 0.5:.4f}mm; break-after: page }}
section:last-child {{ break-after: auto }}
img, p {{ position: absolute; margin: 0; left: 0; top: 0 }}
img {{ width: {wide:.4f}mm; height: {high:.4f}mm }}
"""


def picture(url: str) -> str:
    """The drawing of a whole page."""
    return f'<img src="{escape(url)}">'


_CLIP = ";overflow:hidden;text-overflow:ellipsis"


class Classes:
    """Names for places and sizes that recur. WeasyPrint reads a style attribute anew each time
    it meets it, and a rule of the style sheet once."""

    def __init__(self) -> None:
        self._names: dict[str, str] = {}

    def name(self, rule: str) -> str:
        """The class with these declarations."""
        return self._names.setdefault(rule, f"k{len(self._names)}")

    def rules(self) -> Iterator[str]:
        """The style sheet of all names given."""
        return (f".{name}{{{rule}}}" for rule, name in self._names.items())


def words(line: Line, classes: Classes, x: float = 0.0, y: float = 0.0) -> str:
    """One line of words of a tag whose corner lies at x, y (mm from the page's corner)."""
    rule = (
        f"left:{x + line.x:.3f}mm;top:{y + line.y:.3f}mm;width:{line.width:.3f}mm;"
        f"font-size:{line.style.size:.3f}mm"
    )
    rule += ";font-weight:bold" if line.style.bold else ""
    # What is set in a face of one width was fitted by counting and needs no clip.
    rule += f";font-family:{MONO_FACES}" if line.style.mono else _CLIP
    return f'<p class="{classes.name(rule)}">{escape(line.text)}</p>'


def document(css: str, sheets: Iterable[str], lang: str = "") -> str:
    """The whole page text. The language chooses among forms of one character (Han, Cyrillic)."""
    body = "".join(f"<section>{sheet}</section>" for sheet in sheets)
    return (
        f'<!doctype html><html lang="{escape(lang)}"><head><style>{css}</style></head>'
        f"<body>{body}</body></html>"
    )
