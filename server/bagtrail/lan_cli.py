"""The commands about the farm's network and health."""

from __future__ import annotations

import json
from pathlib import Path

import click

from . import settings as settings_
from .errors import NotServed


@click.command()
@click.option("--sheet", type=click.Path(path_type=Path), help="Draw the pairing sheet (PDF).")
@click.pass_context
def network(ctx: click.Context, sheet: Path | None) -> None:
    """Say how phones reach the farm; draw the pairing sheet."""
    from . import open_log
    from .network import lan, leaf, pairing_sheet

    settings = settings_.load({**ctx.obj, "BAGTRAIL_LAN": "on"})
    log = open_log(settings)
    stands = lan.standing(settings, log.identity.tag)
    if stands is None or stands.authority is None:
        raise NotServed()
    welcome = stands.welcome_url()
    click.echo(f"Address: {stands.origin}")
    click.echo(f"New phones open: {welcome}")
    click.echo(f"Compare: {stands.authority.code}  (SHA-256 {stands.authority.fingerprint})")
    found = leaf.read(stands.certificate)
    left = f"{found.days_left(log.clock())} days left" if found else "none yet; --lan makes it"
    click.echo(f"Certificate: {left}")
    if sheet is not None:
        name = str(log.live.ref("settings").get("name", ""))
        pdf = pairing_sheet.pdf(stands.authority, log.identity.tag, name, welcome)
        try:
            sheet.write_bytes(pdf)
        except OSError as bad:
            raise click.ClickException(f"{sheet} cannot be written ({bad.strerror}).") from bad
        click.echo(f"To print: {sheet}")


@click.command()
@click.option("--json", "as_json", is_flag=True, help="All of it as JSON, for a monitor.")
@click.pass_context
def health(ctx: click.Context, as_json: bool) -> None:
    """Say how certificate, phones, backups, disk and log do; exit code 1 if something is wrong."""
    from . import open_log
    from .network import health as health_

    settings = settings_.load(ctx.obj)
    found = health_.health(open_log(settings), settings, health_.Chain())
    if as_json:
        click.echo(json.dumps(found, ensure_ascii=False, indent=1))
    else:
        for sentence in found["sentences"] or ["All is well."]:
            click.echo(sentence)
    ctx.exit(0 if found["ok"] else 1)


COMMANDS = (network, health)
