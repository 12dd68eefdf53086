"""P4: the server is restored, replaced or rewound, and nothing a phone holds is lost (C3)."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.model import ModelPhone
from tests.simulation import Server
from tests.wires import direct

START = 1_764_072_000_000


class Farm:
    """A server with phones that fill its log before and after a moment."""

    def __init__(self, folder: Path, database: str = "") -> None:
        self.time = START
        self.folder = folder
        self.server = Server(folder / "farm", lambda: self.time, database)
        wire = direct(lambda: self.server.log, self.now)
        self.phones = [
            ModelPhone(wire, self.server.pair("owner" if not i else "worker", f"Phone {i}"), i,
                       self.now)
            for i in range(4)
        ]  # fmt: skip

    def now(self) -> int:
        self.time += 1_000
        return self.time

    def work(self, each: int) -> None:
        """Every phone writes and everyone syncs."""
        for phone in self.phones:
            for i in range(each):
                phone.write("note.written", [phone.by], {"text": f"{each}.{i}"})
            assert phone.sync()
        for phone in self.phones:
            assert phone.sync()

    def come_back(self, who: list[ModelPhone]) -> None:
        """Phones return in this order; the owner confirms when asked; everybody is brought up."""
        for phone in who:
            phone.sync()
        self.server.confirm()
        for _ in range(3):
            for phone in who:
                phone.sync()

    def check(self, who: list[ModelPhone], held: set[str]) -> None:
        """Nothing held is missing or doubled, and all see the same."""
        rows = self.server.rows()
        texts = [row.text for row in rows]
        assert held <= set(texts)
        assert len(texts) == len(set(texts))
        with self.server.log.live.now() as farm:
            from bagtrail.live import dumps

            mine = {row["unit"]: dumps(row) for row in farm.rows()}
            epochs = list(farm.index.epochs)
        by_id = {row.id: row.receipt for row in rows}
        for phone in who:
            assert phone.view(epochs) == mine
            for kept in phone.kept.values():
                assert by_id[kept.id] == kept.receipt


def held_by(phones: list[ModelPhone]) -> set[str]:
    return {kept.text for phone in phones for kept in phone.kept.values()}


def by_tool(farm: Farm) -> Callable[[], None]:
    from bagtrail import backup, restore

    row = backup.make(farm.server.log, farm.server.folder, farm.folder / "to", farm.now())
    path = Path(row["folder"]) / row["name"]
    return lambda: (restore.restore(farm.server.log, farm.server.folder, path, farm.now()), None)[1]


def by_copy(farm: Farm) -> Callable[[], None]:
    farm.server.save(farm.folder / "old.db")
    return lambda: farm.server.put_back(farm.folder / "old.db", with_side=False)


def by_silent_copy(farm: Farm) -> Callable[[], None]:
    farm.server.save(farm.folder / "old.db")
    return lambda: farm.server.put_back(farm.folder / "old.db", with_side=True)


def by_whole_folder(farm: Farm) -> Callable[[], None]:
    """The whole machine is put back: nothing beside the database knows better."""
    farm.server.log.close()
    shutil.copytree(farm.server.folder, farm.folder / "image")
    farm.server.open()

    def back() -> None:
        farm.server.log.close()
        shutil.rmtree(farm.server.folder)
        shutil.copytree(farm.folder / "image", farm.server.folder)
        farm.server.open()

    return back


def by_empty_folder(farm: Farm) -> Callable[[], None]:
    return farm.server.empty


WAYS = [by_tool, by_copy, by_silent_copy, by_whole_folder, by_empty_folder]


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0)])
@pytest.mark.parametrize("way", WAYS, ids=[w.__name__ for w in WAYS])
def test_P4_C3_restore_sqlite(tmp_path: Path, way: Any, order: tuple[int, ...]) -> None:
    farm = Farm(tmp_path)
    farm.work(20)
    back = way(farm)
    farm.work(30)
    late = farm.phones[1].write("note.written", [farm.phones[1].by], {"text": "not sent yet"})
    back()
    before = len(farm.server.rows())
    assert before < 100
    who = [farm.phones[i] for i in order]
    held = held_by(who)
    farm.come_back(who)
    assert late.text in held
    farm.check(who, held)
    # Phone 3 never came back, but the others had pulled what it sent.
    assert held_by([farm.phones[3]]) <= {row.text for row in farm.server.rows()}


def test_P8_C3_the_owner_is_told_what_came_back_and_who_is_missing(tmp_path: Path) -> None:
    from bagtrail.answers import heard

    farm = Farm(tmp_path)
    farm.work(5)
    back = by_copy(farm)
    farm.work(10)
    missing = farm.phones[3]
    missing.write("note.written", [missing.by], {"text": "waits"})
    lost = 40 - 0
    back()
    farm.come_back(farm.phones[:3])
    state = heard.state(farm.server.log)
    told = state["put_back"]
    assert told["why"] == "older"
    assert told["records"] == lost
    assert sum(n for _, n in told["phones"]) == lost
    assert told["unheard"] == [missing.dev]
    sentence = next(s for s in state["sentences"] if "put back" in s)
    assert f"{lost} records came back" in sentence
    assert "Phone 3 not heard from (last reported 0 waiting)" in sentence


def test_P4_devices_may_push_but_not_pull_until_the_owner_confirms(tmp_path: Path) -> None:
    farm = Farm(tmp_path)
    farm.work(2)
    back = by_copy(farm)
    farm.work(2)
    back()
    phone = farm.phones[2]
    written = phone.write("note.written", [phone.by], {"text": "after"})
    assert not phone.sync(rounds=3)
    assert phone.cursor == ""
    assert written.text in {row.text for row in farm.server.rows()}
    with farm.server.log.live.now() as state:
        assert state.index.held(written.id) is None  # its role was known: it counts
    farm.server.confirm()
    assert phone.sync()
    assert phone.cursor


def test_P4_a_phone_revoked_after_the_backup_stays_locked_out(tmp_path: Path) -> None:
    """The side file knows of the theft, the database put back does not (design 7.12)."""
    from bagtrail import devices

    farm = Farm(tmp_path)
    farm.work(2)
    back = by_copy(farm)
    devices.revoke(farm.server.log, farm.phones[2].dev, "stolen", farm.phones[0].by)
    back()
    farm.server.confirm()
    states = {row["dev"]: row["state"] for row in farm.server.log.devices()}
    assert states[farm.phones[2].dev] == "revoked"
    assert states[farm.phones[1].dev] == "paired"


def test_P4_a_pairing_that_was_lost_comes_back_with_another_phones_copy(tmp_path: Path) -> None:
    farm = Farm(tmp_path)
    back = by_silent_copy(farm)
    wire = direct(lambda: farm.server.log, farm.now)
    new = ModelPhone(wire, farm.server.pair("worker", "New"), 9, farm.now)
    farm.phones.append(new)
    farm.work(3)
    back()
    assert new.dev not in {row["dev"] for row in farm.server.log.devices()}
    early = new.write("note.written", [new.by], {"text": "held until confirmed"})
    new.sync(rounds=1)
    farm.come_back(farm.phones)
    row = next(r for r in farm.server.log.devices() if r["dev"] == new.dev)
    assert (row["state"], row["role"], row["name"]) == ("paired", "worker", "New")
    with farm.server.log.live.now() as state:
        assert state.index.held(early.id) is None
    farm.check(farm.phones, held_by(farm.phones))


def test_P4_an_unknown_phones_records_are_held_then_admitted_by_confirming(tmp_path: Path) -> None:
    farm = Farm(tmp_path)
    identity = farm.server.log.identity
    dev = "d" + "5" * 16
    paired = {**farm.phones[0].paired, "dev": dev, "key": identity.device_key(dev, 1).hex()}
    wire = direct(lambda: farm.server.log, farm.now)
    stranger = ModelPhone(wire, paired, 5, farm.now)
    written = stranger.write("note.written", [stranger.by], {"text": "x"})
    assert not stranger.sync(rounds=3)
    with farm.server.log.live.now() as state:
        assert state.index.held(written.id) == "device"
    farm.server.confirm()
    assert stranger.sync()
    with farm.server.log.live.now() as state:
        assert state.index.held(written.id) is None


def test_P4_running_server_notices_a_log_put_back_under_it(tmp_path: Path) -> None:
    farm = Farm(tmp_path)
    farm.work(3)
    with farm.server.log.store.reading():
        farm.server.log.store.copy_to(farm.folder / "old.db")
    farm.work(4)
    held = held_by(farm.phones)
    farm.server.log.epochs.start(farm.now())  # the side file is ahead of the copy
    farm.server.log.store.take_from(farm.folder / "old.db")
    farm.come_back(farm.phones)
    farm.check(farm.phones, held)


def test_P8_two_servers_alive_for_one_farm_are_noticed(tmp_path: Path) -> None:
    """A copy of the folder is started beside the first; phones meet now one, now the other."""
    from bagtrail.answers import heard

    farm = Farm(tmp_path)
    farm.work(3)
    farm.server.log.close()
    shutil.copytree(farm.server.folder, tmp_path / "twin")
    farm.server.open()
    twin = Server(tmp_path / "twin", farm.now)
    one, two = farm.server, twin
    phone = farm.phones[1]
    for i in range(12):
        if phone.stopped:
            break
        farm.server = (one, two)[i % 2]
        phone.write("note.written", [phone.by], {"text": f"{i}"})
        phone.sync(rounds=6)
        farm.server.confirm()
    assert phone.two_servers
    assert all(kept.text for kept in phone.kept.values())
    said = heard.state(one.log)["sentences"] + heard.state(two.log)["sentences"]
    assert any("Two servers" in sentence for sentence in said)
    two.log.close()
    farm.server = one


def test_P4_bare_machine_with_backup_and_sheet_and_phones_carry_on_unpaired(
    tmp_path: Path,
) -> None:
    from bagtrail import backup, recovery

    farm = Farm(tmp_path)
    farm.work(5)
    row = backup.make(farm.server.log, farm.server.folder, tmp_path / "usb", farm.now())
    sheet = " ".join(recovery.groups_of(recovery.load_key(farm.server.folder)[0]))
    farm.work(5)
    held = held_by(farm.phones)
    farm.server.log.close()
    shutil.rmtree(farm.server.folder)
    command = [sys.executable, "-m", "bagtrail", "--data", str(tmp_path / "new"), "recover",
               str(tmp_path / "usb" / row["name"])]  # fmt: skip
    root = Path(__file__).resolve().parents[2]
    import os

    env = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join([str(root / "server"), str(root / "labels")]),
    }
    wrong = subprocess.run(
        [*command, "--key", sheet.replace(sheet[0], "0" if sheet[0] != "0" else "1", 1)],
        env=env, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert wrong.returncode == 1
    assert "Group 1" in wrong.stderr
    assert not (tmp_path / "new" / "identity.json").exists()
    done = subprocess.run(command, env=env, input=sheet + "\n", capture_output=True, text=True,
                          check=False)  # fmt: skip
    assert done.returncode == 0, done.stderr
    farm.server = Server(tmp_path / "new", farm.now)
    farm.come_back(farm.phones)
    farm.check(farm.phones, held)


def test_restore_keeps_what_was_there_and_refuses_another_farms_backup(tmp_path: Path) -> None:
    from bagtrail import backup, restore
    from bagtrail.errors import BadBackup
    from bagtrail.store import Store

    farm, other = Farm(tmp_path / "a"), Farm(tmp_path / "b")
    farm.work(3)
    row = backup.make(farm.server.log, farm.server.folder, tmp_path / "to", farm.now())
    farm.work(2)
    count = len(farm.server.rows())
    path = tmp_path / "to" / row["name"]
    with pytest.raises(BadBackup, match="another farm"):
        restore.restore(other.server.log, other.server.folder, path, other.now())
    done = restore.restore(farm.server.log, farm.server.folder, path, farm.now())
    kept = Store(f"sqlite:///{done['kept']}")
    with kept.reading():
        assert kept.top().pos == count
    assert len(farm.server.rows()) == row["pos"] == done["pos"]
    other.server.log.close()


def test_emptied_log_waits_for_its_phones_and_names_no_new_farm(tmp_path: Path) -> None:
    farm = Farm(tmp_path)
    farm.work(1)
    farm.server.empty()
    assert farm.server.rows() == []
    farm.come_back(farm.phones)
    names = [json.loads(row.text) for row in farm.server.rows()]
    assert len([r for r in names if r["ty"] == "farm.named"]) == 1
