"""Labels as a use case: how the farm prints, its codes checked, and then the PDF or picture.

bagtrail_labels brings WeasyPrint, which takes half a second to import: only what prints asks for
it, so that a start of the server does not pay for it.
"""

from __future__ import annotations

import functools
import json
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

from . import ids
from .answers.label import label_of
from .answers.words import code_from, missing
from .catalogue.labels import METHODS
from .errors import BadCode, BadFields, BadLabel
from .fold import FARM, Farm
from .trade.carbide import refuse

if TYPE_CHECKING:
    from bagtrail_labels import Layout, Stock

P = ParamSpec("P")
T = TypeVar("T")

USUAL_STOCK = "a4-24"
# Whose layout a field of label.chosen is.
LAYOUTS = {"B": "layout_bag", "G": "layout_group", "P": "layout_place", "S": "layout_spawn",
           "H": "layout_load", "M": "layout_batch", "K": "layout_crate",
           "W": "layout_person"}  # fmt: skip


def _told(work: Callable[P, T]) -> Callable[P, T]:
    """Tells a LabelError in the server's one shape, its own code as details.reason."""

    @functools.wraps(work)
    def wrapped(*args: P.args, **more: P.kwargs) -> T:
        from bagtrail_labels import LabelError

        try:
            return work(*args, **more)
        except LabelError as bad:
            details = {**bad.details, "reason": bad.code}
            raise BadLabel(bad.message, bad.todo, details) from bad

    return wrapped


def chosen(farm: Farm) -> dict[str, Any]:
    """Returns the farm's own choice: {"stock", "language", "address", "layouts": {letter: text}}
    and, where said, {"method", "material"}."""
    said = farm.unit(FARM)["ref"]["settings"].get("farm", {})
    own: dict[str, Any] = {
        "stock": _stock_of(said.get("label_stock", "")),
        "language": said.get("label_language", ""),
        "address": said.get("label_address", ""),
        "layouts": {letter: said[name] for letter, name in LAYOUTS.items() if name in said},
    }
    return own | {key: said[key] for key in ("method", "material") if key in said}


def _stock_of(text: str) -> Any:
    """Returns the stock of a record: a name, or the measures that its JSON says."""
    if not text.startswith("{"):
        return text or USUAL_STOCK
    try:
        return json.loads(text)
    except ValueError:
        return text  # is then told as no name of a stock


@_told
def stock_in(data: Any, printer: Mapping[str, float] | None = None) -> Stock:
    """Returns a stock in a certain printer.

    Args:
        data: a name, or an object of a Stock's measures in mm.
        printer: dpi, nudge_x and nudge_y in mm, as far as given.
    """
    from bagtrail_labels import stock_from

    return stock_from(data).on(**(printer or {}))


@_told
def layouts_in(data: Mapping[str, Any]) -> dict[str, Layout]:
    """Returns layouts by type letter, from lists of parts or from their words."""
    from bagtrail_labels import layout_from

    return {letter: layout_from(parts) for letter, parts in data.items()}


def labels_of(farm: Farm, codes: list[str], language: str = "") -> list[dict[str, str]]:
    """Returns what stands on the label of each code, from the farm's state."""
    _check(codes)
    return [label_of(farm, code, language) for code in codes]


def _check(codes: list[str]) -> None:
    bad = [code for code in codes if not ids.is_code(code)]
    if bad:
        raise BadCode(f"{bad[0]} is no code: its last symbol does not fit.", details={"codes": bad})


@_told
def draw(
    labels: list[dict[str, Any]],
    stock: Stock,
    tag: str,
    start: int = 0,
    *,
    layouts: Mapping[str, Layout] | None = None,
    language: str = "",
    address: str = "",
) -> bytes:
    """Returns a PDF of labels.

    Args:
        labels: dicts of code, and what is known of it (see ``label_of``).
        tag: the farm's four symbols.
        start: cells of the first sheet already used up.
        layouts: by type letter, where not the usual ones.
        address: stands in the codes before the code, in place of the farm's tag.

    Raises:
        BadCode: codes that do not check, all of them named.
        BadLabel: what cannot be printed; details.reason is the code of the label package.
    """
    _check([label["code"] for label in labels])
    from bagtrail_labels import Label, render

    return render([Label(**label) for label in labels], stock, tag, start=start,
                  layouts=layouts, language=language, address=address)  # fmt: skip


@_told
def picture(pdf: bytes, dpi: float) -> bytes:
    """Returns the first page of a PDF as a grey PNG, for a screen."""
    from bagtrail_labels import pictures

    return next(pictures(pdf, dpi, black_and_white=False))


@_told
def pages(pdf: bytes, dpi: float) -> list[bytes]:
    """Returns every page as a black and white PNG, for drivers that take no PDF."""
    from bagtrail_labels import pictures

    return list(pictures(pdf, dpi))


@_told
def calibration(stock: Stock, words: str = "", language: str = "") -> bytes:
    """Returns the page that shows how far a printer feeds off, as a PDF."""
    from bagtrail_labels import calibration as page

    return page(stock, words, language)


@_told
def sheet(
    farm: Farm, batch: str, tag: str, paper: str = "a4", dpi: float = 300, language: str = "",
    address: str = "",
) -> bytes:  # fmt: skip
    """Returns the batch sheet as a PDF: name, mix and every labelled bag's code, for the file.

    Raises:
        BadCode, NotFound: no code of a batch, or one that nothing carries.
        BadLabel: it cannot be printed.
    """
    code = code_from(batch, "M")
    if code not in farm.units():
        raise missing(code)
    from bagtrail_labels import Label, batch_sheet

    parts = farm.unit(code)["parts"]
    # An untagged part has no code that could be scanned.
    tagged = sorted((c for c in parts if not c.startswith("g-")), key=lambda c: _order(parts[c], c))
    bags = [Label(**label_of(farm, c, language)) for c in tagged]
    head = Label(**label_of(farm, code, language))
    return batch_sheet(head, bags, tag, _facts(farm, code, head.day), paper=paper, dpi=dpi,
                       language=language, address=address)  # fmt: skip


@_told
def card(
    title: str, groups: list[dict[str, Any]], tag: str, *, about: str = "", paper: str = "a4",
    language: str = "",
) -> bytes:  # fmt: skip
    """Returns the command card as a PDF.

    Args:
        groups: {"title", "tags": [{"code", "text"}]} each.
        tag: the farm's four symbols, before every command.

    Raises:
        BadCode: codes that do not check, all of them named.
        BadLabel: it cannot be printed.
    """
    _check([one["code"] for group in groups for one in group["tags"]])
    from bagtrail_labels import command_card

    tags = [(g["title"], [(one["code"], one["text"]) for one in g["tags"]]) for g in groups]
    return command_card(title, tags, tag, about=about, paper=paper, language=language)


# Shares of the width: time, act, label or batch, how many, shelf or spawn lot, grams, note.
DAY_COLUMNS = (1.1, 1.7, 2.4, 1.0, 2.1, 1.0, 2.6)


@_told
def day_sheet(
    title: str, columns: list[str], *, date: str, by: str, about: str = "", acts: str = "",
    paper: str = "a4", language: str = "",
) -> bytes:  # fmt: skip
    """Returns the empty day sheet as a PDF of one page; `columns` are the seven headings.

    Raises:
        BadLabel: it cannot be printed.
    """
    from bagtrail_labels import day_sheet as page

    shares = list(zip(columns, DAY_COLUMNS, strict=True))
    return page(title, shares, date=date, by=by, about=about, acts=acts, paper=paper,
                language=language)  # fmt: skip


@_told
def mix_sheet(
    title: str, charges: list[dict[str, Any]], heads: list[str], tag: str, *, code: str = "",
    about: str = "", facts: list[dict[str, str]] | None = None, blanks: list[str] | None = None,
    cautions: list[str] | None = None, paper: str = "a4", language: str = "",
) -> bytes:  # fmt: skip
    """Returns the mix sheet of a plan as a PDF.

    Args:
        charges: {"title", "rows": [{"name", "about", "amount"}], "total", "total_amount"} each.
        heads: above the columns: what, to weigh, on the scale.
        tag: the farm's four symbols, before the batch's code.
        facts: {"name", "value"} each.

    Raises:
        BadCode: the batch's code does not check.
        BadFields: an ingredient is calcium carbide; it is named, with what was likely meant.
        BadLabel: it cannot be printed.
    """
    if code:
        _check([code])
    for row in (row for charge in charges for row in charge["rows"]):
        _no_carbide(row["name"])
    from bagtrail_labels import mix_sheet as page
    from bagtrail_labels.mix_sheet import Block, Row

    blocks = [Block(c["title"], [Row(r["name"], r["about"], r["amount"]) for r in c["rows"]],
                    (c["total"], c["total_amount"])) for c in charges]  # fmt: skip
    what, weigh, scale = heads
    pairs = [(fact["name"], fact["value"]) for fact in facts or ()]
    return page(title, blocks, (what, weigh, scale), tag, code, about=about, facts=pairs,
                blanks=blanks or (), cautions=cautions or (), paper=paper,
                language=language)  # fmt: skip


_MEANT = {"calcium_carbonate": "calcium carbonate (chalk, ground limestone)",
          "gypsum": "gypsum (calcium sulphate)"}  # fmt: skip


def _no_carbide(name: str) -> None:
    refused = refuse(name)
    if refused:
        raise BadFields(
            f"{name} is calcium carbide. With water it gives acetylene, which burns and explodes; "
            "it is never put in substrate.",
            f"Likely meant: {_MEANT[refused.meant[0]]}.",
            {"reason": refused.code, "name": name, "meant": list(refused.meant)},
        )


def _order(part: Mapping[str, Any], code: str) -> tuple[str, int, str]:
    """A bag's place on the sheet: by its number as people count, A2 before A10."""
    number = str(part.get("num", ""))
    head = number.rstrip("0123456789")
    tail = number[len(head) :]
    return head, int(tail) if tail else 0, code


def _facts(farm: Farm, code: str, day: str) -> list[tuple[str, str]]:
    unit = farm.unit(code)
    mixed = unit["mixed"]
    count = sum(part["n"] for part in unit["parts"].values())
    facts = [("Mixed", day), ("Bags", str(count)), ("Recipe", str(mixed.get("recipe_name", "")))]
    shares = [f"{part['name']} {part['share'] / 100:g} %" for part in mixed.get("parts", ())]
    facts.append(("Dry mix", ", ".join(shares)))
    if "moisture" in unit:
        facts.append(("Moisture", f"{unit['moisture'] / 100:g} % wet basis"))
    if "wet_g" in mixed:
        facts.append(("Wet mix", f"{mixed['wet_g'] / 1000:g} kg"))
    return [(name, value) for name, value in facts if value]


@_told
def stocks() -> list[dict[str, Any]]:
    """Returns every stock of the table: its measures in mm, the labels on a page, and the types
    of tags that fit it."""
    from bagtrail_labels import LAYOUTS as USUAL
    from bagtrail_labels import STOCKS, LabelError
    from bagtrail_labels.plan import plan

    def fits(stock: Stock, letter: str) -> bool:
        try:
            plan(stock, letter)
        except LabelError:
            return False
        return True

    return [
        {**stock.as_data(), "cells": stock.cells, "roll": stock.is_roll,
         "fits": [letter for letter in USUAL if fits(stock, letter)]}
        for stock in STOCKS.values()
    ]  # fmt: skip


def layouts() -> dict[str, Any]:
    """Returns what a layout is made of, and the usual ones: {"fields", "sizes", "whole", "usual":
    {letter: [part, ...]}}."""
    from bagtrail_labels import LAYOUTS as USUAL
    from bagtrail_labels.parts import FIELDS, MOST_LINES, SIZES, WHOLE

    return {
        "fields": list(FIELDS), "sizes": list(SIZES), "whole": sorted(WHOLE), "lines": MOST_LINES,
        "usual": {letter: layout.as_data() for letter, layout in USUAL.items()},
    }  # fmt: skip


def advice() -> dict[str, Any]:
    """Returns what label stock lives through, in message ids: {"rows", "always", "test"}."""
    from bagtrail_labels import advice as known

    materials = known.MATERIALS
    rows = [known.advice(method, material) for method in METHODS for material in materials]
    return {
        "rows": [row.as_data() for row in rows],
        "known": [[row.method, row.material] for row in known.TABLE],
        "always": list(known.ALWAYS),
        "test": list(known.SURVIVAL_TEST),
    }


def only_one_of(given: Mapping[str, Any]) -> None:
    """Refuses a job that names both labels and codes, or neither."""
    if bool(given.get("labels")) == bool(given.get("codes")):
        raise BadFields(
            "A job names either labels or codes.",
            "Send `labels` with their words, or `codes` of what the farm knows.",
            {"fields": ["labels", "codes"]},
        )
