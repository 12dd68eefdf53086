"""Versions of a kind: what is stored never changes, its reading does (sync.md 3.11)."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bagtrail.catalogue import KINDS, as_data
from bagtrail.catalogue.model import CHOICE, INT, TEXT, Field, Kind, add
from bagtrail.catalogue.upcast import upcast

THIRD = Kind("test.weighed", "A kind of the tests in its third version.",
    sub=("B",), subs=(1, 1),
    fields=(Field("g", INT, required=True, max=10_000), Field("note", TEXT, max=20),
            Field("when", CHOICE, required=True, choices=("filled", "cooled"))),
    version=3,
    upcasts=(
        (("name", "weight", "g"), ("fill", "when", "hot")),
        (("times", "g", 10), ("word", "when", "hot", "filled"), ("drop", "old")),
    ),
    example={"sub": ["B0000001K"], "d": {"g": 5, "when": "filled"}},
)  # fmt: skip


@pytest.fixture
def third() -> Iterator[Kind]:
    yield add(THIRD)
    del KINDS["test.weighed"]


# The client's twin reads the same vectors (tests/client/core/upcast.vectors.test.ts).
VECTORS = json.loads(
    (Path(__file__).parents[2] / "fixtures/upcast/steps.json").read_text(encoding="utf-8")
)


def test_vectors_are_of_this_kind() -> None:
    given = VECTORS["kind"]["upcasts"]
    assert given == [[list(step) for step in steps] for steps in THIRD.upcasts]


@pytest.mark.parametrize("case", [c for c in VECTORS["cases"] if "today" in c])
def test_data_walks_from_any_version_to_todays(case: dict[str, Any]) -> None:
    given = dict(case["d"])
    assert upcast(THIRD, case["version"], given) == case["today"]
    assert given == case["d"]


def test_P5_old_versions_fold_new_ones_are_held_and_texts_stay(
    server: Any, phone: Any, outcome: Any, third: Kind
) -> None:
    bag = phone.code("B")
    old = phone.sign(phone.record("test.weighed", [bag], {"weight": 12}))
    now = phone.record("test.weighed", [bag], {"g": 5, "when": "cooled"}, tv=3)
    new = phone.record("test.weighed", [bag], {"g": 5, "when": "cooled"}, tv=4)
    broken = phone.record("test.weighed", [bag], {"weight": "much"})
    assert outcome(phone.push(old, now, new, broken)) == ["ok", "ok", "held", "held"]
    with server.log.live.now() as farm:
        line = farm.index.lines[phone.push(old).json["r"][0][0]]
        assert (line["tv"], line["d"]) == (3, {"g": 120, "when": "filled"})
        assert farm.index.held(new["id"]) == "version"
        assert farm.index.held(broken["id"]) == "field:g"
    with server.log.store.reading():
        assert old[0] in {row.text for row in server.log.store.after(0)}


def test_P5_a_record_from_the_future_folds_by_itself_after_the_upgrade(
    server: Any, phone: Any, outcome: Any
) -> None:
    bag = phone.code("B")
    record = phone.record("test.weighed", [bag], {"g": 5, "when": "cooled"}, tv=3)
    assert outcome(phone.push(record)) == ["held"]
    add(THIRD)
    try:
        server.log.live.refold()
        with server.log.live.now() as farm:
            assert farm.index.held(record["id"]) is None
    finally:
        del KINDS["test.weighed"]


@pytest.mark.parametrize(
    "upcasts",
    [(), ((("name", "a", "b"),),), ((("rename", "a", "b"),), ()), ((("drop",),), ())],
    ids=["none", "too few", "no such step", "torn step"],
)
def test_registry_refuses_malformed_upcasts(upcasts: Any) -> None:
    from dataclasses import replace

    with pytest.raises(ValueError, match="upcasts|no such step"):
        add(replace(THIRD, name="test.refused", upcasts=upcasts))
    assert "test.refused" not in KINDS


def test_steps_are_told_to_the_client_where_there_are_any() -> None:
    assert as_data(THIRD)["upcasts"][0][0] == ["name", "weight", "g"]
    assert "upcasts" not in as_data(KINDS["bag.moved"])
