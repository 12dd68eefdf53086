"""P2, P5, P7: a phone that was away for 400 days, and records older than can be believed (C4)."""

from __future__ import annotations

from typing import Any

import pytest

BOTH_STORES = True

NOW = 1_764_072_000_000
DAY = 86_400_000


def test_P5_C4_400_days_offline_all_is_kept_and_nothing_rises_from_the_dead(
    server: Any, phone: Any, outcome: Any
) -> None:
    away = server.pair("worker", "In the drawer")
    batch, bags = phone.batch(n=30, labels=30)
    shelf = phone.code("P")
    assert outcome(phone.push(phone.record("place.named", [shelf], {"name": "S", "type": "shelf"})))
    first = away.pull(nonce="n").json
    old = f"{first['epoch']}.{first['to']}.{first['h']}"
    # It writes 300 records in its first days away: ten a bag, the last a harvest.
    records = []
    for i, bag in enumerate(bags):
        records += [
            away.record("bag.moved", [bag], {"to": shelf}, at=NOW + DAY + i * 1_000 + n)
            for n in range(9)
        ]
        of = {"g": 100, "of": [[batch, ""]], "flush": 1}
        records.append(away.record("bag.harvested", [bag], of, at=NOW + 2 * DAY + i))
    # Meanwhile the farm ends all of these bags, and goes on for more than a year.
    ends = [
        phone.record("bag.finished", [bag], {"cause": "spent"}, at=NOW + 10 * DAY) for bag in bags
    ]
    phone.accept(*ends, now=NOW + 10 * DAY)
    for month in range(2, 14):
        note = phone.record("note.written", [batch], {"text": "x"}, at=NOW + month * 30 * DAY)
        phone.accept(note, now=NOW + month * 30 * DAY)

    late = NOW + 400 * DAY
    for start in range(0, 300, 100):
        assert outcome(away.accept(*records[start : start + 100], now=late)) == ["ok"] * 100
    # Once more: its answer was lost on the way.
    assert outcome(away.accept(*records[:100], now=late)) == ["dup"] * 100
    stored = [text for text, _ in map(away.sign, records)]
    with server.log.store.reading():
        texts = [row.text for row in server.log.store.after(0, 1_000)]
    assert set(stored) <= set(texts)
    assert len(texts) == len(set(texts))
    with server.log.live.now() as farm:
        parts = farm.unit(batch)["parts"]
        assert {parts[bag]["end"] for bag in bags} == {"spent"}, "a bag rose from the dead"
        assert {parts[bag]["ended"] for bag in bags} == {NOW + 10 * DAY}
        assert sum(parts[bag]["g"] for bag in bags) == 3_000, "what was picked counts, and once"
    # And its cursor of 400 days ago is still good: every row behind it, none twice.
    cursor, seen = old, []
    while True:
        page = away.pull(cursor, nonce="n").json
        seen += [row[4] for row in page["records"]]
        cursor = f"{page['epoch']}.{page['to']}.{page['h']}"
        if not page["more"]:
            break
    assert seen == list(range(first["to"] + 1, len(texts) + 1))


@pytest.mark.parametrize("days", [401, 4_000])
def test_P5_B9_older_than_can_be_believed_is_kept_and_flagged(
    phone: Any, outcome: Any, days: int
) -> None:
    record = phone.record("note.written", [phone.by], {"text": "x"}, at=NOW - days * DAY)
    reply = phone.accept(record, now=NOW)
    assert outcome(reply) == ["ok"]
    assert '"f":"clk"' in reply["r"][0][3]
