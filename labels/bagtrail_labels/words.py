"""Which words stand on a tag, in which size and on which line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from .art import bag_sign, strip_indent
from .errors import LabelError
from .parts import SIZES, SMALLEST, WHOLE, Layout, Part
from .plan import MONO_EM, Plan
from .templates import LEADING, MONO, Line, Style, placed, shared
from .text import one_line, paragraph

# Shares of the full scale, and lines a part may take at most, tried in turn until all fit.
TRIES = (
    (1.0, 4), (0.94, 4), (0.88, 4), (0.82, 4), (0.88, 2), (0.82, 2), (0.76, 2),
    (0.82, 1), (0.76, 1), (0.7, 1), (0.64, 1), (0.56, 1),
)  # fmt: skip
STRIP_SIZES = (4.2, 3.6, 3.1, 2.7, 2.4, 2.1, 1.9)
BETWEEN = " \N{MIDDLE DOT} "

SIGN_WIDTH, SIGN_HEIGHT = 2.6, 3.4  # mm at full scale, of the bag beside a bag's number
SIGN_GAP = 1.5

_MONO = frozenset(MONO)


@dataclass(frozen=True)
class Texts:
    """A tag's words by field, made safe, with its place in the job for errors."""

    where: str
    letter: str
    fields: Mapping[str, str]


def arrange(texts: Texts, layout: Layout, plan: Plan) -> tuple[list[Line], bytes]:
    """The lines from the top, each inside the words' box, and the sign beside a bag's number.

    Names are shrunk, then shortened. A number or a day is shrunk only, since half of it would
    be another one: LabelError `label_long` when it does not fit. A tag with every line filled
    is set a little smaller than one with few. Where even the smallest type is too much, the
    type's word is left out (the sign says it), then the last part, the last but one, ...: the
    farm's order is the order of weight.
    """
    parts = [part for part in layout.parts if texts.fields[part.field]]
    if plan.strip:
        return _strip(texts, parts, plan), b""
    while True:
        for share, most in TRIES:
            lines, sign, bottom = _stack(texts, parts, plan, plan.scale * share, most)
            if bottom <= plan.words_y + plan.words_height + 1e-9:
                return lines, sign
        word = next((part for part in parts if part.field == "word"), parts[-1])
        parts.remove(word)


def _stack(
    texts: Texts, parts: list[Part], plan: Plan, scale: float, most: int
) -> tuple[list[Line], bytes, float]:
    lines: list[Line] = []
    sign = b""
    y = plan.words_y
    for part in parts:
        text = texts.fields[part.field]
        sizes = _at(part.size, scale)
        if part.field not in WHOLE:
            # A free line takes the room of the name's second line.
            free = part.field == "what" and texts.fields["free"]
            count = 1 if free else min(part.lines, most)
            size, rows = paragraph(text, plan.words_width, sizes, count, part.bold)
            style = Style(size, part.bold)
            for row in rows:
                lines.append(shared(row, plan.words_x, y, plan.words_width, style))
                y += size * LEADING
            continue
        beside_bag = part.field == "number" and texts.letter == "B"
        indent = (SIGN_WIDTH + SIGN_GAP) * scale if beside_bag else 0.0
        style = _whole(text, part, texts, plan.words_width - indent, sizes)
        if beside_bag:
            middle = y + style.size * LEADING / 2
            drawn = scale * style.size / sizes[0]  # it shrinks with its number
            left = plan.words_x + (0.2 + SIGN_GAP / 5) * scale
            sign = bag_sign(left, middle - 3.15 / 2 * drawn, drawn)
        width = plan.words_width - indent
        put = placed if part.field == "number" else shared
        lines.append(put(text, plan.words_x + indent, y, width, style))
        y += style.size * LEADING
    return lines, sign, y


def _strip(texts: Texts, parts: list[Part], plan: Plan) -> list[Line]:
    """One line for as many parts as it holds. A bag's number comes first, it is what tells bags
    of a batch apart; a name comes first elsewhere; the type's word last, the sign says it."""
    first = "number" if texts.letter in "BG" else "title"
    order = sorted(parts, key=lambda part: (part.field == "word", part.field != first))
    if not order:
        return []
    indent = strip_indent(plan)
    wide = plan.words_width - indent
    sizes = tuple(size for size in STRIP_SIZES if size * LEADING <= plan.words_height)
    text = texts.fields[order[0].field]
    if order[0].field in WHOLE:
        _whole(text, order[0], texts, wide, sizes)
    size, rows = paragraph(text, wide, sizes, 1, True)
    for part in order[1:]:
        # What does not fit whole is left out here; shortened after the first it would be noise.
        more = f"{text}{BETWEEN}{texts.fields[part.field]}"
        fitting = one_line(more, wide, sizes, True)
        if fitting is None:
            continue
        text, size, rows = more, fitting, [more]
    y = plan.words_y + (plan.words_height - size * LEADING) / 2
    return [placed(rows[0], plan.words_x + indent, y, wide, Style(size, True))]


@lru_cache(maxsize=256)
def _at(name: str, scale: float) -> tuple[float, ...]:
    return tuple(max(SMALLEST, size * scale) for size in SIZES[name])


def _whole(text: str, part: Part, texts: Texts, mm: float, sizes: tuple[float, ...]) -> Style:
    mono = part.field == "number" and part.bold and _MONO.issuperset(text)
    if mono:
        ems = MONO_EM * len(text)
        found = next((size for size in sizes if ems * size <= mm), None)
    else:
        found = one_line(text, mm, sizes, part.bold)
    if found is None:
        raise LabelError(
            "label_long",
            f"{texts.where}: {part.field} is too long to be printed whole: {text[:40]!r}.",
            f"Give a shorter {part.field}; about ten characters fit.",
            field=part.field,
        )
    return Style(found, part.bold, mono)
