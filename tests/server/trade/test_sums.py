"""The sums that phone and server make alike, held by vectors with their sources beside them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from tests.server.trade.calls import CALLS, call, within

FOLDER = Path(__file__).parents[3] / "fixtures/trade"
FILES = sorted(FOLDER.glob("sums-*.json"))
CASES = [
    pytest.param(case, id=f"{path.stem}: {case['why']}")
    for path in FILES
    for case in json.loads(path.read_text(encoding="utf-8"))["cases"]
]


@pytest.mark.parametrize("case", CASES)
def test_vector(case: dict[str, Any]) -> None:
    got = call(case["call"], case["args"])
    assert within(case["out"], got), got


def test_every_sum_has_a_vector() -> None:
    called = {param.values[0]["call"] for param in CASES}
    assert called == set(CALLS)


@pytest.mark.parametrize("number", [n for n in range(1, 18) if n not in (4, 5, 6)])
def test_every_figure_of_the_trade_page_is_there(number: int) -> None:
    """O4 to O6 are biological efficiency (fixtures/rules/efficiency.json); O18 on are elsewhere."""
    said = " ".join(param.values[0]["why"] for param in CASES)
    assert f"O{number}:" in said or f"O{number} " in said
