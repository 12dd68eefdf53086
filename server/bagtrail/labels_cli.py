"""``bagtrail labels``: PDF or PNG of labels, calibration pages and batch sheets."""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from . import settings as settings_
from .errors import BadFields

if TYPE_CHECKING:
    from bagtrail_labels import Stock

    from .fold import Farm
    from .sync import Log

COLUMNS = ("code", "batch", "number", "what", "day", "free", "title", "word", "sort")
MOST_BYTES = 8 << 20  # of codes: far above 20,000 labels with the longest words


@click.command()
@click.argument("codes", nargs=-1)
@click.option(
    "--from",
    "source",
    type=click.File("rb"),
    metavar="FILE",
    help="Codes, one a line, or CSV with a header (code,batch,number,...); - is stdin.",
)
@click.option("--blank", type=click.IntRange(0, 20_000), default=0, help="So many blank labels.")
@click.option(
    "--type",
    "letter",
    type=click.Choice(["B", "G"]),
    default="B",
    show_default=True,
    help="Of blank labels: for bags or for groups.",
)
@click.option("--stock", default="", metavar="NAME", help="Else the farm's own; see --stocks.")
@click.option("--stocks", "listed", is_flag=True, help="List the label stocks and end.")
@click.option(
    "--layout",
    "layouts",
    multiple=True,
    metavar="T=PARTS",
    help="Parts of a tag of type T, as B='number large bold, batch, day'.",
)
@click.option("--language", metavar="TAG", help="Of the words, as en, ja or sr-Cyrl.")
@click.option("--start", type=click.IntRange(0, 1000), default=0, help="Used cells of the sheet.")
@click.option("--dpi", type=click.IntRange(150, 2400), help="Of the printer: 203, 300 or 600.")
@click.option("--nudge-x", type=float, help="Move all right by so many mm.")
@click.option("--nudge-y", type=float, help="Move all down by so many mm.")
@click.option("--png", is_flag=True, help="A PNG a page, for drivers that take no PDF.")
@click.option("--calibrate", is_flag=True, help="The page that shows how far a printer is off.")
@click.option("--sheet", metavar="CODE", help="The sheet of a batch (M...) for the file.")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Of a batch sheet.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("labels.pdf"),
    show_default=True,
    help="- is stdout.",
)
@click.pass_context
def labels(
    ctx: click.Context, codes: tuple[str, ...], source: io.BufferedReader | None, blank: int,
    letter: str, stock: str, listed: bool, layouts: tuple[str, ...], language: str | None,
    start: int, dpi: int | None, nudge_x: float | None, nudge_y: float | None, png: bool,
    calibrate: bool, sheet: str | None, paper: str, out: Path,
) -> None:  # fmt: skip
    """Print labels for codes, or blank ones, into a PDF."""
    from . import open_log, printing, prints

    if listed:
        for row in printing.stocks():
            page = "roll" if row["roll"] else f"{row['cells']} a page"
            size = f"{row['label_width']:g} x {row['label_height']:g} mm"
            click.echo(f"{row['name']:<12} {size:<18} {page}")
        return
    log = open_log(settings_.load(ctx.obj))
    with log.live.now() as farm:
        own = printing.chosen(farm)
    printer = {"dpi": dpi, "nudge_x": nudge_x, "nudge_y": nudge_y}
    told = {key: value for key, value in printer.items() if value is not None}
    on = printing.stock_in(stock or own["stock"], told)
    language = own["language"] if language is None else language
    if calibrate:
        _write(out, printing.calibration(on, "", language), on, png, "calibration page")
        return
    if sheet:
        with log.live.now() as farm:
            pdf = printing.sheet(farm, sheet, log.identity.tag, paper, dpi or 300, language,
                                 own["address"])  # fmt: skip
        _write(out, pdf, on, png, "batch sheet")
        return
    with log.live.now() as farm:
        jobs = _jobs(farm, [{"code": code} for code in codes], language)
        jobs += _jobs(farm, _read(source), language) if source else []
    jobs += [{"code": code} for code in _fresh(log, letter, blank)]
    if not jobs:
        raise BadFields("There is nothing to print.", "Name codes, or give --blank 24.")
    chosen = {**own["layouts"], **dict(map(_layout, layouts))}
    pdf = printing.draw(jobs, on, log.identity.tag, start, layouts=printing.layouts_in(chosen),
                        language=language, address=own["address"])  # fmt: skip
    _write(out, pdf, on, png, f"{len(jobs)} labels")
    prints.note(log, [job["code"] for job in jobs], on.name)


def _fresh(log: Log, letter: str, count: int) -> list[str]:
    """New codes, no two alike."""
    from .prints import blanks

    with log.live.now() as farm:
        taken = blanks(farm)
    made: dict[str, None] = {}
    while len(made) < count:
        code = log.live.free_code(letter)
        if code not in taken:
            made[code] = None
    return list(made)


def _layout(text: str) -> tuple[str, str]:
    letter, equals, parts = text.partition("=")
    letter = letter.strip().upper()
    if not equals or len(letter) != 1 or letter not in "BGPSHMKW":
        raise BadFields(
            f"{text[:60]!r} is no layout of a type of tag.",
            "Write the type's letter, =, and the parts, as B='number large bold, batch'.",
        )
    return letter, parts


def _read(source: io.BufferedReader) -> list[dict[str, str]]:
    """Reads codes or CSV; raises BadFields with the line that cannot be used."""
    data = source.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise BadFields(f"The list is longer than {MOST_BYTES >> 20} MiB.", "Print it in parts.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as bad:
        raise BadFields(
            f"The list is not UTF-8 text (byte {bad.start}).", "Save it as CSV in UTF-8."
        ) from bad
    try:
        # In semicolons and tabs too, as spreadsheets write where a comma divides decimals.
        head = text.partition("\n")[0]
        divider = next((d for d in ";\t" if d in head), ",")
        rows = [row for row in csv.reader(io.StringIO(text, newline=""), delimiter=divider) if row]
    except csv.Error as bad:
        raise BadFields(f"The list cannot be read as CSV: {bad}.", "Save it again.") from bad
    if not rows:
        return []
    named = [name.strip().lower() for name in rows[0]]
    if "code" not in named:
        return [{"code": row[0].strip()} for row in rows if row[0].strip()]
    unknown = [name for name in named if name not in COLUMNS]
    if unknown or len(set(named)) != len(named):
        raise BadFields(
            f"The list has columns that are none of a label: {', '.join(unknown)[:80] or 'twice'}.",
            f"Name them {', '.join(COLUMNS)}.",
            {"columns": list(COLUMNS)},
        )
    found = []
    for number, row in enumerate(rows[1:], 2):
        if len(row) > len(named) or not dict(zip(named, row, strict=False)).get("code", "").strip():
            raise BadFields(
                f"Line {number} of the list has {len(row)} fields for {len(named)} columns, "
                "or no code.",
                "Put names that hold commas into double quotes.",
                {"line": number},
            )
        found.append({k: v.strip() for k, v in zip(named, row, strict=False) if v.strip()})
    return found


def _jobs(farm: Farm, given: Iterable[dict[str, str]], language: str) -> list[dict[str, Any]]:
    """What the list says, and what the farm knows where it says nothing."""
    from .answers.label import label_of

    jobs = []
    for one in given:
        known = label_of(farm, one["code"], language)
        jobs.append({**known, **one, "code": known["code"]})
    return jobs


def _write(out: Path, pdf: bytes, stock: Stock, png: bool, what: str) -> None:
    from . import printing

    if png:
        files = printing.pages(pdf, stock.dpi)
        stem = out.with_suffix("")
        names = [stem.with_name(f"{stem.name}-{i:03d}.png") for i in range(1, len(files) + 1)]
    else:
        files, names = [pdf], [out]
    try:
        if out == Path("-"):
            if len(files) > 1:
                raise BadFields(f"{len(files)} pictures do not fit one stream.", "Give --out.")
            sys.stdout.buffer.write(files[0])
            return
        for name, data in zip(names, files, strict=True):
            name.write_bytes(data)
    except OSError as bad:
        raise click.ClickException(f"{out} cannot be written ({bad.strerror}).") from bad
    many = f"{names[0]} to {names[-1].name}" if len(names) > 1 else str(names[0])
    click.echo(f"{many}: {what}")


COMMANDS = (labels,)
