"""The command card: tags of type X with their words, grouped, to hang by the bench.

A gloved hand scans from it what a finger would touch. Codes lie apart by more than their own width,
so that a hand scanner's beam never meets two of them.
"""

from __future__ import annotations

from collections.abc import Sequence

from . import glyphs
from .errors import LabelError
from .paper import Drawn, Pages, Spot
from .qr import QUIET, SPAN, dots_wanted, payload
from .render import checked_language, grouped, written
from .stock import STOCKS, Stock
from .templates import LEADING, Line, Style, placed
from .text import cleaned, paragraph

MARGIN = 12.0  # mm at the edge of the page, room for a punch at the left
COLUMNS = 4
MOST_TAGS = 400
_WORD = (5.0, 4.4, 3.8, 3.3, 2.9)  # mm of type size, tried in turn
_CODE = 1.9
_TITLE = (7.0, 6.0, 5.0, 4.0)
_GROUP = 4.2
_ABOUT = (3.4, 3.0)
_FOOT = 2.8
_TOGETHER = 3  # rows of a group that a page's end does not part
_GREY_LINE = b"0.6 G 0.2 w 0 0 m %.3f 0 l S 0 G "

Tag = tuple[str, str]
Group = tuple[str, Sequence[Tag]]
Sheet = list[tuple[float, float, Drawn]]


def paper_named(paper: str, *, lying: bool = False) -> Stock:
    """A whole page of a4 or letter as a stock of one cell, `lying` on its long side.

    Raises LabelError `sheet_paper` for another name.
    """
    if paper not in ("a4", "letter"):
        raise LabelError("sheet_paper", "A sheet is printed on A4 or US Letter.", "Choose one.")
    table = next(s for s in STOCKS.values() if s.name.startswith(paper))
    wide, high = table.page_width, table.page_height
    if lying:
        wide, high = high, wide
    return Stock(paper, wide, high, 1, 1, wide, high)


def safe(value: object, field: str, where: str) -> str:
    """The text on one line, with every letter drawable. Raises LabelError as labels do."""
    text = cleaned(value, field, where)
    glyphs.learn([text])
    return glyphs.drawable(text, field, where)


def command_card(
    title: str,
    groups: Sequence[Group],
    farm_tag: str,
    *,
    about: str = "",
    paper: str = "a4",
    dpi: float = 203.2,
    language: str = "",
) -> bytes:
    """A PDF of command tags: title, one line of use, then each group under its heading.

    Args:
        title: what the card is called, with the farm's name, in its language.
        groups: heading and tags of each; a tag is its code (type X) and its word.
        farm_tag: stands in each code, so that another farm's card is told apart.
        paper: a4 or letter.
        dpi: of the printer; codes lie on its dots, and are as large as 203.2 dpi allows.

    Raises LabelError: `sheet_paper`, `card_none`, `card_many`, `card_type`, and what labels
    raise for texts and codes.
    """
    page = paper_named(paper).on(dpi=dpi)
    checked_language(language)
    count = sum(len(tags) for _heading, tags in groups)
    if not count:
        raise LabelError("card_none", "The card has no command.", "Name at least one.")
    if count > MOST_TAGS:
        raise LabelError("card_many", f"{count} commands are too many for one card.",
                         f"Print {MOST_TAGS} at most.", most=MOST_TAGS)  # fmt: skip
    codes = [code for _heading, tags in groups for code, _word in tags]
    odd = next((code for code in codes if not code.startswith("X")), None)
    if odd is not None:
        raise LabelError("card_type", f"{odd[:12]} is no command tag.",
                         "A card holds codes that start with X; others are labels.")  # fmt: skip
    pages = _pages(safe(title, "title", "The card"), safe(about, "words", "The card"), groups,
                   farm_tag, page)  # fmt: skip
    tags = [tag for sheet in pages for _x, _y, tag in sheet]
    return written(Pages(page, tags, 0, language, pages))


def _pages(
    title: str, about: str, groups: Sequence[Group], farm_tag: str, page: Stock
) -> list[Sheet]:
    wide = page.page_width - 2 * MARGIN
    module = dots_wanted(page.dpi)[0] * page.dot
    cell = (wide / COLUMNS, SPAN * module + 2.0)
    foot = page.page_height - MARGIN - 2 * _FOOT
    head, top = _head(title, about, wide)
    pages: list[Sheet] = []
    sheet: Sheet = [(MARGIN, MARGIN, head)]
    y = MARGIN + top
    for heading, tags in groups:
        name = safe(heading, "title", "The card")
        rows = [tags[at : at + COLUMNS] for at in range(0, len(tags), COLUMNS)]
        need = _GROUP * 1.7 + len(rows) * cell[1]
        begun = len(sheet) > 1
        # A small group stays together; the heading of a large one keeps its first rows, and
        # stands again on the next page.
        least = need if len(rows) <= _TOGETHER else _GROUP * 1.7 + 2 * cell[1]
        if begun and y + least > foot:
            pages.append(sheet)
            sheet, y = [], MARGIN
        sheet.append((MARGIN, y, _heading(name, wide)))
        y += _GROUP * 1.7
        for row in rows:
            if y + cell[1] > foot:
                pages.append(sheet)
                sheet, y = [(MARGIN, MARGIN, _heading(name, wide))], MARGIN + _GROUP * 1.7
            for column, (code, word) in enumerate(row):
                tag = _tag(payload(farm_tag, code), code, safe(word, "text", code), module, cell)
                sheet.append((MARGIN + column * cell[0], y, tag))
            y += cell[1]
    pages.append(sheet)
    for index, sheet in enumerate(pages):
        text = f"{title}   {index + 1} / {len(pages)}"
        size, (shown,) = paragraph(text, wide, (_FOOT,), 1)
        line = placed(shown, 0, 0, wide, Style(size))
        sheet.append(
            (MARGIN, page.page_height - MARGIN - size * LEADING, Drawn("", Spot(1, 0, 0), [line]))
        )
    return pages


def _head(title: str, about: str, wide: float) -> tuple[Drawn, float]:
    """Title and use, and how much height they take."""
    lines: list[Line] = []
    y = 0.0
    for text, sizes, bold in ((title, _TITLE, True), (about, _ABOUT, False)):
        if not text:
            continue
        size, rows = paragraph(text, wide, sizes, 1 if bold else 3, bold)
        for row in rows:
            lines.append(placed(row, 0, y, wide, Style(size, bold)))
            y += size * LEADING
        y += 1.0
    return Drawn("", Spot(1, 0, 0), lines), y + 2.0


def _heading(name: str, wide: float) -> Drawn:
    size, (shown,) = paragraph(name, wide, (_GROUP, 3.6, 3.0), 1, True)
    return Drawn("", Spot(1, 0, 0), [placed(shown, 0, 0.6, wide, Style(size, True))], b"",
                 _GREY_LINE % wide)  # fmt: skip


def _tag(text: str, code: str, word: str, module: float, cell: tuple[float, float]) -> Drawn:
    """The code at the left; word and symbols beside it, in the middle of its height."""
    quiet = QUIET * module
    # The left quiet zone may lie in the margin; the right one keeps words off the code.
    left = SPAN * module - quiet + 0.6
    wide = cell[0] - left - 2.0
    size, rows = paragraph(word, wide, _WORD, 3, True)
    high = len(rows) * size * LEADING + _CODE * 1.2
    y = (SPAN * module - high) / 2
    lines = []
    for row in rows:
        lines.append(placed(row, left, y, wide, Style(size, True)))
        y += size * LEADING
    lines.append(placed(grouped(code), left, y + 0.4, wide, Style(_CODE, False, True)))
    return Drawn(text, Spot(module, -quiet, 0), lines)
