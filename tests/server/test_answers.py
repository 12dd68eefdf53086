"""Questions over the state: where things are, how many, what they yielded."""

from __future__ import annotations

from typing import Any

import pytest

from bagtrail import demo


@pytest.fixture
def planted(server: Any) -> Any:
    demo.plant_once(server.log)
    return server


def test_stock_of_800_by_count_some_labelled_most_never(server: Any, phone: Any) -> None:
    batch, room, shelf = phone.code("M"), phone.code("P"), phone.code("P")
    labels = [phone.code("B") for _ in range(40)]
    birth = phone.record(
        "stock.opened", [batch], {"name": "Before", "n": 800, "stage": "spawn_run", "place": room}
    )
    group = f"g-{birth['id']}"
    split = phone.record("group.split", [group], {"to": labels, "first": "1"})
    spoiled = phone.record("group.split", [group], {"n": 30})
    child = f"g-{spoiled['id']}"
    phone.push(
        phone.record("place.named", [room], {"name": "Run room", "type": "room"}),
        phone.record("place.named", [shelf], {"name": "Shelf", "type": "shelf", "within": room}),
        birth, split, spoiled,
        phone.record("bag.contaminated", [child],
                     {"sign": "green_mould", "where": "side", "kept": "thrown_out"}),
        phone.record("bag.moved", labels[:10], {"to": shelf}),
        phone.record("bag.harvested", [batch], {"g": 9_000, "of": [[batch, ""]], "flush": 1}),
        phone.record("group.corrected", [group], {"by": -5, "why": "counted again"}),
    )  # fmt: skip
    answer = phone.get(f"/api/answers/batch/{batch}").json
    sums = answer["sums"]
    assert sums["bags"] == 795
    assert sums["live"] == 765
    assert sums["bad"] == 30
    assert sums["ends"] == {"dumped": 30}
    assert sums["bad_share"] == round(30 / 795 * 10_000)
    assert sums["flushes"] == {"1": 9_000}
    assert [(p["code"], p["n"]) for p in answer["places"]] == [(room, 755), (shelf, 10)]
    place = phone.get(f"/api/answers/place/{room}").json
    assert place["n"] == 765
    assert place["inside"] == [{"code": shelf, "name": "Shelf", "type": "shelf", "n": 10}]
    assert sum(group["n"] for group in place["standing"]) == 755
    bag = phone.get(f"/api/answers/part/{labels[3]}").json
    assert bag["part"]["num"] == "4"
    assert [step["name"] for step in bag["place"]] == ["Run room", "Shelf"]
    assert bag["history"][0]["k"] == "bag.harvested"
    assert {"bag.moved", "stock.opened"} <= {line["k"] for line in bag["history"]}


def test_find_by_code_name_strain_place_and_number(planted: Any) -> None:
    phone = planted.pair()
    names = [b["name"] for b in phone.get("/api/answers/find", q="oak").json["found"]
             if b["type"] == "batch"]  # fmt: skip
    assert set(names) == {"Oak C1", "Old oak A1", "Oak E1"}
    found = phone.get("/api/answers/find", q="shelf f1").json["found"]
    assert [b["name"] for b in found if b["type"] == "batch"] == ["Old oak A1"]
    assert [b["path"][-1]["name"] for b in found if b["type"] == "place"] == ["Shelf F1"]
    strain = phone.get("/api/answers/find", q="SALLOW").json["found"]
    assert {b["name"] for b in strain if b["type"] == "batch"} == {"Beech B1", "Beech D1"}
    bag = phone.get("/api/answers/find", q="S24").json["found"]
    assert [b["type"] for b in bag] == ["part"]
    code = bag[0]["code"]
    for typed in (
        code,
        code.lower(),
        f"{planted.log.identity.tag}.{code}",
        f"{code[:4]} {code[4:]}",
    ):
        assert phone.get("/api/answers/find", q=typed).json["found"] == bag
    assert phone.get("/api/answers/find", q="", limit=2).json["more"] == 6


def test_demo_farm_folds_whole_and_shows_every_stage(planted: Any) -> None:
    with planted.log.live.now() as farm:
        rows = {row["unit"]: row for row in farm.rows()}
    assert all(row["held"] == [] for row in rows.values())
    assert "?" not in rows
    batches = [row for unit, row in rows.items() if unit.startswith("M")]
    assert len(batches) == 8
    stages = {p["stage"] for b in batches for p in b["parts"].values() if "end" not in p}
    assert {"sterilised", "spawn_run", "fruiting"} <= stages
    assert {p["end"] for b in batches for p in b["parts"].values() if "end" in p} == {
        "burst",
        "dumped",
        "spent",
    }
    gates = {p["gate"] for b in batches for p in b["parts"].values() if "gate" in p}
    assert gates == {"open", "passed", "failed", "unsure"}
    phone = planted.pair()
    for b in batches:
        answer = phone.get(f"/api/answers/batch/{b['unit']}").json
        if answer["sums"]["g"]:
            assert 500 < answer["sums"]["be"] < 12_000, answer["name"]
    stock = next(b for b in batches if b["name"] == "Before Bagtrail")
    assert sum(p["n"] for p in stock["parts"].values()) == 796


def test_demo_farm_is_planted_once_and_only_in_an_empty_one(planted: Any) -> None:
    with planted.log.store.reading():
        pos = planted.log.store.top().pos
    assert demo.plant_once(planted.log) == 0
    with planted.log.store.reading():
        assert planted.log.store.top().pos == pos


def test_demo_farm_says_the_same_every_time(
    each_farm: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(demo, "now_ms", lambda: 1_764_072_000_000)

    def planted() -> list[str]:
        farm = each_farm()
        demo.plant_once(farm.log)
        with farm.log.store.reading():
            rows = farm.log.store.after(0, 1_000)
        own = {farm.log.identity.dev}
        owner = farm.log.live.farm.index.lines[rows[1].id]["s"][0]
        return [row.text.replace(owner, "W") for row in rows if row.dev not in own]

    first = planted()
    assert len(first) > 100
    assert planted() == first


def test_demo_farm_puts_no_carbide_into_substrate(planted: Any) -> None:
    with planted.log.store.reading():
        text = " ".join(row.text.lower() for row in planted.log.store.after(0, 1_000))
    assert "carbide" not in text
    assert "calcium carbonate" in text
