"""The time a record counts with: decided once, at ingestion, and never refused."""

from __future__ import annotations

import json
from typing import Any

import pytest

from bagtrail import receipts

NOW = 1_764_072_000_000
MINUTE, DAY = 60_000, 86_400_000
CASES = [
    ("now", 0, "sync", 0, []),
    ("two minutes ahead is believed", 2 * MINUTE, "sync", 2 * MINUTE, []),
    ("later than that is not", 2 * MINUTE + 1, "sync", 0, ["clk"]),
    ("a year ahead is not", 365 * DAY, "sync", 0, ["clk"]),
    ("400 days in a drawer are believed", -400 * DAY, "stale", -400 * DAY, []),
    ("more is not", -400 * DAY - 1, "stale", 0, ["clk"]),
    ("1970", -NOW, "sync", 0, ["clk"]),
]


@pytest.mark.parametrize(("why", "at", "quality", "eff", "flags"), CASES, ids=[c[0] for c in CASES])
def test_time_is_believed_within_its_bounds(
    phone: Any, why: str, at: int, quality: str, eff: int, flags: list[str]
) -> None:
    record = phone.record("note.written", [phone.by], {"text": why}, at=NOW + at)
    record["cl"]["q"] = quality
    receipt = json.loads(phone.accept(record)["r"][0][3])
    assert receipt["t"] == NOW + eff
    assert receipt["f"].split() == flags
    assert receipt["q"] == quality


def test_phone_that_never_met_a_clock_is_corrected_by_this_request(phone: Any) -> None:
    """It runs an hour slow: written at 11:00 by it, sent at 11:05 by it, which is 12:00."""
    record = phone.record("note.written", [phone.by], {"text": "x"}, at=NOW - 60 * MINUTE)
    record["cl"]["q"] = "none"
    reply = phone.accept(record)
    assert json.loads(reply["r"][0][3])["f"] == ""
    slow = phone.record("note.written", [phone.by], {"text": "y"}, at=NOW - 60 * MINUTE)
    slow["cl"]["q"] = "none"
    body = phone.body(phone.sign(slow), now=NOW - 55 * MINUTE)
    from bagtrail.intake import Caller

    caller = Caller(phone.dev, 1, "owner", phone.by, "paired")
    receipt = json.loads(phone.server.log.accept(caller, body, NOW)["r"][0][3])
    assert receipt["t"] == NOW - 5 * MINUTE
    assert receipt["f"] == "skew"


def test_another_phones_record_is_not_corrected_by_the_senders_clock(
    server: Any, phone: Any
) -> None:
    from bagtrail.intake import Caller

    other = server.pair("worker", "Other")
    record = other.record("note.written", [other.by], {"text": "y"}, at=NOW - 60 * MINUTE)
    record["cl"]["q"] = "none"
    body = phone.body(other.sign(record), now=NOW - 55 * MINUTE)
    caller = Caller(phone.dev, 1, "owner", phone.by, "paired")
    receipt = json.loads(server.log.accept(caller, body, NOW)["r"][0][3])
    assert receipt["t"] == NOW - 60 * MINUTE


def test_order_within_a_phone_is_kept_when_its_clock_jumps_back(phone: Any) -> None:
    times = [0, -3 * 60 * MINUTE, 1, 400 * DAY, -5]
    records = [
        phone.record("note.written", [phone.by], {"text": str(i)}, at=NOW + at)
        for i, at in enumerate(times)
    ]
    rows = phone.accept(*reversed(records))["r"]
    effs = [json.loads(row[3])["t"] for row in reversed(rows)]
    assert effs == sorted(effs)
    assert max(effs) <= NOW + 1


def test_record_counts_after_what_its_writer_had_seen(server: Any, phone: Any) -> None:
    """A phone with a slow clock had seen a record; its answer to it sorts after it."""
    bag = phone.code("B")
    seen = phone.accept(phone.record("bag.moved", [bag], {"to": phone.code("P")}, at=NOW))
    head = seen["head"].split(".")[0]
    slow = server.pair("worker", "Slow phone")
    base = f"{seen['epoch']}.{head}"
    blind = slow.record("bag.checked", [bag], {}, at=NOW - 2 * DAY)
    late = slow.record("bag.checked", [bag], {}, at=NOW - DAY, base=base)
    effs = {row[0]: json.loads(row[3])["t"] for row in slow.accept(blind, late)["r"]}
    assert effs[late["id"]] == NOW + 1
    assert effs[blind["id"]] == NOW - 2 * DAY


def test_base_of_another_epoch_lifts_nothing(server: Any, phone: Any) -> None:
    bag = phone.code("B")
    phone.accept(phone.record("bag.checked", [bag], {}, at=NOW))
    record = phone.record(
        "bag.checked", [bag], {}, at=NOW - DAY, base=f"e{'0' * 11}.99", st="1" * 16
    )
    row = phone.accept(phone.sign(record, "1" * 16))["r"][0]
    assert json.loads(row[3])["t"] == NOW - DAY


def test_strange_clock_words_are_taken_as_none() -> None:
    assert receipts.effective(at=NOW - 5, quality="none", received=NOW, skew=None, floor=0) == (
        NOW - 5,
        [],
    )
