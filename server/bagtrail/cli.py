"""``bagtrail``: serve, pair, find, print, and look after the log.

A slip of a person ends in a sentence and an exit code (1, or 2 for wrong use), never a traceback.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from . import care, labels_cli, lan_cli
from . import settings as settings_
from .errors import AppError
from .version import VERSION

if TYPE_CHECKING:
    from .sync import Log


class Commands(click.Group):
    """A group of commands that says an AppError as click says its own."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except AppError as error:
            raise click.ClickException(f"{error.message}\n{error.todo}") from error


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.option("--data", metavar="FOLDER", help="Data folder; else BAGTRAIL_DATA, else your own.")
@click.version_option(VERSION, prog_name="bagtrail")
@click.pass_context
def main(ctx: click.Context, data: str | None) -> None:
    """Bagtrail counts, labels and follows the bags of a mushroom farm."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal that is not UTF-8 gets question marks rather than a crash.
        getattr(stream, "reconfigure", lambda **_: None)(errors="replace")
    ctx.obj = {"BAGTRAIL_DATA": data or ""}


def _open(ctx: click.Context) -> Log:
    from . import open_log

    return open_log(settings_.load(ctx.obj))


@main.command()
@click.option("--data", metavar="FOLDER", help="Data folder, as before the command.")
@click.option("--host", help="Address to listen on (0.0.0.0: every network card).")
@click.option("--port", help="Port to listen on.")
@click.option("--demo", is_flag=True, help="Plant the invented demo farm first.")
@click.option("--lan", is_flag=True, help="Serve phones too, over https with the farm's own name.")
@click.option("--tls-port", help="Port for https (8443).")
@click.option("--welcome-port", help="Port of the plain page that phones meet first (8080).")
@click.option("--cert", help="PEM chain of a real domain, in place of the farm's own certificate.")
@click.option("--key", help="PEM key of that certificate.")
@click.option("--scale", metavar="PORT", help="Port of a bench scale (/dev/ttyUSB0, COM3).")
@click.pass_context
def serve(
    ctx: click.Context, data: str | None, host: str | None, port: str | None, demo: bool,
    lan: bool, tls_port: str | None, welcome_port: str | None, cert: str | None, key: str | None,
    scale: str | None,
) -> None:  # fmt: skip
    """Serve the farm to this computer and its phones."""
    from . import demo as demo_
    from . import open_log, serving

    if data:
        ctx.obj["BAGTRAIL_DATA"] = data
    given = {
        **ctx.obj, "BAGTRAIL_HOST": host or "", "BAGTRAIL_PORT": port or "",
        "BAGTRAIL_LAN": "on" if lan else "", "BAGTRAIL_TLS_PORT": tls_port or "",
        "BAGTRAIL_WELCOME_PORT": welcome_port or "",
        "BAGTRAIL_CERT": cert or "", "BAGTRAIL_KEY": key or "", "BAGTRAIL_SCALE": scale or "",
    }  # fmt: skip
    if demo:
        given["BAGTRAIL_NAME"] = demo_.NAME
    settings = settings_.load(given)
    if demo:
        log = open_log(settings)
        count = demo_.plant_once(log)
        log.close()
        planted = f"The demo farm stands: {count} records."
        click.echo(planted if count else "A farm is here already; the demo stays out of it.")
    serving.run(settings, click.echo)


@main.command()
@click.option("--role", type=click.Choice(["owner", "manager", "worker"]), default="owner",
              show_default=True)  # fmt: skip
@click.option("--person", default="", metavar="CODE", help="Who will hold it (W...).")
@click.pass_context
def pair(ctx: click.Context, role: str, person: str) -> None:
    """Make a one-time code for a new device."""
    from . import devices, ids, serving

    log = _open(ctx)
    who = ids.normalise(person) if person else devices.owner_of(log) if role == "owner" else ""
    code = devices.new_code(log, role, who)["code"]
    click.echo(f"Code: {code[:4]} {code[4:]}   (role {role}, works once, for 15 minutes)")
    click.echo(f"Link: {serving.address(settings_.load(ctx.obj))}#pair={code}")


@main.command()
@click.pass_context
def refold(ctx: click.Context) -> None:
    """Throw the folded state away, fold the log again, and compare to the byte."""
    log = _open(ctx)
    count, differ = log.live.refold()
    if differ:
        named = ", ".join(differ[:10])
        raise click.ClickException(
            f"Folded {count} records again; {len(differ)} rows differ from what was: {named}\n"
            "The new state is kept. Please report this: the fold must not depend on arrival."
        )
    click.echo(f"Folded {count} records again: equal to the byte.")


@main.command()
@click.option("--check", is_flag=True, help="Only tell whether the file is up to date.")
@click.option("--out", type=click.Path(path_type=Path), help="Else client/src/catalogue.json.")
def catalogue(check: bool, out: Path | None) -> None:
    """Write the catalogue of kinds for the client."""
    from . import papers

    path = out or papers.checkout() / "client" / "src" / "catalogue.json"
    _written(path, papers.catalogue_text(), check, "bagtrail catalogue")


@main.command()
@click.option("--check", is_flag=True, help="Only tell whether the tables are up to date.")
@click.option("--out", type=click.Path(path_type=Path), help="File; else DEVELOPERS.md.")
def docs(check: bool, out: Path | None) -> None:
    """Write the generated tables of DEVELOPERS.md."""
    from . import papers

    path = out or papers.checkout() / "DEVELOPERS.md"
    if not path.is_file():
        raise click.ClickException(f"{path} is not there.")
    text = papers.with_tables(path.read_text(encoding="utf-8"))
    _written(path, text, check, "bagtrail docs")


def _written(path: Path, text: str, check: bool, command: str) -> None:
    from . import papers

    differed = papers.update(path, text, check)
    if check and differed:
        raise click.ClickException(f"{path} is not up to date: run `{command}`.")
    click.echo(f"{path}: {'written' if differed else 'up to date'}")


@main.command()
@click.argument("words", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="The whole answer as JSON.")
@click.pass_context
def find(ctx: click.Context, words: tuple[str, ...], as_json: bool) -> None:
    """Find batches, bags and places by a code or a word."""
    from .answers import find as answer

    with _open(ctx).live.now() as farm:
        found = answer.find(farm, " ".join(words))
    if as_json:
        click.echo(json.dumps(found, ensure_ascii=False, indent=1))
        return
    for thing in found["found"]:
        click.echo(answer.sentence(thing))
    for guess in found["guesses"]:
        click.echo(f"Did you mean {guess['code']}? (symbol {guess['position']})")
    if not found["found"]:
        raise click.ClickException(f"Nothing on this farm is called {found['q']!r}.")


@main.command("log")
@click.option("--after", type=click.IntRange(0), default=0, help="Only after this position.")
@click.option("--limit", type=click.IntRange(1), default=50, show_default=True)
@click.option("--json", "as_json", is_flag=True, help="Each record's exact text, one a line.")
@click.pass_context
def log_(ctx: click.Context, after: int, limit: int, as_json: bool) -> None:
    """List the records of the log."""
    from .live import line_of_row

    log = _open(ctx)
    with log.store.reading():
        rows = log.store.after(after, limit)
    for row in rows:
        if as_json:
            click.echo(row.text)
            continue
        line = line_of_row(row)
        held = f"  held: {line['w']}" if "w" in line else ""
        about = " ".join(line["s"][:3])
        click.echo(f"{row.pos:>7}  {_day(line['t'])}  {line['k']:<18} {about}{held}")


def _day(ms: int) -> str:
    from datetime import UTC, datetime

    return datetime.fromtimestamp(ms / 1000, UTC).strftime("%Y-%m-%d %H:%M")


for command in (*care.COMMANDS, *labels_cli.COMMANDS, *lan_cli.COMMANDS):
    main.add_command(command)
