"""P4, P8 on a phone whose browser threw its storage away (A9): the farm gives everything back."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import expect

from .conftest import NewHands
from .harness import FarmServer, wait_until
from .harness_sync import lines_seen, notes_in
from .harness_words import words
from .test_offline import SENT_WITHIN_MS, start_batch
from .test_sync_restore import write_notes

pytestmark = pytest.mark.browser


def test_P4_P8_A9_an_evicted_phone_pairs_anew_sees_all_and_writes_to_a_stream_of_its_own(
    server: FarmServer, new_hands: NewHands, tmp_path: Path
) -> None:
    hands = new_hands("one")
    batch = start_batch(hands)
    notes = write_notes(hands, batch, "before", 3)
    hands.phone.all_sent(SENT_WITHIN_MS)
    texts = hands.phone.outbox()
    streams = {json.loads(text)["st"] for text in texts}
    hands.phone.stop()
    found = list((tmp_path / "one" / "profile").rglob("IndexedDB"))
    assert found, "the browser's storage was to be where it is thrown away"
    for folder in found:
        shutil.rmtree(folder)

    hands.phone.start()
    hands.phone.open("")
    # It belongs to no farm any more, and says so; the farm's computer says that nothing is lost.
    expect(hands.page.get_by_label(words("pair.code"))).to_be_visible()
    desk = server.device()
    state = desk.get("sync/state")
    lost = [(row["name"], row["lost"], row["waiting"]) for row in state["devices"]]
    assert ("one", 0, 0) in lost
    hands.phone.pair(server.pair_code(), "one again")
    wait_until(
        lambda: len(lines_seen(hands.phone)) == len(server.log_texts()), "it sees all again", 60
    )
    notes |= write_notes(hands, batch, "after", 2)
    hands.phone.all_sent(SENT_WITHIN_MS)
    assert notes_in(server) == sorted(notes)
    assert set(texts) <= set(server.log_texts())
    again = {json.loads(text)["st"] for text in hands.phone.outbox()}
    assert again
    assert not again & streams, "numbers of the old stream were used again"
