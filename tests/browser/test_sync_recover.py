"""P4: the farm's computer is gone; phones in real browsers carry on without pairing again (C3).

With the last backup and the recovery sheet a bare machine becomes the farm's server. Without either
a new farm answers at the old address: the phones give it nothing, keep everything and write on.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from playwright.sync_api import expect

from .conftest import NewHands
from .harness import FarmServer, wait_until
from .harness_sync import lines_seen, new_stream, notes_in
from .test_offline import SENT_WITHIN_MS, start_batch
from .test_sync_restore import write_notes

pytestmark = pytest.mark.browser


def test_P4_C3_bare_machine_with_backup_and_sheet_and_browsers_carry_on_unpaired(
    server: FarmServer, new_hands: NewHands, tmp_path: Path
) -> None:
    from bagtrail import recovery

    one, two = new_hands("one"), new_hands("two")
    batch = start_batch(one)
    notes = write_notes(one, batch, "early", 2)
    one.phone.all_sent()
    usb = tmp_path / "usb"
    server.cli("backup", "--to", str(usb))
    sheet = " ".join(recovery.groups_of(recovery.load_key(server.data)[0]))
    notes |= write_notes(one, batch, "one", 3) | write_notes(two, batch, "two", 3)
    for hands in (one, two):
        hands.phone.all_sent()
        hands.phone.shell_ready()
    server.kill()
    notes |= write_notes(two, batch, "unsent", 2)

    shutil.rmtree(server.data)
    backup = max((file for file in usb.iterdir() if file.is_file()), key=lambda f: f.stat().st_size)
    assert "Restored" in server.cli("recover", str(backup), "--key", sheet)
    assert len(notes_in(server)) == 2, "the backup was to be older than most of the notes"
    server.start()
    for hands in (one, two):
        hands.phone.now()
    wait_until(lambda: notes_in(server) == sorted(notes), "all notes are back, once each", 60)
    for hands in (one, two):
        hands.phone.all_sent(SENT_WITHIN_MS)
        assert set(hands.phone.outbox()) <= set(server.log_texts())
    server.cli("devices", "--confirm")
    # Neither was paired again: they write, send and see as before.
    notes |= write_notes(two, batch, "later", 1)
    two.phone.all_sent(SENT_WITHIN_MS)
    texts = server.log_texts()
    assert notes_in(server) == sorted(notes)
    assert len(texts) == len(set(texts))
    for hands in (one, two):
        hands.phone.now()
        wait_until(lambda p=hands.phone: len(lines_seen(p)) == len(texts), "it sees all", 60)
    assert server.held() == []


def test_P4_C3_one_phone_alone_brings_back_older_streams_and_what_the_other_one_wrote(
    server: FarmServer, new_hands: NewHands, tmp_path: Path
) -> None:
    """Only offers can: the server's count of a stream tells nothing of these records."""
    one, two = new_hands("one"), new_hands("two")
    batch = start_batch(one)
    two.phone.now()
    wait_until(lambda: len(lines_seen(two.phone)) == len(server.log_texts()), "two sees it", 60)
    usb = tmp_path / "usb"
    server.stop()  # files of a database are copied while nobody writes to them
    shutil.copytree(server.data, usb)
    server.start()
    of_two = write_notes(two, batch, "older", 3)
    two.phone.all_sent()
    new_stream(two.phone)
    of_two |= write_notes(two, batch, "newer", 1)
    of_one = write_notes(one, batch, "one", 3)
    for hands in (one, two):
        hands.phone.all_sent()
    two.phone.now()
    wait_until(lambda: len(lines_seen(two.phone)) == len(server.log_texts()), "two sees all", 60)
    one.phone.stop()  # and never comes back

    server.kill()
    for name in ("farm.db", "farm.db-wal", "farm.db-shm"):
        (server.data / name).unlink(missing_ok=True)
        if (usb / name).exists():
            shutil.copy2(usb / name, server.data / name)
    server.start()
    assert notes_in(server) == [], "the old state was to be older than the notes"
    two.phone.now()
    wait_until(lambda: set(notes_in(server)) >= of_two, "its own are back, of every stream", 60)
    wait_until(lambda: set(notes_in(server)) >= of_one, "and those of the phone that is gone", 60)
    two.phone.all_sent(SENT_WITHIN_MS)
    assert notes_in(server) == sorted(of_one | of_two)


def test_P4_B11_a_new_farm_at_the_old_address_gets_nothing_and_takes_nothing(
    server: FarmServer, new_hands: NewHands, tmp_path: Path
) -> None:
    hands = new_hands()
    batch = start_batch(hands)
    write_notes(hands, batch, "early", 2)
    hands.phone.all_sent()
    hands.phone.shell_ready()
    seen, kept = lines_seen(hands.phone), hands.phone.outbox()
    server.kill()
    aside = tmp_path / "aside"
    shutil.move(server.data, aside)
    server.start()  # an empty folder: another farm
    strangers = server.log_texts()
    hands.phone.now()
    write_notes(hands, batch, "meanwhile", 2)
    hands.phone.now()
    expect(hands.page.locator(".status-unsent")).to_contain_text("2")
    hands.page.wait_for_timeout(1_500)
    hands.phone.waiting(2)
    assert hands.phone.outbox()[: len(kept)] == kept
    assert len(hands.phone.outbox()) == len(kept) + 2
    assert lines_seen(hands.phone) >= seen, "the view was cleared by another farm's word"
    assert server.log_texts() == strangers

    server.kill()
    shutil.rmtree(server.data)
    shutil.move(aside, server.data)
    server.start()
    hands.phone.now()
    hands.phone.all_sent(SENT_WITHIN_MS)
    assert notes_in(server) == ["early-0", "early-1", "meanwhile-0", "meanwhile-1"]
