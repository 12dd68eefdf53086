"""Loads in the server's answers: what stood in each, how it went, and the vessel's own record."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from bagtrail.answers import load as answers

VECTORS = json.loads(
    (Path(__file__).parents[2] / "fixtures/loads/own_record.json").read_text(encoding="utf-8")
)["cases"]


@pytest.mark.parametrize("case", VECTORS, ids=[c["name"] for c in VECTORS])
def test_the_own_record_of_a_vessel(case: dict[str, Any]) -> None:
    bags = {code: [(n, bad) for n, bad in parts] for code, parts in case["bags"].items()}
    assert answers.own_record(case["like"], case["loads"], bags) == case["own"]


def test_a_load_of_two_batches_is_answered(server: Any, phone: Any) -> None:
    one, two, load, bags = phone.code("M"), phone.code("M"), phone.code("H"), [phone.code("B")]
    pot = phone.record("vessel.named", ["vessel-00000000-0000-7000-8000-000000000005"],
                       {"name": "Big pot", "way": "atmospheric"})  # fmt: skip
    filled = phone.record("bag.filled", [one], {"n": 40, "to": bags, "first": "A1"})
    other = phone.record("bag.filled", [two], {"n": 6})
    burst = phone.record("group.split", [f"g-{filled['id']}"], {"n": 2})
    run = {"result": "passed", "pot": pot["sub"][0], "way": "atmospheric"}
    phone.push(
        pot, filled, other,
        phone.record("load.filled", [load, one], {}),
        phone.record("load.filled", [load, f"g-{other['id']}"], {}),
        phone.record("load.ran", [load], run),
        burst, phone.record("bag.finished", [f"g-{burst['id']}"], {"cause": "burst"}),
        phone.record("bag.contaminated", bags,
                     {"sign": "green_mould", "where": "side", "kept": "kept_apart"}),
    )  # fmt: skip
    answer = phone.get(f"/api/answers/load/{load}").json
    assert answer["load"]["result"] == "passed"
    sums = {b["code"]: (b["n"], b["live"], b["bad"], b["burst"]) for b in answer["batches"]}
    assert sums == {one: (40, 38, 1, 2), two: (6, 6, 0, 0)}
    assert answer["own"] == {"loads": 1, "bags": 46, "bad": 1}
    assert phone.get(f"/api/answers/part/{bags[0]}").json["part"]["gate"] == "passed"


def test_open_loads_come_first(phone: Any) -> None:
    old, new, open_ = (phone.code("H") for _ in range(3))
    phone.push(
        phone.record("load.filled", [open_], {"begun": 1_000}),
        phone.record("load.ran", [old], {"result": "failed", "begun": 2_000}),
        phone.record("load.ran", [new], {"result": "passed", "begun": 3_000}),
    )
    listed = phone.get("/api/answers/loads").json["loads"]
    assert [row["code"] for row in listed] == [open_, new, old]


def test_no_load_is_no_answer(phone: Any) -> None:
    assert phone.get(f"/api/answers/load/{phone.code('H')}").status_code == 404
    assert phone.get(f"/api/answers/load/{phone.code('M')}").status_code == 422
