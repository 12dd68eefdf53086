"""The plain way to a PDF: WeasyPrint lays out every word of every tag.

It needs nothing of WeasyPrint that is not documented but that it draws an image found in its
cache, and is chosen when stamping (stamp.py) is not to be trusted.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pydyf
from weasyprint import HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher

from . import templates
from .paper import PX, Drawn, Job, placed
from .stock import Stock

_PAGES_AT_ONCE = 100  # WeasyPrint's cost of a page grows with the pages of its document


class Nothing(URLFetcher):
    """Refuses every address: a label needs nothing from outside."""

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
        raise ValueError("labels fetch nothing")


class Picture:
    """Operators in mm that WeasyPrint draws as the image of a whole page.

    WeasyPrint asks an image in its cache for these two methods and nothing else; that is not
    documented, so `pdf` counts the drawings and the tests read every code back.
    """

    def __init__(self, operators: bytes, page: tuple[float, float]) -> None:
        self._operators = operators
        self._page = page
        self.drawn = 0

    def get_intrinsic_size(self, *_: object) -> tuple[float, float, float]:
        wide, high = self._page
        return wide * PX, high * PX, wide / high

    def draw(self, stream: Any, width: float, height: float, style: object) -> None:
        self.drawn += 1
        stream.push_state()
        stream.set_color_rgb(0.0, 0.0, 0.0)
        stream.set_color_rgb(0.0, 0.0, 0.0, stroke=True)
        # Not by the size of the box: that would carry the page's rounding into every module.
        stream.transform(a=PX, d=PX)
        stream.stream.append(self._operators)
        stream.pop_state()


def unscaled(pdf: pydyf.PDF) -> None:
    """Ask the viewer's print dialogue for 100 %: "fit to page" would shift every label."""
    pdf.catalog["ViewerPreferences"] = pydyf.Dictionary({"PrintScaling": "/None"})


def pdf(job: Job) -> bytes:
    """The job as a PDF. Raises RuntimeError where WeasyPrint did not draw what it was given."""
    page = templates.page_size(job.stock)
    fonts = FontConfiguration()
    documents = []
    pictures: dict[str, Any] = {}
    sheets = list(job.sheets())
    for first in range(0, len(sheets), _PAGES_AT_ONCE):
        classes = templates.Classes()
        bodies = []
        for number, sheet in enumerate(sheets[first : first + _PAGES_AT_ONCE], first):
            url = f"sheet:{number}"
            art = b"".join(placed(tag, x, y, job.stock) for x, y, tag in sheet)
            pictures[url] = Picture(art, page)
            bodies.append(templates.picture(url) + _words(sheet, classes))
        css = templates.style(page) + "".join(classes.rules())
        text = templates.document(css, bodies, job.language)
        documents.append(
            HTML(string=text, url_fetcher=Nothing()).render(font_config=fonts, cache=pictures)
        )
    pages = [page for document in documents for page in document.pages]
    if len(pages) != len(sheets):
        raise RuntimeError(f"{len(sheets)} sheets came out as {len(pages)} pages")
    made = documents[0].copy(pages).write_pdf(finisher=lambda _document, pdf: unscaled(pdf))
    if any(picture.drawn != 1 for picture in pictures.values()):
        raise RuntimeError("WeasyPrint left out a QR code: this version draws images otherwise")
    return bytes(made)


def _words(sheet: Sequence[tuple[float, float, Drawn]], classes: templates.Classes) -> str:
    return "".join(
        templates.words(line, classes, round(x, 3), round(y, 3))
        for x, y, tag in sheet
        for line in tag.lines
    )


def single(stock: Stock, operators: bytes, lines: Sequence[templates.Line], language: str) -> bytes:
    """A page of drawings in mm and lines of words, for pages that are no labels."""
    page = templates.page_size(stock)
    classes = templates.Classes()
    picture = Picture(operators, page)
    body = templates.picture("sheet:0") + "".join(templates.words(line, classes) for line in lines)
    css = templates.style(page) + "".join(classes.rules())
    made = HTML(string=templates.document(css, [body], language), url_fetcher=Nothing()).write_pdf(
        cache={"sheet:0": picture}, finisher=lambda _document, pdf: unscaled(pdf)
    )
    if picture.drawn != 1:
        raise RuntimeError("WeasyPrint left out a picture: this version draws images otherwise")
    return bytes(made)
