"""C9: what counts as durable is what was proved to be restorable; and the file that proves it."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import time
import zipfile
from pathlib import Path
from typing import Any

import pytest

from bagtrail import backup, disks, recovery, settings, sheet
from bagtrail.errors import BadBackup, BadSheet
from bagtrail.schedule import Schedule
from bagtrail.sync import now_ms

BOTH_STORES = True


def note(phone: Any, text: str = "x") -> dict[str, Any]:
    return phone.record("note.written", [phone.by], {"text": text})


def make(server: Any, folder: Path) -> dict[str, Any]:
    return backup.make(server.log, server.folder, folder, now_ms())


def durable(phone: Any) -> int:
    reply = phone.push(note(phone)).json
    return int(reply["durable"])


@pytest.fixture
def elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every folder lies on another disk than the database."""
    monkeypatch.setattr(backup, "elsewhere", lambda *_: True)


def test_P4_C9_durable_is_what_both_of_the_two_newest_verified_backups_hold(
    server: Any, phone: Any, tmp_path: Path, elsewhere: None
) -> None:
    assert durable(phone) == 0
    first = make(server, tmp_path / "to")
    assert durable(phone) == 0  # one backup is none
    second = make(server, tmp_path / "to")
    assert second["pos"] > first["pos"]
    assert durable(phone) == first["pos"]
    third = make(server, tmp_path / "to")
    assert durable(phone) == second["pos"] < third["pos"]
    assert phone.pull().json["durable"] == second["pos"]


def test_C9_backup_on_the_databases_own_disk_counts_once_it_was_copied_away(
    server: Any, phone: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(backup, "elsewhere", lambda *_: False)
    rows = [make(server, tmp_path / "to") for _ in range(2)]
    assert durable(phone) == 0
    for row in rows:
        reply = server.http.post(
            "/api/sync/away", json={"name": row["name"]}, headers=phone.headers
        )
        assert reply.status_code == 200, reply.text
    assert durable(phone) == rows[0]["pos"]
    (tmp_path / "to" / rows[0]["name"]).unlink()  # it was copied away: that copy counts
    backup.look_again(server.log)
    assert durable(phone) == rows[0]["pos"]
    assert server.http.post(
        "/api/sync/away", json={"name": "nothing.zip"}, headers=phone.headers
    ).status_code == 422  # fmt: skip


def test_C9_backup_that_is_gone_counts_no_more(
    server: Any, phone: Any, tmp_path: Path, elsewhere: None
) -> None:
    rows = [make(server, tmp_path / "to") for _ in range(2)]
    assert durable(phone) == rows[0]["pos"]
    (tmp_path / "to" / rows[1]["name"]).unlink()
    backup.look_again(server.log)
    assert durable(phone) == 0


def test_C9_position_alone_is_no_proof_after_a_rewind(
    server: Any, phone: Any, tmp_path: Path, elsewhere: None
) -> None:
    """The log was put back to before the backups and grew past their positions again."""
    copy = tmp_path / "old.db"
    with server.log.store.reading():
        server.log.store.copy_to(copy)
    phone.push(*[note(phone, "lost") for _ in range(5)])
    rows = [make(server, tmp_path / "to") for _ in range(2)]
    assert durable(phone) == rows[0]["pos"]
    server.log.store.take_from(copy)
    with server.log.store.writing():
        server.log.epochs.begin(server.log.store.top(), "restored", now_ms())
    phone.st = "f" * 16
    assert phone.push(*[note(phone, "new") for _ in range(30)]).json["durable"] == 0


@pytest.mark.parametrize("fault", ["byte", "short", "row", "chain", "manifest", "none", "seal"])
def test_C9_damaged_backup_does_not_verify(
    server: Any, phone: Any, tmp_path: Path, fault: str
) -> None:
    phone.push(*[note(phone, "y" * 2_000) for _ in range(20)])
    row = make(server, tmp_path / "to")
    path = tmp_path / "to" / row["name"]
    key = recovery.load_key(server.folder)[0]
    assert backup.verify(path, server.log, key)["records"] == row["pos"]
    if fault == "byte":
        data = bytearray(path.read_bytes())
        data[len(data) // 2] ^= 1
        path.write_bytes(data)
    elif fault == "short":
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    elif fault == "none":
        path.write_bytes(b"")
    elif fault == "seal":
        with pytest.raises(BadSheet):
            backup.verify(path, server.log, b"\1" * 20)
        return
    else:
        repack(path, tmp_path / "open", fault)
    with pytest.raises(BadBackup):
        backup.verify(path, server.log, key)


def repack(path: Path, folder: Path, fault: str) -> None:
    """Packs a backup again, with honest checksums over a dishonest content."""
    with zipfile.ZipFile(path) as packed:
        packed.extractall(folder)
    manifest = json.loads((folder / "manifest.json").read_text())
    if fault == "manifest":
        manifest["pos"] -= 1
    else:
        db = sqlite3.connect(folder / "farm.db")
        if fault == "row":
            db.execute("UPDATE event SET text = ? WHERE pos = 5", (b"{}",))
        else:
            db.execute("DELETE FROM event WHERE pos = 5")
        db.commit()
        db.close()
    manifest["files"]["farm.db"] = backup._digest(folder / "farm.db")
    (folder / "manifest.json").write_text(json.dumps(manifest))
    with zipfile.ZipFile(path, "w") as packed:
        for file in folder.iterdir():
            packed.write(file, file.name)


def test_failed_verification_is_kept_and_told_and_does_not_count(
    server: Any, phone: Any, tmp_path: Path, elsewhere: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: Any) -> None:
        raise BadBackup("it does not fold")

    monkeypatch.setattr(backup, "verify", broken)
    for _ in range(2):
        with pytest.raises(BadBackup, match="not sound"):
            make(server, tmp_path / "to")
    assert durable(phone) == 0
    state = phone.get("/api/sync/state").json
    assert [b["fault"] for b in state["backups"]] == ["it does not fold"] * 2
    assert not any(b["counts"] for b in state["backups"])
    assert any("only backup" in s for s in state["sentences"])


def test_backup_is_made_while_phones_push(server: Any, phone: Any, tmp_path: Path) -> None:
    import threading

    stop, codes = threading.Event(), []
    phone.push(*[note(phone, "z" * 500) for _ in range(400)])

    def pushes() -> None:
        while not stop.is_set():
            codes.extend(r[1] for r in phone.accept(note(phone))["r"])

    worker = threading.Thread(target=pushes)
    worker.start()
    rows = [make(server, tmp_path / "to") for _ in range(3)]
    stop.set()
    worker.join()
    assert set(codes) == {"ok"}
    assert all(row["fault"] == "" for row in rows)
    assert rows[0]["pos"] < rows[-1]["pos"]


def test_photographs_go_along_once_and_come_back(server: Any, phone: Any, tmp_path: Path) -> None:
    import hashlib

    from bagtrail import restore

    data = b"a picture"
    name = hashlib.sha256(data).hexdigest()
    photos = server.folder / "photos"
    photos.mkdir()
    (photos / name).write_bytes(data)
    (photos / ("0" * 64)).write_bytes(b"not what its name says")
    row = make(server, tmp_path / "to")
    path = tmp_path / "to" / row["name"]
    assert backup.read_manifest(path)["photos"] == {name: len(data)}
    assert (tmp_path / "to" / "photos" / name).read_bytes() == data
    (photos / name).unlink()
    done = restore.restore(server.log, server.folder, path, now_ms())
    assert (photos / name).read_bytes() == data
    assert done["missing_photos"] == []
    shutil.rmtree(tmp_path / "to" / "photos")
    (photos / name).unlink()
    assert restore.restore(server.log, server.folder, path, now_ms())["missing_photos"] == [name]


def test_pruning_never_takes_one_of_the_two_that_count(
    server: Any, phone: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(backup, "elsewhere", lambda *_: True)
    good = [make(server, tmp_path / "to") for _ in range(2)]
    monkeypatch.setattr(backup, "elsewhere", lambda *_: False)
    more = [make(server, tmp_path / "to") for _ in range(3)]
    gone = backup.prune(server.log, 2)
    assert gone == [more[0]["name"]]
    left = {p.name for p in (tmp_path / "to").glob("*.zip")}
    assert left == {row["name"] for row in [*good, *more[1:]]}


def test_schedule_makes_two_of_a_quiet_log_then_rests(
    server: Any, phone: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = {"BAGTRAIL_DATA": str(server.folder), "BAGTRAIL_DATABASE": server.database,
             "BAGTRAIL_BACKUPS": str(tmp_path / "to"), "BAGTRAIL_BACKUP_HOURS": "1"}  # fmt: skip
    root = Path(__file__).resolve().parents[2]
    path = os.pathsep.join([str(root / "server"), str(root / "labels")])
    for name, value in {**given, "PYTHONPATH": path}.items():
        monkeypatch.setenv(name, value)
    schedule = Schedule(server.log, settings.load(given))
    assert schedule.look() is True
    assert schedule.look() is False  # not due

    def let_an_hour_pass() -> None:
        with server.log.store.writing():
            server.log.store.db.execute_sql("UPDATE origin SET backup_at = 0")

    let_an_hour_pass()
    assert schedule.look() is True
    let_an_hour_pass()
    assert schedule.look() is False  # nothing new
    phone.push(note(phone))
    let_an_hour_pass()
    assert schedule.look() is True
    assert len(list((tmp_path / "to").glob("*.zip"))) == 3


def test_recovery_key_is_typed_in_any_way_and_a_slip_names_its_group() -> None:
    for seed in range(50):
        key = bytes((seed * 7 + i * 13) % 256 for i in range(20))
        groups = recovery.groups_of(key)
        assert recovery.key_of(" ".join(groups)) == key
        typed = "-".join(groups).lower().replace("0", "o").replace("1", "l")
        assert recovery.key_of(typed) == key
        for i, group in enumerate(groups):
            wrong = list(groups)
            wrong[i] = ("0" if group[0] != "0" else "1") + group[1:]
            with pytest.raises(BadSheet) as caught:
                recovery.key_of(" ".join(wrong))
            assert caught.value.details == {"group": i + 1}
        swapped = [groups[1], groups[0], *groups[2:]]
        if groups[0] != groups[1]:
            with pytest.raises(BadSheet):
                recovery.key_of(" ".join(swapped))
    for text in ("", "ABC", "U" * 40, "x" * 41):
        with pytest.raises(BadSheet):
            recovery.key_of(text)


def test_identity_is_sealed_to_farm_and_key(server: Any, phone: Any) -> None:
    key, new = recovery.load_key(server.folder)
    assert new
    assert recovery.load_key(server.folder) == (key, False)
    files = recovery.secrets_of(server.folder)
    sealed = recovery.seal(key, "f1", files)
    assert recovery.unseal(key, sealed) == files
    assert server.log.identity.master.hex().encode() not in sealed
    said = json.loads(sealed)
    with pytest.raises(BadSheet):
        recovery.unseal(key, json.dumps({**said, "farm": "f2"}).encode())
    assert oct((server.folder / recovery.FILE).stat().st_mode & 0o777) == "0o600"


def test_sheet_is_one_page_with_every_group(tmp_path: Path) -> None:
    import pypdfium2

    key = bytes(range(20))
    path = sheet.write(tmp_path, key, "Alder Hollow & Söhne", "7K3Q")
    document = pypdfium2.PdfDocument(path)
    assert len(document) == 1
    page = document[0].get_textpage()
    said = page.get_text_range()
    assert all(group in said for group in recovery.groups_of(key))
    assert "Alder Hollow & Söhne" in said
    page.close()
    document.close()
    assert oct(path.stat().st_mode & 0o777) == "0o600"


def test_partitions_of_one_drive_are_one_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    device = os.stat(tmp_path).st_dev
    number = f"{os.major(device)}:{os.minor(device)}"
    mounts = tmp_path / "mountinfo"
    monkeypatch.setattr(disks, "MOUNTS", mounts)
    mounts.write_text(f"36 35 {number} / / rw - tmpfs tmpfs rw\n")
    assert disks.disk_of(tmp_path) is None  # gone with the power
    mounts.write_text(f"36 35 {number} / / rw - nfs4 box:/share rw\n")
    found = disks.disk_of(tmp_path)
    assert found is not None
    assert found.startswith("nfs4:" if os.major(device) == 0 else "disk:")
    assert not disks.elsewhere(tmp_path, tmp_path, True)
    assert not disks.elsewhere(tmp_path, None, True)
    assert disks.elsewhere(tmp_path, None, False)
    assert disks.disk_of(tmp_path / "nowhere") is None
    blocks = tmp_path / "block"
    drive = tmp_path / "devices" / "sda"
    for part in ("sda1", "sda2"):
        (drive / part).mkdir(parents=True)
        (drive / part / "partition").touch()
    blocks.mkdir()
    (blocks / "8:1").symlink_to(drive / "sda1")
    (blocks / "8:2").symlink_to(drive / "sda2")
    monkeypatch.setattr(disks, "BLOCKS", blocks)
    assert disks._drive("8:1") == disks._drive("8:2") == "sda"


def test_claim_goes_to_one_process(server: Any) -> None:
    now = int(time.time() * 1000)
    with server.log.store.writing():
        assert server.log.store.claim_backup(now, 1_000)
    with server.log.store.writing():
        assert not server.log.store.claim_backup(now + 999, 1_000)
        assert server.log.store.claim_backup(now + 1_000, 1_000)
