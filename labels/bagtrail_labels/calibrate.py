"""A page that shows how far a printer feeds off: every label's outline, a cross in its corner,
and rulers in millimetres along both edges of the page."""

from __future__ import annotations

from . import plain
from .stock import Stock
from .templates import LEADING, Line, Style, placed
from .text import cleaned, paragraph

_THIN, _FINE = "0.2 w ", "0.1 w "
_FIGURE = 2.4  # mm of type size
_SIZES = (3.2, 2.8, 2.4, 2.0, 1.6)


def calibration(stock: Stock, words: str = "", language: str = "") -> bytes:
    """The page as a PDF, to be printed on plain paper at 100 % and held against the stock.

    Rulers begin at the paper's edge and run through the middle of the page: the first mark that
    is seen tells what the printer cuts off. They measure the paper and so are not nudged; the
    outlines are. `words` is a line in the farm's language ("Print at 100 %"), printed in the
    first label where it fits; figures are all the page needs.
    """
    out = ["0 G 0 g 0 J "]
    lines: list[Line] = []
    for cell in range(stock.cells):
        x, y = stock.origin(cell)
        wide, high = stock.label_width, stock.label_height
        out.append(f"{_FINE}[1 1] 0 d {x:.4f} {y:.4f} {wide:.4f} {high:.4f} re S [] 0 d ")
        pad = stock.pad
        out.append(
            f"{_FINE}{x + pad:.4f} {y + pad:.4f} {wide - 2 * pad:.4f} {high - 2 * pad:.4f} re S "
        )
        arm = min(4.0, 0.2 * min(wide, high))
        for cx, cy in ((x, y), (x + wide, y + high)):
            out.append(
                f"{_THIN}{cx - arm:.4f} {cy:.4f} m {cx + arm:.4f} {cy:.4f} l "
                f"{cx:.4f} {cy - arm:.4f} m {cx:.4f} {cy + arm:.4f} l S "
            )
    # Through the middle of a cell, not along a gap, so that marks and outlines are told apart.
    first_x, first_y = stock.margin_left, stock.margin_top
    column, row = (stock.columns - 1) // 2, (stock.rows - 1) // 2
    across = first_y + row * (stock.label_height + stock.gap_y) + 0.4 * stock.label_height
    down = first_x + column * (stock.label_width + stock.gap_x) + 0.4 * stock.label_width
    for length, turned in ((stock.page_width, False), (stock.page_height, True)):
        for mm in range(int(length) + 1):
            tall = 3.0 if mm % 10 == 0 else 2.0 if mm % 5 == 0 else 1.2
            if turned:
                out.append(f"{_FINE}{down:.4f} {mm} m {down + tall:.4f} {mm} l S ")
            else:
                out.append(f"{_FINE}{mm} {across:.4f} m {mm} {across + tall:.4f} l S ")
            crossing = abs(mm - (across if turned else down)) < 6
            if mm % 10 == 0 and 0 < mm < length - 2 and not crossing:
                at = (down + 3.4, mm - 0.6 * _FIGURE) if turned else (mm + 0.3, across + 2.2)
                lines.append(placed(str(mm), *at, 8.0, Style(_FIGURE)))
    x, y = stock.origin(0)
    text = f"{stock.label_width:g} \N{MULTIPLICATION SIGN} {stock.label_height:g} mm"
    # In a single column the ruler down the page runs through the first label too.
    right = x + stock.label_width if stock.columns > 2 else down
    room = right - x - stock.pad - 1.5
    top = y + stock.pad + 0.6
    for said in (text, cleaned(words, "words", "The calibration page")):
        if not said:
            continue
        size, (shown,) = paragraph(said, room, _SIZES, 1, True)
        if top + size * LEADING < across - 0.5:
            lines.append(placed(shown, x + stock.pad + 0.8, top, room, Style(size, True)))
            top += size * LEADING
    return plain.single(stock, "".join(out).encode("ascii"), lines, language)
