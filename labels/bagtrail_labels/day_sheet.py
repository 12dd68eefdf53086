"""The paper day sheet: one page of lines to write on when no phone works, typed in later."""

from __future__ import annotations

from collections.abc import Sequence

from . import plain
from .card import MARGIN, paper_named, safe
from .errors import LabelError
from .render import checked_language
from .templates import LEADING, Line, Style, placed
from .text import paragraph

ROW = 8.0  # mm high: a line written with gloves on
MOST_COLUMNS = 10
_TITLE = (6.5, 5.5, 4.5, 3.6)
_SMALL = (3.2, 2.8, 2.4)
_HEAD = (3.4, 3.0, 2.6, 2.2, 1.9)
_FRAME, _RULE = b"0 G 0.35 w ", b"0.45 G 0.2 w "


def day_sheet(
    title: str,
    columns: Sequence[tuple[str, float]],
    *,
    date: str,
    by: str,
    about: str = "",
    acts: str = "",
    paper: str = "a4",
    language: str = "",
) -> bytes:
    """A PDF of one page, lying: title, day and person, then as many empty rows as it holds.

    Args:
        title: what the sheet is called, with the farm's name, in its language.
        columns: heading and share of the width of each, 10 at most.
        date, by: the words before the two blanks at the top.
        about: one line of use.
        acts: what may stand in the column of acts, two lines at the foot.
        paper: a4 or letter.

    Raises LabelError: `sheet_paper`, `sheet_columns`, and what labels raise for texts.
    """
    page = paper_named(paper, lying=True)
    checked_language(language)
    if not 1 <= len(columns) <= MOST_COLUMNS or any(not share > 0 for _name, share in columns):
        raise LabelError("sheet_columns", f"A day sheet of {len(columns)} columns cannot be drawn.",
                         f"Give 1 to {MOST_COLUMNS}, each wider than nothing.")  # fmt: skip
    where = "The day sheet"
    wide = page.page_width - 2 * MARGIN
    lines: list[Line] = []
    art: list[bytes] = []

    def put(text: str, x: float, y: float, room: float, sizes: tuple[float, ...], most: int,
            bold: bool = False) -> float:  # fmt: skip
        """Set a text and return where it ends."""
        if text:
            size, rows = paragraph(text, room, sizes, most, bold)
            for row in rows:
                lines.append(placed(row, x, y, room, Style(size, bold)))
                y += size * LEADING
        return y

    blanks = 0.46 * wide
    y = put(safe(title, "title", where), MARGIN, MARGIN, wide - blanks - 6, _TITLE, 1, True)
    x = MARGIN + wide - blanks
    for word in (date, by):
        put(safe(word, "heading", where), x, MARGIN + 2.0, 0.15 * wide, _SMALL, 1)
        art.append(_RULE + b"%.3f %.3f m %.3f %.3f l S " % (
            x + 0.08 * wide, MARGIN + 6.5, x + blanks / 2 - 3, MARGIN + 6.5))  # fmt: skip
        x += blanks / 2
    y = put(safe(about, "words", where), MARGIN, max(y, MARGIN + 8.0) + 0.5, wide, _SMALL, 2)
    foot: list[Line] = []
    bottom = page.page_height - MARGIN
    if acts:
        size, rows = paragraph(safe(acts, "acts", where), wide, _SMALL, 3)
        bottom -= len(rows) * size * LEADING + 1.5
        for index, row in enumerate(rows):
            at = bottom + 1.5 + index * size * LEADING
            foot.append(placed(row, MARGIN, at, wide, Style(size)))
    top = y + 2.0
    rows_high = int((bottom - top - ROW) // ROW) * ROW
    _table(columns, MARGIN, top, wide, rows_high, lines, art)
    return plain.single(page, b"".join(art), [*lines, *foot], language)


def _table(
    columns: Sequence[tuple[str, float]], left: float, top: float, wide: float, rows_high: float,
    lines: list[Line], art: list[bytes],
) -> None:  # fmt: skip
    total = sum(share for _name, share in columns)
    x = left
    for index, (name, share) in enumerate(columns):
        room = wide * share / total
        text = safe(name, "heading", "The day sheet")
        size, rows = paragraph(text, room - 2.4, _HEAD, 2, True)
        y = top + (ROW - len(rows) * size * LEADING) / 2
        for row in rows:
            lines.append(placed(row, x + 1.2, y, room - 2.4, Style(size, True)))
            y += size * LEADING
        if index:
            art.append(_RULE + b"%.3f %.3f m %.3f %.3f l S " % (x, top, x, top + ROW + rows_high))
        x += room
    y = top + 2 * ROW
    while y < top + ROW + rows_high - 0.1:
        art.append(_RULE + b"%.3f %.3f m %.3f %.3f l S " % (left, y, left + wide, y))
        y += ROW
    art.append(_FRAME + b"%.3f %.3f m %.3f %.3f l S " % (left, top + ROW, left + wide, top + ROW))
    art.append(_FRAME + b"%.3f %.3f %.3f %.3f re S " % (left, top, wide, ROW + rows_high))
