"""Backups: one file with the whole log and the sealed identity, and proof that it can be restored.

    bagtrail-7K3Q-20251125-121500.zip      farm.db, identity.sealed, manifest.json
    photos/<sha256>                        beside it, shared by all backups of the folder

A backup is verified by opening it: checksums, SQLite's own check, the chain from its first link,
the same hash at the same place of the live log, the seal, and folding every record.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from . import receipts, recovery
from .disks import elsewhere
from .errors import AppError, BadBackup
from .live import Live, dumps
from .store import ZERO_HASH, Store
from .store.copies import open_copy
from .sync import Log
from .version import VERSION

PHOTOS = "photos"
LOGS = "logs"  # temperature logs of loads, kept like photographs
DATABASE, SEALED, MANIFEST = "farm.db", "identity.sealed", "manifest.json"
_SHA = re.compile("[0-9a-f]{64}")
_NAME = re.compile(r"bagtrail-[0-9A-Z]{4}-\d{8}-\d{6}(-\d+)?\.zip")
_CHUNK = 1 << 20


def make(log: Log, data: Path, folder: Path, now: int) -> dict[str, Any]:
    """Makes a backup while the farm goes on, verifies it, and returns what is known of it.

    Args:
        data: the data folder, whose photographs and identity go along.
        folder: where to; made if it is not there.
        now: ms UTC, for its name.

    Raises:
        BadBackup: it could not be written, or did not verify; it is kept and does not count.
    """
    key, _ = recovery.load_key(data)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".making-", dir=folder) as made:
            path = _pack(log, data, folder, Path(made), key, now)
    except OSError as bad:
        raise BadBackup(f"No backup could be written to {folder} ({bad.strerror}).") from bad
    row = {
        "name": path.name, "folder": str(folder), "at": now, "size": path.stat().st_size,
        **_place(path), "verified": 0, "fault": "not verified yet", "away": 0, "gone": False,
        "elsewhere": elsewhere(folder, log.store.file, log.store.is_here),
    }  # fmt: skip
    with log.store.writing():
        log.store.put_backup(**row)
    try:
        verify(path, log, key)
        row |= {"verified": now, "fault": ""}
    except AppError as bad:
        row["fault"] = bad.message[:300]
    with log.store.writing():
        log.store.put_backup(**row)
        log.store.raise_gen(log.epochs.side.gen())
    log.epochs.note()
    log.durable.forget()
    if row["fault"]:
        raise BadBackup(f"The backup {path} was written but is not sound: {row['fault']}")
    return row


def _pack(log: Log, data: Path, folder: Path, made: Path, key: bytes, now: int) -> Path:
    copy = made / DATABASE
    with log.store.reading():
        log.store.copy_to(copy)
    source = Store(f"sqlite:///{copy}")
    with source.reading():
        top = source.top()
    source.close_all()
    sealed = recovery.seal(key, log.identity.farm, recovery.secrets_of(data))
    (made / SEALED).write_bytes(sealed)
    manifest = {
        "k": "backup1", "version": VERSION, "farm": log.identity.farm, "tag": log.identity.tag,
        "at": now, "epoch": top.epoch, "pos": top.pos, "h": top.h,
        "files": {name: _digest(made / name) for name in (DATABASE, SEALED)},
        "photos": _copy_photos(data / PHOTOS, folder / PHOTOS),
        "logs": _copy_photos(data / LOGS, folder / LOGS),
    }  # fmt: skip
    (made / MANIFEST).write_text(json.dumps(manifest, indent=1), encoding="utf-8")
    whole = made / "whole.zip"
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as packed:
        for name in (MANIFEST, SEALED, DATABASE):
            packed.write(made / name, name)
    with whole.open("rb+") as file:
        os.fsync(file.fileno())
    path = _free_name(folder, log.identity.tag, now)
    whole.replace(path)
    _sync_folder(folder)
    return path


def _free_name(folder: Path, tag: str, now: int) -> Path:
    stamp = datetime.fromtimestamp(now / 1000, UTC).strftime("%Y%m%d-%H%M%S")
    path, n = folder / f"bagtrail-{tag}-{stamp}.zip", 1
    while path.exists():
        n += 1
        path = folder / f"bagtrail-{tag}-{stamp}-{n}.zip"
    return path


def _place(path: Path) -> dict[str, Any]:
    manifest = read_manifest(path)
    return {name: manifest[name] for name in ("epoch", "pos", "h")}


def _copy_photos(source: Path, target: Path) -> dict[str, int]:
    """Copies files that are not there yet; they are named by their own digest."""
    found: dict[str, int] = {}
    for photo in sorted(source.glob("*")) if source.is_dir() else []:
        if not _SHA.fullmatch(photo.name) or _digest_differs(photo, target):
            continue
        found[photo.name] = photo.stat().st_size
    return found


def _digest_differs(photo: Path, target: Path) -> bool:
    """Copies one photograph; True when it is not what its name says and so is left out."""
    copy = target / photo.name
    if copy.exists() and copy.stat().st_size == photo.stat().st_size:
        return False
    if _digest(photo) != photo.name:
        return True
    target.mkdir(parents=True, exist_ok=True)
    temporary = copy.with_name(f".{copy.name}")
    shutil.copyfile(photo, temporary)
    with temporary.open("rb+") as file:
        os.fsync(file.fileno())
    temporary.replace(copy)
    return False


def read_manifest(path: Path) -> dict[str, Any]:
    """Returns what a backup says of itself.

    Raises:
        BadBackup: it is not there, or no backup.
    """
    try:
        with zipfile.ZipFile(path) as packed:
            said = json.loads(packed.read(MANIFEST))
    except (OSError, zipfile.BadZipFile, KeyError, ValueError) as bad:
        raise BadBackup(f"{path} is not a backup of Bagtrail ({bad}).") from bad
    if not isinstance(said, dict) or said.get("k") != "backup1":
        raise BadBackup(f"{path} was made by a version that this one does not know.")
    return said


@contextmanager
def unpacked(path: Path) -> Iterator[tuple[dict[str, Any], Path]]:
    """Unpacks a backup for as long as it is needed; yields (manifest, folder).

    Raises:
        BadBackup: it is damaged.
    """
    manifest = read_manifest(path)
    with tempfile.TemporaryDirectory(prefix="bagtrail-") as made:
        folder = Path(made)
        for name, digest in manifest["files"].items():
            try:
                with zipfile.ZipFile(path) as packed, packed.open(name) as member:
                    with (folder / Path(name).name).open("wb") as file:
                        shutil.copyfileobj(member, file, _CHUNK)
            except (OSError, zipfile.BadZipFile, KeyError, EOFError, ValueError) as bad:
                raise BadBackup(f"{path.name}: {name} cannot be unpacked ({bad}).") from bad
            if _digest(folder / name) != digest:
                raise BadBackup(f"{path.name}: {name} is not what was packed.")
        open_copy(folder / DATABASE)
        yield manifest, folder


def verify(path: Path, log: Log | None = None, key: bytes | None = None) -> dict[str, Any]:
    """Opens a backup as a restore would and returns what it holds.

    Args:
        log: the live log, to hold the copy against; None on a machine without one.
        key: the recovery key, to try the seal.

    Returns:
        {"farm","tag","at","epoch","pos","h","records","units","photos","missing_photos"}.

    Raises:
        BadBackup: what is wrong with it, in one sentence.
        BadSheet: the key does not open it.
    """
    with unpacked(path) as (manifest, folder):
        store = Store(f"sqlite:///{folder / DATABASE}")
        try:
            with store.reading():
                said = store.check_file()
                if said != "ok":
                    raise BadBackup(f"{path.name}: the database is damaged ({said}).")
                _check_chain(store, manifest, path.name)
            units = _fold(store, log, manifest, path.name)
        finally:
            store.close_all()
        if key is not None:
            recovery.unseal(key, (folder / SEALED).read_bytes())
    if log is not None:
        if manifest["farm"] != log.identity.farm:
            raise BadBackup(f"{path.name} is a backup of another farm ({manifest['tag']}).")
        with log.store.reading():
            if log.store.hash_at(manifest["pos"]) != manifest["h"]:
                raise BadBackup(f"{path.name} is no part of the log of today.")
    beside = path.parent / PHOTOS
    missing = [n for n in manifest["photos"] if not (beside / n).is_file()]
    if missing and log is not None:
        raise BadBackup(f"{path.name}: {len(missing)} photographs are not beside it.")
    # A backup of an earlier version knows of no logs.
    lost = [n for n in manifest.get("logs", {}) if not (path.parent / LOGS / n).is_file()]
    if lost and log is not None:
        raise BadBackup(f"{path.name}: {len(lost)} temperature logs are not beside it.")
    names = ("farm", "tag", "at", "epoch", "pos", "h")
    return {
        **{name: manifest[name] for name in names},
        "records": manifest["pos"], "units": units, "photos": len(manifest["photos"]),
        "missing_photos": missing,
    }  # fmt: skip


def _check_chain(store: Store, manifest: dict[str, Any], name: str) -> None:
    top, pos, h = store.top(), 0, ZERO_HASH
    while rows := store.after(pos):
        for row in rows:
            h = receipts.chain(h, row.id, row.text, row.receipt)
            if row.pos != pos + 1 or row.h != h:
                raise BadBackup(f"{name}: the chain breaks at record {pos + 1}.")
            pos = row.pos
    if (top.pos, top.h) != (pos, h) or (pos, h) != (manifest["pos"], manifest["h"]):
        raise BadBackup(f"{name}: the log ends at {pos}, not where it says.")


def _fold(store: Store, log: Log | None, manifest: dict[str, Any], name: str) -> int:
    """Folds the copy, and compares with the live state where that is at the same place."""
    live = Live(store, cache=False)
    broken = [i for i, x in live.farm.index.lines.items() if x.get("w") == "broken"]
    if broken:
        raise BadBackup(f"{name}: record {broken[0]} breaks the fold.")
    rows = {row["unit"]: dumps(row) for row in live.farm.rows()}
    if log is not None:
        with log.live.lock:
            same = (log.live.pos, log.live.h) == (manifest["pos"], manifest["h"])
            if same and rows != {row["unit"]: dumps(row) for row in log.live.farm.rows()}:
                raise BadBackup(f"{name} folds to another state than the live log.")
    return len(rows)


def prune(log: Log, keep: int) -> list[str]:
    """Deletes the oldest backups of this farm beyond ``keep``, never one of the two that count."""
    from .durable import counts

    with log.store.reading():
        rows = log.store.backups()
        safe = [row["name"] for row in rows if counts(row, log.store)][:2]
    gone = []
    for row in rows[max(keep, 2) :]:
        path = Path(row["folder"]) / row["name"]
        if row["name"] in safe or row["away"] or not _NAME.fullmatch(row["name"]):
            continue
        path.unlink(missing_ok=True)
        with log.store.writing():
            log.store.drop_backup(row["name"])
        gone.append(row["name"])
    return gone


def look_again(log: Log) -> None:
    """Notes which backups are still where they were made."""
    with log.store.reading():
        rows = log.store.backups()
    for row in rows:
        path = Path(row["folder"]) / row["name"]
        gone = not (path.is_file() and path.stat().st_size == row["size"])
        if gone != bool(row["gone"]):
            with log.store.writing():
                log.store.put_backup(**{**row, "gone": gone})
            log.durable.forget()


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _sync_folder(folder: Path) -> None:
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # Windows opens no folders
        return
    try:
        os.fsync(handle)
    except OSError:  # nor do some shares of a network
        pass
    finally:
        os.close(handle)
