"""Labels to a PDF: WeasyPrint lays out the words, the QR codes are drawn as paths."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import pydyf
from weasyprint import HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher

from . import glyphs, templates
from .errors import LabelError
from .layout import Layout, layout
from .qr import QUIET, drawing
from .stock import Stock
from .text import cleaned
from .words import FIELDS, Sign, Texts, arrange

MOST_LABELS = 5_000  # a job; about half a minute of layout on a small computer
_PAGES_AT_ONCE = 100  # WeasyPrint's cost of a page grows with the pages of its document

# The outline of a filled bag, its seal across the top, and its filter patch; units mm, y
# downwards.
_BAG = (
    b"0.25 w 1 j 0.45 3.3 m 0.2 3.05 l 0.2 0.15 l 2.4 0.15 l 2.4 3.05 l 2.15 3.3 l h S "
    b"0.2 0.85 m 2.4 0.85 l S 0.95 1.5 0.7 0.7 re f"
)


@dataclass(frozen=True)
class Label:
    """What one label says. Only the code is needed; a label for a bag of which nothing is
    known yet leaves the rest empty.

    `what` is the strain or recipe, `day` the filling date as it is to be printed ("12 Jun"),
    `free` one more line of the grower's own.
    """

    code: str
    batch: str = ""
    number: str = ""
    what: str = ""
    day: str = ""
    free: str = ""


def grouped(code: str) -> str:
    """A code as people read it out: `B7K2 M4QX9`."""
    return f"{code[:4]} {code[4:]}"


def render(labels: Sequence[Label], stock: Stock, farm_tag: str, start: int = 0) -> bytes:
    """A PDF with the labels in order, pages of the stock's size.

    `start` is the first free cell of a used sheet, counted by rows from 0. Nothing is fetched
    from anywhere. Raises LabelError: `label_none`, `label_many`, `label_start`, `label_code`,
    `label_farm`, `label_text`, `label_long`, `label_font`, `stock_too_small`.
    """
    _check_job(labels, stock, start)
    place = layout(stock)
    texts = [_texts(index, label) for index, label in enumerate(labels)]
    glyphs.learn(getattr(words, field) for words in texts for field in FIELDS)

    cache: dict[str, Any] = {}
    sheets: list[list[str]] = [[]]
    cell = start
    for index, (label, words) in enumerate(zip(labels, texts, strict=True)):
        if cell == stock.cells:
            sheets.append([])
            cell = 0
        x, y = stock.origin(cell)
        lines, sign = arrange(_drawable(words), place)
        url = f"label:{index}"
        cache[url] = _Picture(drawing(farm_tag, label.code), stock, place, (x, y), sign)
        sheets[-1].append(
            templates.picture(url, x, y)
            + "".join(templates.words(line, x, y) for line in lines)
            + templates.human(grouped(label.code), place, x, y)
        )
        cell += 1
    return _pdf(["".join(sheet) for sheet in sheets], templates.style(stock, place), cache)


def _check_job(labels: Sequence[Label], stock: Stock, start: int) -> None:
    if not labels:
        raise LabelError(
            "label_none", "There are no labels to print.", "Choose at least one bag or tag."
        )
    if len(labels) > MOST_LABELS:
        raise LabelError(
            "label_many",
            f"{len(labels)} labels are too many for one print job.",
            f"Print {MOST_LABELS} at most at a time.",
            most=MOST_LABELS,
        )
    if isinstance(start, bool) or not isinstance(start, int) or not 0 <= start < stock.cells:
        raise LabelError(
            "label_start",
            f"The first free label of {stock.name} cannot be {start!r}.",
            f"Count the labels already used on the sheet: 0 to {stock.cells - 1}.",
            most=stock.cells - 1,
        )


def _texts(index: int, label: Label) -> Texts:
    # The code is checked by `drawing`; here it only helps to find the label.
    code = label.code if isinstance(label.code, str) else ""
    where = f"Label {index + 1} ({ascii(grouped(code[:9]))[1:-1]})"
    clean = {field: cleaned(getattr(label, field), field, where) for field in FIELDS}
    return Texts(where=where, is_bag=code.startswith("B"), **clean)


def _drawable(texts: Texts) -> Texts:
    seen = {field: glyphs.drawable(getattr(texts, field), field, texts.where) for field in FIELDS}
    return Texts(where=texts.where, is_bag=texts.is_bag, **seen)


class _Picture:
    """A label's QR code and sign, drawn by WeasyPrint as the image at the label's place.

    WeasyPrint asks an image in its cache for these two methods and nothing else; that is not
    documented, so `_pdf` counts the drawings and the tests read every code back.
    """

    def __init__(
        self, path: bytes, stock: Stock, place: Layout, origin: tuple[float, float],
        sign: Sign | None,
    ) -> None:  # fmt: skip
        self._path = path
        self._stock = stock
        self._module = place.module
        # From the label's corner to the symbol's, moved onto the printer's dots of the page.
        quiet = QUIET * place.module
        self._x, self._y = (
            round((edge + inside) / stock.dot) * stock.dot + quiet - edge
            for edge, inside in zip(origin, (place.code_x, place.code_y), strict=True)
        )
        self._sign = sign
        self.drawn = 0

    def get_intrinsic_size(self, *_: object) -> tuple[float, float, float]:
        wide, high = self._stock.label_width, self._stock.label_height
        return wide, high, wide / high

    def draw(self, stream: Any, width: float, height: float, style: object) -> None:
        self.drawn += 1
        unit = width / self._stock.label_width
        stream.set_color_rgb(0.0, 0.0, 0.0)
        stream.set_color_rgb(0.0, 0.0, 0.0, stroke=True)
        if self._sign is not None:
            size = self._sign.scale * unit
            self._place(stream, size, self._sign.x * unit, self._sign.y * unit, _BAG)
        self._place(stream, self._module * unit, self._x * unit, self._y * unit, self._path)

    @staticmethod
    def _place(stream: Any, scale: float, x: float, y: float, operators: bytes) -> None:
        stream.push_state()
        stream.transform(a=scale, d=scale, e=x, f=y)
        stream.stream.append(operators)
        stream.pop_state()


class _Nothing(URLFetcher):
    """Refuses every address: a label needs nothing from outside."""

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
        raise ValueError("labels fetch nothing")


def _unscaled(_document: object, pdf: pydyf.PDF) -> None:
    """Ask the viewer's print dialogue for 100 %: "fit to page" would shift every label."""
    pdf.catalog["ViewerPreferences"] = pydyf.Dictionary({"PrintScaling": "/None"})


def _parts(sheets: list[str]) -> Iterator[list[str]]:
    for first in range(0, len(sheets), _PAGES_AT_ONCE):
        yield sheets[first : first + _PAGES_AT_ONCE]


def _pdf(sheets: list[str], css: str, cache: dict[str, Any]) -> bytes:
    pictures = list(cache.values())
    fonts = FontConfiguration()
    documents = [
        HTML(string=templates.document(css, part), url_fetcher=_Nothing()).render(
            font_config=fonts, cache=cache
        )
        for part in _parts(sheets)
    ]
    pages = [page for document in documents for page in document.pages]
    if len(pages) != len(sheets):
        raise RuntimeError(f"{len(sheets)} sheets came out as {len(pages)} pages")
    pdf = documents[0].copy(pages).write_pdf(finisher=_unscaled)
    if any(picture.drawn != 1 for picture in pictures):
        raise RuntimeError("WeasyPrint left out a QR code: this version draws images otherwise")
    return bytes(pdf)
