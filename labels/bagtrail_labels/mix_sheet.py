"""The mix sheet: what to weigh for a batch, charge by charge, to stand beside the scale.

Figures are large, so that they are read from where the bag is tipped in; each has a box beside it
for what the scale really showed, to be typed in later. Words come from who asks.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import NamedTuple

from weasyprint import HTML

from .card import MARGIN, paper_named, safe
from .errors import LabelError
from .plain import Nothing, unscaled
from .qr import QUIET, SPAN, matrix, payload
from .render import checked_language, grouped
from .symbols import MODULES
from .templates import FACES, MONO_FACES

MODULE = 0.8  # mm: read at arm's length from a wet page
MOST_ROWS = 600
_WHERE = "The mix sheet"


class Row(NamedTuple):
    """One thing to weigh: its name, what is said of it (lot, moisture), and the amount."""

    name: str
    about: str
    amount: str


class Block(NamedTuple):
    """One charge, or one bag: its heading, what goes in, and what it makes."""

    title: str
    rows: Sequence[Row]
    total: tuple[str, str]


Fact = tuple[str, str]


def mix_sheet(
    title: str,
    blocks: Sequence[Block],
    heads: tuple[str, str, str],
    farm_tag: str,
    code: str = "",
    *,
    about: str = "",
    facts: Sequence[Fact] = (),
    blanks: Sequence[str] = (),
    cautions: Sequence[str] = (),
    paper: str = "a4",
    language: str = "",
) -> bytes:
    """A PDF: batch, its code and facts, a table of weights a charge, blanks and cautions.

    Args:
        title: the batch's name, in the farm's language.
        blocks: one a charge, in the order they are mixed.
        heads: above the columns: what, to weigh, on the scale.
        code: the batch's, printed as a QR code; empty leaves it out.
        about: one line of use, with what the percentages are shares of.
        blanks: words with a line to write on after each.
        cautions: a line each, in a frame.
        paper: a4 or letter.

    Raises LabelError: `sheet_paper`, `sheet_none`, `sheet_rows`, and what labels raise for texts
    and codes.
    """
    page = paper_named(paper)
    checked_language(language)
    rows = sum(len(block.rows) for block in blocks)
    if not rows:
        raise LabelError("sheet_none", "The mix sheet has nothing to weigh.", "Plan a mix first.")
    if rows > MOST_ROWS:
        raise LabelError("sheet_rows", f"{rows} weights are too many for a mix sheet.",
                         f"Print {MOST_ROWS} at most.", most=MOST_ROWS)  # fmt: skip
    wide, high = page.page_width, page.page_height
    body = "".join((
        "<header>", _qr(payload(farm_tag, code), grouped(code)) if code else "",
        f"<h1>{_text(title, 'title')}</h1><p class=about>{_text(about, 'words')}</p>",
        "<table class=facts>",
        *(f"<tr><th>{_text(n, 'fact')}<td>{_text(v, 'fact')}" for n, v in facts),
        "</table></header>",
        # Before the weights: a caution at the end is read when the dust has settled.
        *(("<ul>", *(f"<li>{_text(line, 'caution')}" for line in cautions), "</ul>")
          if cautions else ()),
        *(_block(block, heads) for block in blocks),
        "<div class=blanks>",
        *(f"<p><span>{_text(word, 'blank')}</span></p>" for word in blanks), "</div>",
    ))  # fmt: skip
    html = (f'<!doctype html><html lang="{escape(language or "und")}"><head><meta charset=utf-8>'
            f"<title>{_text(title, 'title')}</title><style>{_css(wide, high)}</style></head>"
            f"<body>{body}</body></html>")  # fmt: skip
    made = HTML(string=html, url_fetcher=Nothing()).write_pdf(
        finisher=lambda _document, pdf: unscaled(pdf)
    )
    return bytes(made)


def _text(value: str, field: str) -> str:
    """A text on one line, every letter drawable, as markup."""
    return f"<bdi>{escape(safe(value, field, _WHERE))}</bdi>" if value else ""


def _block(block: Block, heads: tuple[str, str, str]) -> str:
    what, weigh, scale = (_text(head, "heading") for head in heads)
    rows = "".join(
        f"<tr><td class=tick><i></i><td class=what><b>{_text(row.name, 'name')}</b>"
        f"<small>{_text(row.about, 'words')}</small>"
        f"<td class=g>{_text(row.amount, 'amount')}<td class=box>"
        for row in block.rows
    )
    name, amount = block.total
    foot = (f"<tr class=total><td><td class=what>{_text(name, 'name')}"
            f"<td class=g>{_text(amount, 'amount')}<td class=box>" if name else "")  # fmt: skip
    return (f"<section><h2>{_text(block.title, 'title')}</h2><table class=weigh>"
            f"<thead><tr><th><th class=what>{what}<th class=g>{weigh}<th class=box>{scale}</thead>"
            f"<tbody>{rows}{foot}</tbody></table></section>")  # fmt: skip


def _qr(text: str, human: str) -> str:
    """The batch's code as a drawing; runs of dark modules are one rectangle each."""
    path = []
    for y, row in enumerate(matrix(text)):
        x = 0
        while x < MODULES:
            end = x
            while end < MODULES and row[end]:
                end += 1
            if end > x:
                path.append(f"M{x + QUIET} {y + QUIET}h{end - x}v1h{x - end}z")
            x = end + 1
    side = SPAN * MODULE
    return (f'<div class=code><svg xmlns="http://www.w3.org/2000/svg" width="{side:.2f}mm" '
            f'height="{side:.2f}mm" viewBox="0 0 {SPAN} {SPAN}"><path d="{"".join(path)}"/></svg>'
            f"<p>{escape(human)}</p></div>")  # fmt: skip


def _css(wide: float, high: float) -> str:
    return f"""
@page {{ size: {wide:.2f}mm {high:.2f}mm; margin: {MARGIN}mm }}
@page {{ @bottom-right {{ content: counter(page) " / " counter(pages); font: 9pt {FACES} }} }}
body {{ margin: 0; font: 11pt/1.25 {FACES}; color: #000 }}
h1, h2, p, ul {{ margin: 0 }}
header {{ overflow: hidden; margin-bottom: 3mm }}
.code {{ float: right; margin-left: 2mm }}
.code svg {{ display: block; margin-top: -{QUIET * MODULE:.1f}mm }}
.code p {{ font: 10pt {MONO_FACES}; text-align: center; margin-top: -2mm }}
h1 {{ font-size: 24pt; line-height: 1.1 }}
.about {{ margin: 1mm 0 2mm }}
.facts th {{ font-weight: normal; text-align: left; padding: 0 5mm 0 0; vertical-align: top }}
.facts td {{ font-weight: bold; padding: 0 }}
.facts, .weigh {{ border-collapse: collapse }}
section {{ margin-top: 3mm; break-inside: avoid }}
h2 {{ font-size: 14pt; break-after: avoid }}
.weigh {{ width: 100%; table-layout: fixed }}
.weigh th {{ font-size: 9pt; text-align: left; padding: 0.5mm 2mm }}
.weigh th {{ border-bottom: 0.5mm solid #000 }}
.weigh td {{ border-bottom: 0.2mm solid #000; padding: 0.5mm 2mm; height: 12mm;
  vertical-align: middle }}
.weigh tr {{ break-inside: avoid }}
.weigh .g {{ text-align: right; font-size: 21pt; font-weight: bold; white-space: nowrap }}
.weigh th.g {{ font-size: 9pt }}
.weigh th:first-child {{ width: 6mm }}
.weigh th.g {{ width: 52mm }}
.weigh th.box {{ width: 42mm }}
.weigh td.box {{ border-left: 0.5mm solid #000; border-right: 0.5mm solid #000 }}
.weigh .what {{ overflow-wrap: anywhere }}
.weigh b {{ font-size: 13pt; display: block }}
.weigh small {{ font-size: 9pt }}
.total td {{ height: 9mm }}
.total .g {{ font-size: 15pt }}
i {{ display: block; width: 6mm; height: 6mm; border: 0.5mm solid #000 }}
.blanks {{ display: flex; flex-wrap: wrap; gap: 0 8mm; margin-top: 4mm }}
.blanks p {{ flex: 1 1 70mm; height: 10mm; border-bottom: 0.2mm solid #000; break-inside: avoid }}
.blanks span {{ font-size: 9pt }}
ul {{ border: 0.5mm solid #000; padding: 2mm 3mm 2mm 8mm; margin-top: 2mm; font-size: 9.5pt }}
li {{ break-inside: avoid; margin-bottom: 0.7mm }}
"""
