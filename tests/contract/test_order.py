"""The one order of records; client twin: core/order.vectors.test.ts."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bagtrail.order import key_of, stated_time

from . import vectors as v


def cases(name: str) -> list[Any]:
    return [pytest.param(c, id=c["why"]) for c in v.load(f"order/{name}.json")["cases"]]


@pytest.mark.parametrize("case", cases("keys"))
def test_key(case: dict[str, Any]) -> None:
    assert key_of(case["line"]) == case["key"]


@pytest.mark.parametrize("case", cases("sorted"))
def test_sorted(case: dict[str, Any]) -> None:
    assert sorted(reversed(case["lines"]), key=key_of) == case["lines"]
    assert all(key_of(a) < key_of(b) for a, b in pairwise(case["lines"]))


@pytest.mark.parametrize("case", cases("stated"))
def test_stated_time(case: dict[str, Any]) -> None:
    assert stated_time(case["on"], case["eff"]) == case["t"]


times = st.integers(0, 9_999_999_999_999)
lines = st.fixed_dictionaries({
    "t": times, "e": times, "st": st.text("0123456789abcdef", min_size=16, max_size=16),
    "sq": st.integers(1, 9_999_999_999), "id": st.uuids().map(str),
})  # fmt: skip


@given(lines, lines)
def test_the_text_sorts_as_the_tuple(a: dict[str, Any], b: dict[str, Any]) -> None:
    def tuple_of(line: dict[str, Any]) -> tuple[Any, ...]:
        return (line["t"], line["e"], line["st"], line["sq"], line["id"])

    assert (key_of(a) < key_of(b)) is (tuple_of(a) < tuple_of(b))
