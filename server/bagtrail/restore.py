"""Putting a backup back: into the farm it came from, or onto a bare machine with the sheet."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from . import keys, recovery
from .backup import DATABASE, LOGS, PHOTOS, SEALED, unpacked, verify
from .errors import BadBackup
from .sidefile import SideFile
from .store import Store
from .sync import Log


def restore(log: Log, data: Path, path: Path, now: int) -> dict[str, Any]:
    """Puts a backup in place of the log, as one transaction; a running server may go on.

    What was there is first copied beside it (``before-restore-….db``), and everything the phones
    keep comes back by itself: the log begins a new epoch.

    Returns:
        {"pos","at","kept": path of the copy or "", "missing_photos": [...]}.

    Raises:
        BadBackup: it is damaged or of another farm; nothing was changed.
    """
    found = verify(path)
    if found["farm"] != log.identity.farm:
        raise BadBackup(
            f"{path.name} is a backup of another farm ({found['tag']}).",
            "On a machine that is to become that farm's, use `server/run --recover`.",
        )
    kept = _keep(log, data, now)
    with unpacked(path) as (_, folder), log.store.writing():
        log.store.top(lock=True)
        log.store.take_from(folder / DATABASE)
        top = log.epochs.begin(log.store.top(), "restored", now)
        log.store.set_origin(*log.store.where())
    log.epochs.note()
    log.durable.forget()
    missing = _photos_back(path.parent / PHOTOS, data / PHOTOS, found["missing_photos"])
    _photos_back(path.parent / LOGS, data / LOGS, [])
    log.live.catch_up()
    return {"pos": top.pos, "at": found["at"], "kept": kept, "missing_photos": missing}


def _keep(log: Log, data: Path, now: int) -> str:
    stamp = datetime.fromtimestamp(now / 1000, UTC).strftime("%Y%m%d-%H%M%S")
    copy = data / f"before-restore-{stamp}.db"
    with log.store.reading():
        if not log.store.top().pos:
            return ""
        copy.unlink(missing_ok=True)
        log.store.copy_to(copy)
    return str(copy)


def _photos_back(source: Path, target: Path, missing: list[str]) -> list[str]:
    """Copies files back that are not there; missing photographs are asked for from the phones."""
    if source.is_dir():
        target.mkdir(parents=True, exist_ok=True)
        for photo in source.iterdir():
            if photo.is_file() and not (target / photo.name).exists():
                shutil.copyfile(photo, target / photo.name)
    return [name for name in missing if not (target / name).exists()]


def recover(data: Path, database: str, path: Path, key: bytes, now: int) -> dict[str, Any]:
    """Makes a bare machine this farm's server: identity from the seal, log from the backup.

    Raises:
        BadBackup: it is damaged, or another farm lives in this data folder.
        BadSheet: the key does not open it.
    """
    with unpacked(path) as (manifest, folder):
        files = recovery.unseal(key, (folder / SEALED).read_bytes())
    data.mkdir(parents=True, exist_ok=True)
    if (data / keys.FILE).exists() and keys.load_identity(data).farm != manifest["farm"]:
        raise BadBackup(
            f"In {data} lives another farm.", "Name a new data folder with --data or BAGTRAIL_DATA."
        )
    recovery.put_secrets(data, files)
    recovery.keep_key(data, key)
    log = Log(keys.load_identity(data), Store(database), SideFile(data / "starts"))
    try:
        return restore(log, data, path, now)
    finally:
        log.close()
