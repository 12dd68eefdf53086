"""The commands that look after the log: backups, restoring, the recovery sheet, devices, state."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from . import settings as settings_
from .errors import BadFields

if TYPE_CHECKING:
    from .settings import Settings
    from .sync import Log


def _farm(ctx: click.Context) -> tuple[Settings, Log]:
    from . import open_log

    settings = settings_.load(ctx.obj)
    return settings, open_log(settings)


@click.command()
@click.option("--to", type=click.Path(path_type=Path), help="Folder; else BAGTRAIL_BACKUPS.")
@click.option("--prune", is_flag=True, help="Then delete the oldest beyond BAGTRAIL_BACKUP_KEEP.")
@click.option("--list", "only_list", is_flag=True, help="Only list the backups known of.")
@click.option("--away", metavar="NAME", help="Confirm that this backup was copied away.")
@click.pass_context
def backup(
    ctx: click.Context, to: Path | None, prune: bool, only_list: bool, away: str | None
) -> None:
    """Make a backup while the farm goes on, and prove that it can be restored."""
    from . import backup as backup_
    from .answers import heard
    from .sync import now_ms

    settings, log = _farm(ctx)
    if away:
        log.durable.confirm_away(away)
    if not only_list and not away:
        row = backup_.make(log, settings.data, (to or settings.backups).absolute(), now_ms())
        where = "" if row["elsewhere"] else "; it lies on the database's own disk: copy it away"
        click.echo(f"{row['folder']}/{row['name']}: {row['pos']} records, verified{where}")
        for name in backup_.prune(log, settings.backup_keep) if prune else ():
            click.echo(f"deleted: {name}")
        return
    backup_.look_again(log)
    for row in heard.backups(log):
        fault = row["fault"] or ("counts" if row["counts"] else "does not count")
        click.echo(f"{row['name']}  {row['pos']:>8} records  {fault}")
    with log.store.reading():
        click.echo(f"Safe up to record {log.durable.pos(log.store.top())}.")


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--alone", is_flag=True, help="Do not compare with the farm of this data folder.")
@click.pass_context
def verify(ctx: click.Context, file: Path, alone: bool) -> None:
    """Open a backup as a restore would, and say what it holds."""
    from . import backup as backup_
    from . import recovery

    log = key = None
    if not alone:
        settings, log = _farm(ctx)
        key = recovery.load_key(settings.data)[0]
    found = backup_.verify(file, log, key)
    click.echo(f"{file.name}: sound; {found['records']} records, {found['units']} units")


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.pass_context
def restore(ctx: click.Context, file: Path, yes: bool) -> None:
    """Put a backup in place of the log; the phones bring back what it lacks."""
    from . import restore as restore_
    from .sync import now_ms

    settings, log = _farm(ctx)
    if not yes:
        click.confirm(f"Put {file.name} in place of the log of today?", abort=True)
    done = restore_.restore(log, settings.data, file, now_ms())
    log.close()
    _tell_restored(done)


def _tell_restored(done: dict[str, Any]) -> None:
    click.echo(
        f"Restored: {done['pos']} records. The phones bring back what they keep of the rest."
    )
    if done["kept"]:
        click.echo(f"What was there is kept in {done['kept']}.")
    if done["missing_photos"]:
        click.echo(f"{len(done['missing_photos'])} photographs are asked for from the phones.")
    click.echo("Devices may send but not see until you confirm them: bagtrail devices --confirm")


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--key", help="The eight groups of the sheet; else they are asked for.")
@click.pass_context
def recover(ctx: click.Context, file: Path, key: str | None) -> None:
    """Make a bare machine this farm's server, from a backup and the recovery sheet."""
    from . import recovery
    from . import restore as restore_
    from .backup import read_manifest
    from .sync import now_ms

    settings = settings_.load(ctx.obj)
    manifest = read_manifest(file)
    click.echo(f"A backup of farm {manifest['tag']} with {manifest['pos']} records.")
    # By the environment for scripts: an argument can be read by every user of the machine.
    said = key or os.environ.get("BAGTRAIL_RECOVERY_KEY")
    said = said or click.prompt("The eight groups of the recovery sheet")
    done = restore_.recover(settings.data, settings.database, file, recovery.key_of(said), now_ms())
    _tell_restored(done)


@click.command()
@click.option("--out", type=click.Path(path_type=Path), help="PDF; else recovery-sheet.pdf.")
@click.pass_context
def sheet(ctx: click.Context, out: Path | None) -> None:
    """Show the recovery sheet, and draw it as a PDF to print."""
    from . import recovery
    from . import sheet as sheet_

    settings, log = _farm(ctx)
    key, _ = recovery.load_key(settings.data)
    name = str(log.live.ref("settings").get("name", ""))
    click.echo(sheet_.text(key, name, log.identity.tag))
    if out is None:
        out = sheet_.write(settings.data, key, name, log.identity.tag)
    else:
        try:
            out.write_bytes(sheet_.pdf(key, name, log.identity.tag))
        except OSError as bad:
            raise click.ClickException(f"{out} cannot be written ({bad.strerror}).") from bad
    click.echo(f"To print: {out}")


@click.command()
@click.option("--confirm", is_flag=True, help="Let all that wait pull again.")
@click.option("--revoke", metavar="DEV", help="Take this device's key back.")
@click.option("--why", default="", help="Why it is taken back.")
@click.pass_context
def devices(ctx: click.Context, confirm: bool, revoke: str | None, why: str) -> None:
    """List the devices with what waits on them; confirm them after a restore."""
    from . import devices as devices_
    from .answers import heard

    _, log = _farm(ctx)
    by = devices_.owner_of(log)
    if revoke:
        devices_.revoke(log, revoke, why, by)
    if confirm:
        click.echo(f"{len(devices_.confirm(log, by))} devices confirmed.")
    zone = str(log.live.ref("settings").get("zone", "UTC"))
    found = heard.devices(log)
    for row in found:
        told = heard.heard_of(row, zone)
        click.echo(f"{row['dev']}  {row['letter']:<2} {row['state']:<11} {row['name']}: {told}")
    if not found:
        raise BadFields("No device is paired yet.", "Make a code with `bagtrail pair`.")


@click.command()
@click.option("--json", "as_json", is_flag=True, help="The whole state as JSON.")
@click.pass_context
def status(ctx: click.Context, as_json: bool) -> None:
    """Say how safe the log is, and what came back after it was put back."""
    from .answers import heard

    _, log = _farm(ctx)
    found = heard.state(log)
    if as_json:
        click.echo(json.dumps(found, ensure_ascii=False, indent=1))
        return
    click.echo(f"{found['head']} records; safe up to record {found['durable']}.")
    for sentence in found["sentences"]:
        click.echo(sentence)


COMMANDS = (backup, verify, restore, recover, sheet, devices, status)
