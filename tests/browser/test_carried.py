"""Records carried by hand, from a phone that never reaches the farm's computer again."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import expect

from .conftest import NewHands, NewPhone
from .harness import ApiDevice, FarmServer
from .harness_farm import Hands
from .harness_words import saying, within, words

pytestmark = pytest.mark.browser


def write_note(hands: Hands, batch: str, text: str) -> None:
    hands.phone.go(f"act/note.written/{batch}")
    hands.fill("text", text)
    hands.touch("form.save")
    hands.said("act.saved")


def make_file(hands: Hands, path: Path) -> None:
    hands.phone.go("settings")
    with hands.page.expect_download() as download:
        hands.touch("carry.write")
    assert re.fullmatch(r"bagtrail-\w+-\w+-\d{8}-\d{4}\.jsonl", download.value.suggested_filename)
    download.value.save_as(path)
    expect(
        hands.page.get_by_role("status").filter(has_text=within("carry.written"))
    ).to_be_visible()


def take_in(hands: Hands, path: Path) -> None:
    hands.phone.go("settings")
    hands.page.get_by_label(words("carry.read")).set_input_files(path)


def test_P8_a_phone_that_never_comes_back_is_carried_in_by_another(
    server: FarmServer, new_hands: NewHands, tmp_path: Path
) -> None:
    far, near = new_hands("far"), new_hands("near")
    far.mix_and_fill(3, 2_400, "60")
    far.touch("fill.to_batch")
    far.page.wait_for_url(re.compile(r"#/batch/M\w{8}$"))
    far.phone.all_sent()
    far.phone.shell_ready()
    batch = far.page.url[-9:]
    before = server.log_texts()
    server.kill()

    for text in ("one", "two", "three"):
        write_note(far, batch, text)
    expect(far.page.locator(".status-unsent")).to_contain_text("3")
    carried = tmp_path / "carried.jsonl"
    make_file(far, carried)
    # What waited waits on: the file takes nothing away, also after the app was opened again.
    far.page.reload()
    far.phone.up()
    expect(far.page.locator(".status-unsent")).to_contain_text("3")
    written = far.phone.outbox()[-3:]
    dev = json.loads(written[0])["dev"]
    far.phone.stop()

    server.start()
    # A torn copy first: what is whole of it is taken, and the rest is missed aloud.
    torn = tmp_path / "torn.jsonl"
    torn.write_bytes(b"\n".join(carried.read_bytes().splitlines()[:-3]))
    take_in(near, torn)
    expect(near.page.get_by_text(within("carry.torn"))).to_be_visible()
    take_in(near, carried)
    expect(near.page.locator("[data-standing]")).to_have_text(
        re.compile(r"0 waiting to be sent, 3 arrived"), timeout=60_000
    )
    new = [text for text in server.log_texts() if text not in before]
    notes = [text for text in new if json.loads(text)["ty"] == "note.written"]
    assert sorted(notes) == sorted(written)
    assert server.held() == []
    # Once more: all known, nothing doubled.
    take_in(near, carried)
    expect(near.page.get_by_text(saying("carry.taken"))).to_contain_text("0 records taken in")
    near.phone.go("records")
    assert len([r for r in server.log() if r["ty"] == "note.written"]) == 3

    # Its key is taken back; what it still writes is carried all the same, held, and told.
    owner = ApiDevice(server.url, server.pair_code(), "Owner")
    owner.post("devices/revoke", {"dev": dev, "why": "lost"})
    server.kill()
    far.phone.start()
    far.phone.open("")
    far.phone.up()
    write_note(far, batch, "four")
    make_file(far, carried)
    far.phone.stop()
    server.start()
    take_in(near, carried)
    expect(near.page.locator("[data-standing]")).to_have_text(
        re.compile(r"3 arrived.* 1 held"), timeout=60_000
    )
    expect(near.page.get_by_text(within("carry.held"))).to_be_visible()
    near.phone.go("answers")
    expect(near.handle("held.admit")).to_be_visible()


def test_P4_C3_a_farm_begun_anew_takes_an_old_farms_file_as_held_and_lets_it_count_in_one_touch(
    server: FarmServer, new_hands: NewHands, new_phone: NewPhone, tmp_path: Path
) -> None:
    """The old farm's computer is gone, with its backups and its sheet; one phone holds its work."""
    far = new_hands("far")
    far.mix_and_fill(3, 2_400, "60")
    far.touch("fill.to_batch")
    far.page.wait_for_url(re.compile(r"#/batch/M\w{8}$"))
    batch = far.page.url[-9:]
    far.phone.all_sent()
    far.phone.shell_ready()
    server.kill()
    write_note(far, batch, "unsent")
    shutil.rmtree(server.data)
    server.start()  # an empty folder: a new farm, under another secret
    carried = tmp_path / "old.jsonl"
    make_file(far, carried)
    written = far.phone.outbox()
    assert len(written) >= 3
    far.phone.stop()

    boss = new_hands("boss")
    phone = new_phone("hand")
    phone.pair(server.pair_code("worker"), "hand")
    hand = Hands(phone, tmp_path / "hand")
    before = server.log_texts()
    # A worker's device says who can, and takes nothing; the owner's asks whether it is wanted.
    take_in(hand, carried)
    expect(hand.page.get_by_text(words("carry.file_other_farm.todo"))).to_be_visible()
    take_in(boss, carried)
    expect(boss.page.get_by_text(words("carry.old_farm.todo"))).to_be_visible()
    boss.touch("carry.old_farm.leave")
    expect(boss.page.get_by_text(words("carry.old_farm.todo"))).to_be_hidden()
    assert server.log_texts() == before
    take_in(boss, carried)
    boss.touch("carry.old_farm.take")
    n = len(written)
    expect(boss.page.locator("[data-standing]")).to_have_text(
        re.compile(rf"0 waiting to be sent.* {n} held"), timeout=60_000
    )
    assert sorted(text for text in server.log_texts() if text not in before) == sorted(written)

    # Nothing of it counts by itself. The desk shows them, each and all; they count at one touch,
    # and the batch is there again.
    assert "0 of 0 live" in server.cli("find", batch)
    boss.phone.go("answers")
    old = boss.page.locator("[data-old-farm]")
    expect(old).to_contain_text(f"{n} records of another farm", timeout=60_000)
    expect(boss.page.locator("[data-held=foreign]")).to_have_count(n)
    boss.touch("old_farm.admit")
    expect(old).to_be_hidden(timeout=60_000)
    expect(boss.page.locator("[data-held]")).to_have_count(0)
    assert "3 of 3 live" in server.cli("find", batch)
    boss.phone.go(f"batch/{batch}")
    expect(boss.page.locator("main")).to_contain_text(re.compile(r"3\s*of 3 bags"))
    boss.phone.go("records")
    expect(boss.page.get_by_text("unsent").first).to_be_visible()
    # Once more: everything is known, nothing is doubled.
    take_in(boss, carried)
    boss.touch("carry.old_farm.take")
    expect(boss.page.get_by_text(saying("carry.taken"))).to_contain_text("0 records taken in")
    assert len([t for t in server.log_texts() if t in written]) == n

    # The old phone, whose unsent record lies in a file now, may leave the old farm for the new one.
    far.phone.start()
    far.phone.open("people")
    far.phone.up()
    out = far.page.locator("[data-part=signout]")
    out.get_by_role("button", name=words("people.signout")).click()
    out.get_by_role("button", name=words("people.signout.yes")).click()
    expect(far.page.get_by_label(words("pair.code"))).to_be_visible()
    far.phone.pair(server.pair_code("worker"), "far")
    far.phone.all_sent()
    assert far.phone.outbox() == []
    far.phone.go(f"batch/{batch}")
    expect(far.page.locator("main")).to_contain_text(re.compile(r"3\s*of 3 bags"))
    far.phone.go("settings")
    with far.page.expect_download() as download:
        far.handle("carry.write_left").click()
    kept = download.value.path().read_text(encoding="utf-8").splitlines()
    assert [json.loads(line)[0] for line in kept[1:-1]] == written


def test_a_wrong_file_is_told_and_changes_nothing(
    server: FarmServer, new_hands: NewHands, tmp_path: Path
) -> None:
    hands = new_hands()
    hands.phone.all_sent()
    wrong = tmp_path / "list.csv"
    wrong.write_text("code,number\n", encoding="utf-8")
    before = server.log_texts()
    take_in(hands, wrong)
    expect(hands.page.get_by_text(words("carry.file_not_ours"))).to_be_visible()
    expect(hands.page.get_by_text(words("carry.file_not_ours.todo"))).to_be_visible()
    expect(hands.page.locator("[data-standing]")).to_have_count(0)
    assert server.log_texts() == before
