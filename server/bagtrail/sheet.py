"""The recovery sheet: one page to print and keep where the farm's computer is not."""

from __future__ import annotations

import html
from pathlib import Path

from .recovery import groups_of

FILE = "recovery-sheet.pdf"
_CSS = """
@page { size: A4; margin: 24mm }
body { font: 12pt/1.5 "DejaVu Sans", sans-serif; color: #000 }
h1 { font-size: 22pt; margin: 0 0 2mm }
table { border-collapse: collapse; margin: 10mm 0 }
td { font: bold 22pt "DejaVu Sans Mono", monospace; border: 0.4mm solid #000; padding: 3mm 6mm }
td small { display: block; font: 8pt "DejaVu Sans", sans-serif }
li { margin-bottom: 2mm }
"""


def text(key: bytes, name: str, tag: str) -> str:
    """Returns the sheet in plain text."""
    groups = groups_of(key)
    return "\n".join(
        (
            f"Recovery sheet of {name or 'the farm'} ({tag})",
            "    " + " ".join(groups[:4]),
            "    " + " ".join(groups[4:]),
            "With this key and a backup, any computer becomes this farm's server again:",
            "    server/run --recover BACKUP",
            "Print it, and keep it away from this computer.",
        )
    )


def pdf(key: bytes, name: str, tag: str) -> bytes:
    """Returns the sheet as a PDF of one A4 page."""
    from weasyprint import HTML

    cells = [
        f"<td><small>{i}</small>{group}</td>" for i, group in enumerate(groups_of(key), start=1)
    ]
    page = f"""<html lang="en"><title>Recovery sheet</title><style>{_CSS}</style>
    <h1>Recovery sheet</h1><p>{html.escape(name)} &middot; farm tag <b>{html.escape(tag)}</b></p>
    <table><tr>{"".join(cells[:4])}</tr><tr>{"".join(cells[4:])}</tr></table>
    <ol><li>Keep this page where the farm's computer is not. Who has it and a backup has the farm.
    </li><li>After the loss of the computer: install Bagtrail on another one and start it with
    <b>server/run --recover BACKUP</b>, where BACKUP is the newest backup file you have.</li>
    <li>Type the eight groups. The last symbol of each checks the group; 0 and O, 1, I and L are
    the same.</li><li>The phones carry on without pairing again and bring back what the backup
    lacks. Confirm the list of devices when you are asked.</li></ol>"""
    return bytes(HTML(string=page).write_pdf())


def write(folder: Path, key: bytes, name: str, tag: str) -> Path:
    """Writes the PDF into a folder and returns its path; readable by its owner alone."""
    path = folder / FILE
    path.touch(mode=0o600)
    path.write_bytes(pdf(key, name, tag))
    return path
