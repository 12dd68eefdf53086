"""The batch sheet: a page for the file with what a batch is and the codes of its bags, small
but large enough to be read when a label is lost."""

from __future__ import annotations

from collections.abc import Sequence

from . import glyphs
from .errors import LabelError
from .looks import SIGNS
from .paper import Drawn, Pages, Spot
from .plan import CODE_EMS, MONO_EM
from .qr import MODULE_FLOOR, QUIET, SPAN, dots_wanted, payload
from .render import MOST_LABELS, Label, grouped, written
from .stock import STOCKS, Stock
from .templates import LEADING, MONO, Line, Style, placed
from .text import cleaned, one_line, paragraph

MARGIN = 12.0  # mm at the edge of the page, room for a punch at the left
_HEAD_MODULE = 1.0  # mm; the batch's own code is the one that is scanned day by day
_CAPTION = 2.2  # mm of type size beneath a bag's code
_FACT = 3.4
_MOST_FACTS = 14

Fact = tuple[str, str]
_MONO = frozenset(MONO)


def batch_sheet(
    batch: Label,
    bags: Sequence[Label],
    farm_tag: str,
    facts: Sequence[Fact] = (),
    *,
    paper: str = "a4",
    dpi: float = 300,
    language: str = "",
    address: str = "",
) -> bytes:
    """A PDF: name, code and facts of a batch, then each bag's code with its number.

    Args:
        batch: its tag; `title` is the name.
        bags: their tags; only `code` and `number` are printed.
        facts: name and value in the farm's language, 14 at most: recipe, moisture, load, ...
        paper: a4 or letter.
        dpi: of the printer; codes lie on its dots.

    Raises LabelError as `render` does, and `sheet_paper`, `sheet_facts`.
    """
    if paper not in ("a4", "letter"):
        raise LabelError("sheet_paper", "A sheet is printed on A4 or US Letter.", "Choose one.")
    if len(bags) > MOST_LABELS:
        raise LabelError(
            "label_many",
            f"{len(bags)} bags are too many for one batch sheet.",
            f"Print {MOST_LABELS} at most.",
            most=MOST_LABELS,
        )
    if len(facts) > _MOST_FACTS:
        raise LabelError(
            "sheet_facts",
            f"{len(facts)} facts are too many for the head of a sheet.",
            f"Give {_MOST_FACTS} at most.",
        )
    table = next(s for s in STOCKS.values() if s.name.startswith(paper))
    page = Stock(paper, table.page_width, table.page_height, 1, 1, table.page_width,
                 table.page_height).on(dpi=dpi)  # fmt: skip
    pages = _pages(batch, bags, farm_tag, facts, page, address)
    tags = [tag for sheet in pages for _x, _y, tag in sheet]
    return written(Pages(page, tags, 0, language, pages))


def _pages(
    batch: Label, bags: Sequence[Label], farm_tag: str, facts: Sequence[Fact], page: Stock,
    address: str,
) -> list[list[tuple[float, float, Drawn]]]:  # fmt: skip
    title = _safe(batch.title or batch.batch, "title", "The batch")
    pairs = [
        (_safe(name, "fact", "The batch"), _safe(value, "fact", "The batch"))
        for name, value in facts
    ]
    numbers = [_safe(bag.number, "number", f"Bag {index + 1}") for index, bag in enumerate(bags)]
    head, bottom = _head(batch, title, pairs, payload(farm_tag, batch.code, address), page)
    module = dots_wanted(page.dpi, MODULE_FLOOR)[-1] * page.dot
    # Neighbours share their quiet zone: four modules of white lie between any two.
    wide = (SPAN - QUIET) * module
    high = (SPAN - QUIET) * module + 2 * _CAPTION * LEADING + QUIET * module / 2
    columns = int((page.page_width - 2 * MARGIN) // wide)
    foot = page.page_height - MARGIN - 2 * _CAPTION
    pages: list[list[tuple[float, float, Drawn]]] = []
    sheet = [(MARGIN, MARGIN, head)]
    y, column = bottom, 0
    for bag, number in zip(bags, numbers, strict=True):
        if y + high > foot:
            pages.append(sheet)
            sheet, y = [], MARGIN
        tag = _bag(bag.code, number, payload(farm_tag, bag.code, address), module, wide)
        sheet.append((MARGIN + column * wide, y, tag))
        column += 1
        if column == columns:
            y, column = y + high, 0
    pages.append(sheet)
    for index, sheet in enumerate(pages):
        text = f"{title}   {index + 1} / {len(pages)}"
        size, rows = paragraph(text, page.page_width - 2 * MARGIN, (_CAPTION * 1.3,), 1)
        footer = placed(rows[0], 0, 0, page.page_width - 2 * MARGIN, Style(size))
        y = page.page_height - MARGIN - size * LEADING
        sheet.append((MARGIN, y, Drawn("", Spot(1, 0, 0), [footer])))
    return pages


def _head(
    batch: Label, title: str, facts: Sequence[Fact], text: str, page: Stock
) -> tuple[Drawn, float]:
    """The batch's code with its name and facts beside it, and where the next thing begins."""
    module = dots_wanted(page.dpi, _HEAD_MODULE)[0] * page.dot
    side = SPAN * module
    quiet = QUIET * module
    # The quiet zone stands in the margin, so that code and words begin on one line.
    left = side - quiet + 2
    wide = page.page_width - 2 * MARGIN - left
    lines: list[Line] = []
    y = 0.0
    size, rows = paragraph(title, wide - 16, (9.0, 7.5, 6.0, 5.0, 4.0), 2, True)
    for row in rows:
        lines.append(placed(row, left, y, wide - 16, Style(size, True)))
        y += size * LEADING
    name_wide = 0.26 * wide
    for name, value in facts:
        size, (shown,) = paragraph(name, name_wide - 2, (_FACT, 2.9, 2.5), 1)
        lines.append(placed(shown, left, y, name_wide, Style(size)))
        size, rows = paragraph(value, wide - name_wide, (_FACT, 2.9), 2, True)
        for row in rows:
            lines.append(placed(row, left + name_wide, y, wide - name_wide, Style(size, True)))
            y += size * LEADING
        y += 0.6
    under = side - 2 * quiet + 1.5
    em = (side - 2 * quiet) / CODE_EMS
    human = placed(grouped(batch.code), 0, under, side, Style(em, True, True))
    lines.append(human)
    x = page.page_width - 2 * MARGIN - 13
    art = f"0 g 0 G q 1.3 0 0 1.3 {x:.3f} 0 cm {SIGNS['mix']}Q ".encode("ascii")
    bottom = MARGIN + max(y, under + em * LEADING) + 6.0
    return Drawn(text, Spot(module, -quiet, -quiet), lines, b"", art), bottom


def _bag(code: str, number: str, text: str, module: float, wide: float) -> Drawn:
    quiet = QUIET * module
    box = wide - 1.2
    y = wide - quiet + 0.5 * quiet
    em = min(_CAPTION, box / CODE_EMS)
    lines = []
    if number:
        mono = _MONO.issuperset(number)
        sizes = (_CAPTION, 1.9, 1.6, 1.3)
        fits = (
            next((size for size in sizes if MONO_EM * len(number) * size <= box), None)
            if mono
            else one_line(number, box, sizes, True)
        )
        if fits is None:
            raise LabelError(
                "label_long",
                f"Bag {grouped(code)}: number is too long to be printed whole: {number[:40]!r}.",
                "Give a shorter number; about ten characters fit.",
                field="number",
            )
        lines.append(placed(number, 0, y, box, Style(fits, True, mono)))
    lines.append(placed(grouped(code), 0, y + _CAPTION * 1.1, box, Style(em, False, True)))
    return Drawn(text, Spot(module, -quiet, -quiet), lines)


def _safe(value: str, field: str, where: str) -> str:
    text = cleaned(value, field, where)
    glyphs.learn([text])
    return glyphs.drawable(text, field, where)
