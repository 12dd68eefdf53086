"""P4: the farm's database is put back under real phones, and nothing they hold is lost (C3).

The server is a process that is killed; the old state is a file copied over the new one, or no file
at all. The phones are browsers with acknowledged and unsent work, and come back by themselves.
"""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from .conftest import NewHands
from .harness import ApiDevice, FarmServer, wait_until
from .harness_farm import Hands
from .harness_sync import knows
from .harness_words import words
from .test_offline import SENT_WITHIN_MS, WRITE_NOTES, start_batch

pytestmark = pytest.mark.browser


def write_notes(hands: Hands, batch: str, tab: str, n: int) -> set[str]:
    """Write n notes on the phone's own form; returns their words."""
    knows(hands.phone, batch)
    save = words("form.save")
    hands.page.evaluate(WRITE_NOTES, [f"#/act/note.written/{batch}", save, tab, n])
    return {f"{tab}-{i}" for i in range(n)}


def receipts(desk: ApiDevice) -> dict[str, Any]:
    """Return each record's text with its receipt, as the farm's computer gives them to phones."""
    page = desk.get("sync/pull", c="", limit="1000", nonce="0" * 16)
    assert not page["more"]
    return {row[0]: row[2] for row in page["records"]}


def database_files(server: FarmServer) -> list[Path]:
    found = sorted(server.data.glob("farm.db*"))
    assert found, sorted(server.data.iterdir())
    return found


@pytest.mark.parametrize("way", [pytest.param("copy", marks=pytest.mark.long), "empty"])
def test_P4_C3_restore_by_copy_or_of_nothing_brings_back_what_phones_hold(
    way: str, server: FarmServer, new_hands: NewHands, tmp_path: Path
) -> None:
    one = new_hands("one")
    batch = start_batch(one)
    two = new_hands("two")
    desk = ApiDevice(server.url, server.pair_code("owner"), "Desk")
    notes = write_notes(one, batch, "early", 3)
    one.phone.all_sent()

    server.stop()
    old = tmp_path / "old"
    old.mkdir()
    for file in database_files(server):
        shutil.copy2(file, old)
    server.start()
    notes |= write_notes(one, batch, "one", 5) | write_notes(two, batch, "two", 5)
    for hands in (one, two):
        hands.phone.all_sent(SENT_WITHIN_MS)
    acknowledged = receipts(desk)

    server.kill()
    notes |= write_notes(two, batch, "unsent", 2)
    for file in database_files(server):
        file.unlink()
    if way == "copy":
        for file in old.iterdir():
            shutil.copy2(file, server.data)
    server.start()

    def back() -> bool:
        kept = {r["d"]["text"] for r in server.log() if r["ty"] == "note.written"}
        return notes <= kept

    wait_until(back, "the notes of both phones are back", 60)
    for hands in (one, two):
        hands.phone.all_sent(SENT_WITHIN_MS)
    texts = server.log_texts()
    assert len(texts) == len(set(texts)), "a record came back twice"
    for hands in (one, two):
        assert set(hands.phone.outbox()) <= set(texts), "another text than the phone holds"
    assert server.held() == []

    # A restored log lets nobody see before the owner has confirmed, at the farm's own computer.
    server.cli("devices", "--confirm")
    now = receipts(desk)
    own = set(one.phone.outbox()) | set(two.phone.outbox())
    held = own & set(acknowledged)
    assert len(held) >= 10
    assert {t: now.get(t) for t in held} == {t: acknowledged[t] for t in held}, "another receipt"
    state = desk.get("sync/state")
    assert state["put_back"]["records"] >= 10
    assert {name for name, _ in state["put_back"]["phones"]}, state
    told = [s for s in state["sentences"] if "put back" in s]
    assert len(told) == 1
    assert f"{state['put_back']['records']} records came back" in told[0]
