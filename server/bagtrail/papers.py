"""Generated files: the catalogue for the client and the tables in DEVELOPERS.md."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path

from . import catalogue
from .errors import BadData, codes
from .settings import SETTINGS


def catalogue_text() -> str:
    """Returns the catalogue as committed in client/src/catalogue.json."""
    return json.dumps(catalogue.export(), ensure_ascii=False, sort_keys=True, indent=1) + "\n"


def checkout() -> Path:
    """Returns the folder of the source checkout.

    Raises:
        BadData: this is an installed package, not a checkout.
    """
    for up in Path(__file__).resolve().parents:
        if (up / "pyproject.toml").is_file() and (up / "client").is_dir():
            return up
    raise BadData("This is no source checkout.", "Run it in a checkout, or name the file.")


def _table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    def line(cells: tuple[str, ...]) -> str:
        return "| " + " | ".join(c.replace("|", "\\|") for c in cells) + " |"

    return "\n".join([line(head), line(("---",) * len(head)), *map(line, rows)])


def kinds_table() -> str:
    """Returns the table of record kinds."""
    rows = []
    for name, kind in sorted(catalogue.KINDS.items()):
        names = [f"**{f.name}**" if f.required else f.name for f in kind.fields]
        rows.append((f"`{name}`", kind.doc, " ".join(kind.sub) or "-", ", ".join(names) or "-"))
    return _table(("Kind", "What it says", "About", "Fields (bold: required)"), rows)


def errors_table() -> str:
    """Returns the table of error codes."""
    rows = [(f"`{c}`", str(e.status), e.doc, e.todo) for c, e in codes().items()]
    return _table(("Code", "HTTP", "What is wrong", "What to do"), rows)


def settings_table() -> str:
    """Returns the table of settings."""
    rows = [(f"`{s.name}`", f"`{s.default}`" if s.default else "-", s.doc) for s in SETTINGS]
    return _table(("Setting", "Default", "What it does"), rows)


def commands_table() -> str:
    """Returns the table of commands."""
    from .cli import main

    rows = [
        (f"`bagtrail {name}`", (command.help or "").strip().splitlines()[0])
        for name, command in sorted(main.commands.items())
    ]
    return _table(("Command", "What it does"), rows)


TABLES: dict[str, Callable[[], str]] = {
    "kinds": kinds_table,
    "errors": errors_table,
    "settings": settings_table,
    "commands": commands_table,
}


def with_tables(text: str) -> str:
    """Returns a document with each table between its markers made anew.

    Raises:
        BadData: a table's markers are missing.
    """
    for name, make in TABLES.items():
        begin, end = f"<!-- begin {name} -->", f"<!-- end {name} -->"
        before, found, rest = text.partition(begin)
        _, closed, after = rest.partition(end)
        if not (found and closed):
            raise BadData(f"{begin} … {end} is missing.", f"Put both lines where the {name} go.")
        text = f"{before}{begin}\n{make()}\n{end}{after}"
    return text


def update(path: Path, text: str, check: bool) -> bool:
    """Writes a generated file if it differs, or only tells; returns whether it differed."""
    there = path.read_text(encoding="utf-8") if path.exists() else ""
    if there == text:
        return False
    if not check:
        path.write_text(text, encoding="utf-8", newline="\n")
    return True
