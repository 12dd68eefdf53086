"""The pairing sheet: the steps of each system on paper, with the square that starts them."""

from __future__ import annotations

import html

from . import qr, steps
from .ca import Authority

_CSS = """
@page { size: A4; margin: 14mm }
body { font: 9.5pt/1.35 "DejaVu Sans", sans-serif; color: #000; margin: 0 }
h1 { font-size: 17pt; margin: 0 }
h2 { font-size: 12pt; margin: 4mm 0 1mm; border-bottom: 0.3mm solid #000 }
.head { display: flex; gap: 8mm; align-items: center }
.head svg { width: 46mm; height: 46mm; flex: none }
.address { font-size: 13pt; font-weight: bold }
.code { font: bold 20pt "DejaVu Sans Mono", monospace }
.mono { font: 8pt "DejaVu Sans Mono", monospace }
ol { margin: 0; padding-left: 7mm }
li { margin-bottom: 0.8mm }
"""
_TITLES = {"android": "Pair a phone", "computer": "Pair another computer"}


def page(authority: Authority, tag: str, name: str, welcome: str, systems: tuple[str, ...]) -> str:
    """Returns the sheet as HTML."""
    parts = "".join(
        f"<h2>{html.escape(steps.NAMES[s])}</h2>"
        f"<ol>{steps.as_html(s, tag, authority.title, authority.code)}</ol>"
        for s in systems
    )
    sha = authority.fingerprint.upper()
    rows = ":".join(sha[i : i + 2] for i in range(0, 64, 2))
    return f"""<html lang="en"><title>Pairing sheet</title><style>{_CSS}</style>
    <div class="head">{qr.svg(welcome)}<div><h1>{_TITLES[systems[0]]}</h1>
    <p>{html.escape(name)} &middot; farm tag <b>{tag}</b><br>
    <span class="address">{html.escape(welcome)}</span></p>
    <p>The page must show <span class="code">{authority.code}</span></p></div></div>
    {parts}
    <p>If no page comes, the computer has another number now: print this sheet again.</p>
    <p class="mono">SHA-256 {rows}</p>"""


def pdf(authority: Authority, tag: str, name: str, welcome: str) -> bytes:
    """Returns the sheet as a PDF, one A4 page for phones and one for other computers."""
    from weasyprint import HTML

    phones = HTML(string=page(authority, tag, name, welcome, ("android", "ios"))).render()
    others = HTML(string=page(authority, tag, name, welcome, ("computer",))).render()
    return bytes(phones.copy([*phones.pages, *others.pages]).write_pdf())
