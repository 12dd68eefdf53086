"""Which words stand on a label, in which size and on which line."""

from __future__ import annotations

from dataclasses import dataclass

from .errors import LabelError
from .layout import Layout
from .templates import LEADING, Line
from .text import one_line, paragraph

FIELDS = ("batch", "number", "what", "day", "free")

# Type sizes in mm at full scale, the wanted one first.
TITLE = (3.9, 3.4, 2.9, 2.5)
NAME = (3.2, 2.8, 2.5)
DAY = (3.0, 2.6, 2.2)
FREE = (2.6, 2.3)

# Shares of the full scale tried in turn; five full lines fit at the last (layout.py).
SHARES = (1.0, 0.94, 0.88)

SIGN_WIDTH, SIGN_HEIGHT = 2.6, 3.4  # mm at full scale, of the bag beside a bag's number
SIGN_GAP = 1.5


@dataclass(frozen=True)
class Sign:
    """Where the outline of a bag is drawn: mm from the label's corner, and its scale."""

    x: float
    y: float
    scale: float


@dataclass(frozen=True)
class Texts:
    """A label's words, made safe, with its place in the job for errors."""

    where: str
    batch: str
    number: str
    what: str
    day: str
    free: str
    is_bag: bool


def arrange(texts: Texts, place: Layout) -> tuple[list[Line], Sign | None]:
    """The lines from the top, each inside the words' box, and the bag's sign if there is one.

    Names are shrunk, then shortened. A number or a day is shrunk only, since half of it would
    be another one: LabelError `label_long` when it does not fit. A label with every line
    filled is set a little smaller than one with few.
    """
    for share in SHARES:
        lines, sign, bottom = _stack(texts, place, place.scale * share)
        if bottom <= place.words_y + place.words_height:
            break
    return lines, sign


def _stack(texts: Texts, place: Layout, scale: float) -> tuple[list[Line], Sign | None, float]:
    lines: list[Line] = []
    y = place.words_y
    sign = None

    def add(text: str, size: float, bold: bool, indent: float = 0.0) -> None:
        nonlocal y
        box = place.words_width - indent
        lines.append(Line(text, place.words_x + indent, y, box, size, bold))
        y += size * LEADING

    if texts.batch:
        size, (text,) = paragraph(texts.batch, place.words_width, _at(TITLE, scale), 1, bold=True)
        add(text, size, True)
    if texts.number:
        indent = (SIGN_WIDTH + SIGN_GAP) * scale if texts.is_bag else 0.0
        size = _whole(texts.number, "number", texts, place.words_width - indent, _at(TITLE, scale))
        if texts.is_bag:
            middle = y + size * LEADING / 2
            drawn = scale * size / _at(TITLE, scale)[0]  # it shrinks with its number
            left = place.words_x + SIGN_GAP / 5 * scale
            sign = Sign(left, middle - SIGN_HEIGHT * drawn / 2, drawn)
        add(texts.number, size, True, indent)
    if texts.what:
        # A free line takes the room of the name's second line.
        count = 1 if texts.free else 2
        size, parts = paragraph(texts.what, place.words_width, _at(NAME, scale), count)
        for part in parts:
            add(part, size, False)
    if texts.day:
        add(texts.day, _whole(texts.day, "day", texts, place.words_width, _at(DAY, scale)), False)
    if texts.free:
        size, (text,) = paragraph(texts.free, place.words_width, _at(FREE, scale), 1)
        add(text, size, False)
    return lines, sign, y


def _at(sizes: tuple[float, ...], scale: float) -> tuple[float, ...]:
    return tuple(size * scale for size in sizes)


def _whole(text: str, field: str, texts: Texts, mm: float, sizes: tuple[float, ...]) -> float:
    found = one_line(text, mm, sizes, bold=field == "number")
    if found is None:
        raise LabelError(
            "label_long",
            f"{texts.where}: {field} is too long to be printed whole: {text[:40]!r}.",
            f"Give a shorter {field}; about ten characters fit.",
            field=field,
        )
    return found
