"""Labels in, a PDF out."""

from __future__ import annotations

import logging
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from . import glyphs, plain, stamp
from .art import backdrop
from .errors import LabelError, shown
from .looks import PLACES
from .paper import Drawn, Job
from .parts import FIELDS, LAYOUTS, Layout
from .plan import Plan, plan
from .qr import payload
from .specimen import PINNED, Unexpected, versions
from .stock import Stock
from .templates import LEADING, Line, Style, placed
from .text import cleaned
from .words import Texts, arrange

MOST_LABELS = 20_000  # a job; ten seconds and 20 MB of PDF on a small computer

_LANGUAGE = re.compile(r"(?:[A-Za-z]{2,3}(?:-[A-Za-z0-9]{2,8}){0,3})?", re.ASCII)

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Label:
    """What one tag says. Only the code is needed; a label for a bag of which nothing is known
    yet leaves the rest empty.

    `what` is the strain or recipe, `day` the filling date as it is to be printed ("12 Jun"),
    `free` one more line of the grower's own. Tags of other types have a `title`, the name of
    what carries them, and a `word` for the type in the farm's language ("Shelf"); `sort` says
    which sign a place gets: room, rack, shelf, trolley or cold.
    """

    code: str
    batch: str = ""
    number: str = ""
    what: str = ""
    day: str = ""
    free: str = ""
    title: str = ""
    word: str = ""
    sort: str = ""


def grouped(code: str) -> str:
    """A code as people read it out: `B7K2 M4QX9`."""
    return f"{code[:4]} {code[4:]}"


def render(
    labels: Sequence[Label],
    stock: Stock,
    farm_tag: str,
    start: int = 0,
    *,
    layouts: Mapping[str, Layout] | None = None,
    language: str = "",
    address: str = "",
) -> bytes:
    """A PDF with the tags in order, pages of the stock's size.

    Args:
        start: the first free cell of a used sheet, counted by rows from 0.
        layouts: the farm's own choice of parts by type letter; else parts.LAYOUTS.
        language: of the words, as in HTML ("ja", "sr-Cyrl").
        address: printed in the QR codes before the code, in place of the farm's tag.

    Nothing is fetched from anywhere. Raises LabelError: `label_none`, `label_many`,
    `label_start`, `label_code`, `label_farm`, `label_address`, `label_text`, `label_sort`,
    `label_language`, `label_long`, `label_font`, `stock_too_small`.
    """
    job = prepare(
        labels, stock, farm_tag, start, layouts=layouts, language=language, address=address
    )
    return written(job)


def checked_language(language: object) -> None:
    """Raise LabelError `label_language` for what is no language's name."""
    if not isinstance(language, str) or not _LANGUAGE.fullmatch(language):
        raise LabelError(
            "label_language",
            f"{shown(language)} is no language.",
            "Name it as web pages do: en, pt-BR, sr-Cyrl.",
        )


def written(job: Job) -> bytes:
    """The job as a PDF, stamped where WeasyPrint is as it was when stamps were compared with the
    plain way, and the plain way where it is not."""
    if versions() == PINNED:
        try:
            return stamp.pdf(job)
        except Unexpected as why:
            _log.warning("labels are laid out one by one: %s", why)
    return plain.pdf(job)


def prepare(
    labels: Sequence[Label],
    stock: Stock,
    farm_tag: str,
    start: int = 0,
    *,
    layouts: Mapping[str, Layout] | None = None,
    language: str = "",
    address: str = "",
) -> Job:
    """The job before either way to a PDF; see `render`."""
    _check_job(labels, stock, start, language)
    payloads = [payload(farm_tag, label.code, address) for label in labels]
    clean = _cleaned(labels)
    glyphs.learn(clean.values())

    safe: dict[tuple[str, str], str] = {}
    kinds: dict[tuple[str, str], tuple[Plan, Layout, bytes]] = {}
    tags = []
    for index, label in enumerate(labels):
        letter = label.code[0]
        kind = kinds.get((letter, label.sort)) if isinstance(label.sort, str) else None
        if kind is None:
            kind = kinds[letter, label.sort] = _kind(index, label, stock, layouts or {})
        place, layout, behind = kind
        fields = {}
        for field in FIELDS:
            value = clean[getattr(label, field)]
            text = safe.get((field, value))
            if text is None:
                text = glyphs.drawable(value, field, _where(index, label))
                safe[field, value] = text
            fields[field] = text
        lines, art = arrange(Texts(_where(index, label), letter, fields), layout, place)
        lines.append(_human(label.code, place))
        tags.append(Drawn(payloads[index], place, lines, behind, art))
    return Job(stock, tags, start, language)


def _cleaned(labels: Sequence[Label]) -> dict[str, str]:
    """Every text of the job, each looked at once, by what it was before."""
    clean = {"": ""}
    for index, label in enumerate(labels):
        for field in FIELDS:
            value = getattr(label, field)
            if not isinstance(value, str) or value not in clean:
                clean[value] = cleaned(value, field, _where(index, label))
    return clean


def _kind(
    index: int, label: Label, stock: Stock, layouts: Mapping[str, Layout]
) -> tuple[Plan, Layout, bytes]:
    """What all tags of a type (and kind of place) have in common."""
    letter = label.code[0]
    if not isinstance(label.sort, str) or label.sort not in ("", *PLACES):
        raise LabelError(
            "label_sort",
            f"{_where(index, label)}: there is no sign for {shown(label.sort)}.",
            f"Choose one of: {', '.join(PLACES)}; or none.",
            known=list(PLACES),
        )
    place = plan(stock, letter)
    return place, layouts.get(letter) or LAYOUTS[letter], backdrop(stock, place, letter, label.sort)


def _human(code: str, place: Plan) -> Line:
    """The large code; a line's box is higher than its type, by as much above as below."""
    y = place.human_y - (LEADING - 1) / 2 * place.human_em
    style = Style(place.human_em, bold=True, mono=True)
    return placed(grouped(code), place.human_x, y, place.human_width, style)


def _where(index: int, label: Label) -> str:
    code = label.code if isinstance(label.code, str) else ""
    return f"Label {index + 1} ({ascii(grouped(code[:9]))[1:-1]})"


def _check_job(labels: Sequence[Label], stock: Stock, start: int, language: str) -> None:
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
            f"The first free label of {stock.name[:40]} cannot be {shown(start)}.",
            f"Count the labels already used on the sheet: 0 to {stock.cells - 1}.",
            most=stock.cells - 1,
        )
    checked_language(language)
