"""P2, P4 with copies of one phone and its clock: a cloned profile, a clock a year off (B3, B9)."""

from __future__ import annotations

import json
import time
from pathlib import Path

import pytest

from .conftest import NewHands, NewPhone
from .harness import FarmServer
from .harness_farm import Hands
from .harness_sync import clone_profile, lines_seen, notes_in, sees_all, turn_clock
from .test_offline import SENT_WITHIN_MS, start_batch
from .test_sync_restore import write_notes

pytestmark = pytest.mark.browser

HOUR_MS = 3_600_000
YEAR_MS = 365 * 24 * HOUR_MS


def test_P2_P4_B3_both_copies_of_a_cloned_profile_lose_nothing_and_part_ways(
    server: FarmServer, new_hands: NewHands, new_phone: NewPhone, tmp_path: Path
) -> None:
    one = new_hands("one")
    batch = start_batch(one)
    notes = write_notes(one, batch, "before", 3)
    one.phone.all_sent()
    one.phone.shell_ready()
    one.phone.stop()
    clone_profile(tmp_path / "one", tmp_path / "two")
    one.phone.start()
    two = Hands(new_phone("two"), tmp_path / "two")
    both = (one, two)
    for hands in both:
        hands.phone.open()
        hands.phone.up()
        hands.phone.all_sent()
    # Offline both give the same numbers of the same stream to different records.
    server.kill()
    for name, hands in zip(("one", "two"), both, strict=True):
        notes |= write_notes(hands, batch, f"{name}-offline", 3)
    server.start()
    for hands in both:
        hands.phone.now()
        hands.phone.all_sent(SENT_WITHIN_MS)
    log = server.log()
    offline = [r for r in log if "-offline" in str(r["d"].get("text"))]
    used = [(r["st"], r["sq"]) for r in offline]
    assert len(used) == 6
    assert len(set(used)) < 6, "the copies were to use the same numbers"
    # One exchange later they write to different streams, and every number is used once.
    for name, hands in zip(("one", "two"), both, strict=True):
        notes |= write_notes(hands, batch, f"{name}-after", 2)
        hands.phone.all_sent(SENT_WITHIN_MS)
    after = [r for r in server.log() if "-after" in str(r["d"].get("text"))]
    streams = {
        name: {r["st"] for r in after if r["d"]["text"].startswith(name)} for name in ("one", "two")
    }
    assert all(len(found) == 1 for found in streams.values()), streams
    assert streams["one"] != streams["two"]
    assert len({(r["st"], r["sq"]) for r in after}) == 4

    assert notes_in(server) == sorted(notes)
    texts = server.log_texts()
    assert len(texts) == len(set(texts))
    for hands in both:
        assert set(hands.phone.outbox()) <= set(texts)
        sees_all(hands.phone, texts)
    assert lines_seen(one.phone) == lines_seen(two.phone)
    assert server.held() == []


@pytest.mark.parametrize(
    "off",
    [
        pytest.param(YEAR_MS, id="a_year_fast"),
        pytest.param(-YEAR_MS, id="a_year_slow", marks=pytest.mark.long),
    ],
)
def test_P5_P8_B9_a_wrong_clock_that_jumps_is_taken_in_order_and_does_not_spread(
    off: int, server: FarmServer, new_hands: NewHands, new_phone: NewPhone, tmp_path: Path
) -> None:
    right = new_hands("right")
    batch = start_batch(right)
    right.phone.all_sent()
    # This phone has never heard the time: its clock is off from the first page on.
    phone = new_phone("wrong")
    turn_clock(phone, off)
    phone.pair(server.pair_code(), "wrong")
    wrong = Hands(phone, tmp_path / "wrong")
    phone.all_sent()
    phone.shell_ready()
    # It has nothing to send, which says nothing of what it holds: the batch must be there.
    sees_all(phone, server.log_texts())
    server.kill()
    notes = write_notes(wrong, batch, "off", 2)
    server.start()
    phone.now()
    phone.all_sent(SENT_WITHIN_MS)
    notes |= write_notes(wrong, batch, "told", 1)  # the exchange has told it the time
    phone.all_sent(SENT_WITHIN_MS)
    server.kill()
    turn_clock(phone, off + HOUR_MS)  # set by hand while records wait
    notes |= write_notes(wrong, batch, "jump", 2)
    turn_clock(phone, off - HOUR_MS)
    notes |= write_notes(wrong, batch, "back", 2)
    server.start()
    phone.now()
    phone.all_sent(SENT_WITHIN_MS)
    notes |= write_notes(right, batch, "right", 1)
    right.phone.all_sent(SENT_WITHIN_MS)
    turn_clock(phone, off)
    notes |= write_notes(wrong, batch, "healed", 1)
    phone.all_sent(SENT_WITHIN_MS)

    assert notes_in(server) == sorted(notes)
    assert server.held() == []
    desk = server.device()
    rows = desk.get("sync/pull", c="", limit="1000", nonce="0" * 16)["records"]
    now = time.time_ns() // 1_000_000
    times: dict[str, int] = {}
    by_phone: dict[str, int] = {}
    clocks: dict[str, str] = {}
    for text, _, receipt, _, _ in rows:
        record = json.loads(text)
        if record["ty"] == "note.written":
            name = record["d"]["text"]
            times[name] = json.loads(receipt)["t"]
            by_phone[name], clocks[name] = record["at"], record["cl"]["q"]
    names = ("off-0", "off-1", "told-0", "jump-0", "jump-1", "back-0", "back-1")
    own = [times[name] for name in names]
    assert own == sorted(own), "the order within the phone was lost"
    # Nobody else's order changes, and what comes after the exchange is right on both.
    assert abs(times["right-0"] - now) < 120_000
    assert abs(times["healed-0"] - now) < 120_000
    # By the phone's own reckoning, too: it was told the time, and a clock set by hand was noticed.
    assert abs(by_phone["told-0"] - now) < 120_000, "the phone goes on from its wrong clock"
    # A phone that waited long enough asks by itself, and has heard the time before it was cut off.
    assert {clocks["off-0"], clocks["off-1"]} <= {"none", "sync"}
    assert [clocks[name] for name in names[2:]] == ["sync"] + ["jump"] * 4
    assert times["told-0"] < times["right-0"] < times["healed-0"]
