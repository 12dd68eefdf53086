"""Folded state: a consequence of the log, whatever was cached, whoever else writes."""

from __future__ import annotations

import random
from typing import Any

import pytest

from bagtrail import live as live_module
from bagtrail.live import dumps

BOTH_STORES = True


def state(server: Any) -> dict[str, str]:
    with server.log.live.now() as farm:
        return {row["unit"]: dumps(row) for row in farm.rows()}


def busy_day(phone: Any, rng: random.Random) -> None:
    """Batches, splits, moves, spoiled bags, harvests, a void and records that are held."""
    place = phone.code("P")
    phone.push(phone.record("place.named", [place], {"name": "Rack 1", "type": "rack"}))
    for _ in range(3):
        batch, bags = phone.batch(12, 6)
        acts = [
            phone.record("bag.moved", [batch], {"to": place}),
            phone.record("bag.inoculated", [place], {}),
            phone.record("bag.contaminated", [bags[0]], {"sign": "green_mould", "where": "top",
                                                         "kept": "thrown_out"}),
            phone.record("bag.harvested", [bags[1]], {"g": 400, "of": [[batch, ""]], "flush": 1}),
            phone.record("bag.harvested", [bags[2]], {"g": -5, "of": [[batch, ""]], "flush": 1}),
            phone.record("bag.sung_to", [bags[3]], {}),
        ]  # fmt: skip
        acts.append(phone.record("record.voided", [bags[1]], {"target": acts[3]["id"]}))
        rng.shuffle(acts)
        phone.push(*acts)


def test_refold_is_equal_to_the_byte(server: Any, phone: Any) -> None:
    busy_day(phone, random.Random(5))
    before = state(server)
    count, differ = server.log.live.refold()
    assert differ == []
    with server.log.store.reading():
        assert count == server.log.store.top().pos
    assert state(server) == before


def test_refold_tells_when_state_was_not_what_the_log_says(server: Any, phone: Any) -> None:
    batch, _ = phone.batch(3)
    with server.log.live.now() as farm:
        farm.unit(batch)["name"] = "tampered"
    assert server.log.live.refold()[1] == [batch]
    assert server.log.live.refold()[1] == []


@pytest.mark.parametrize("cut", [0, 1, 5, 17])
def test_cached_state_plus_tail_equals_the_log_folded(server: Any, phone: Any, cut: int) -> None:
    busy_day(phone, random.Random(cut))
    server.restart()
    assert server.log.live._saved > 0
    for _ in range(cut):
        phone.push(phone.record("note.written", [phone.by], {"text": "tail"}))
    server.log.live.save()
    server.restart()
    assert server.log.live._saved == server.log.live.pos
    cached = state(server)
    with server.log.store.writing():
        server.log.store.drop_snapshot()
    server.open()
    assert state(server) == cached


def test_cache_is_not_used_after_the_fold_changed(
    server: Any, phone: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    busy_day(phone, random.Random(1))
    right = state(server)
    server.log.close()
    with server.log.store.writing():
        unit, text = next(iter(server.log.store.snapshot_rows()))
        tampered = text.replace("25 Nov A1", "26 Nov A1")
        assert tampered != text
        server.log.store.put_snapshot([(unit, tampered)], 1)
    server.open()
    assert state(server) != right
    monkeypatch.setattr(live_module, "fold_mark", lambda: "another fold")
    server.open()
    assert state(server) == right


def test_damaged_cache_is_thrown_away(server: Any, phone: Any) -> None:
    busy_day(phone, random.Random(2))
    right = state(server)
    server.log.close()
    with server.log.store.writing():
        server.log.store.put_snapshot([("farm", '{"unit":"farm"')], 1)
    server.open()
    assert state(server) == right


def test_another_process_is_caught_up_with(server: Any, phone: Any) -> None:
    from bagtrail import open_log, settings

    given = {"BAGTRAIL_DATA": str(server.folder), "BAGTRAIL_DATABASE": server.database}
    second = open_log(settings.load(given))
    batch, _ = phone.batch(4)
    with second.live.now() as farm:
        assert batch in farm.units()
    second.write("note.written", [phone.by], {"text": "from the other one"})
    with server.log.live.now() as farm:
        assert server.log.live.pos == second.store.top().pos
    second.live.catch_up()
    second.live.save()
    server.log.live.save()
    server.open()
    assert state(server) == {row["unit"]: dumps(row) for row in second.live.farm.rows()}


def test_start_from_cache_folds_no_record_again(
    server: Any, phone: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """2,000 bags: what makes a start quick. How quick it is, tests/bench measures."""
    for _ in range(10):
        phone.batch(200, 200)
    server.log.close()
    folded: list[Any] = []
    real = live_module.line_of_row
    monkeypatch.setattr(live_module, "line_of_row", lambda row: folded.append(row) or real(row))
    server.open()
    with server.log.live.now() as farm:
        assert len(list(farm.rows())) >= 10
    assert folded == []
    # The same without its cache: every record.
    monkeypatch.setattr(live_module, "fold_mark", lambda: "another fold")
    server.restart()
    assert len(folded) == server.log.live.pos > 20
