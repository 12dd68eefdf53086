"""The named formulas; client twin: core/rules.vectors.test.ts. Sources stand in the vectors."""

from __future__ import annotations

from typing import Any

import pytest

from bagtrail import rules

from . import vectors as v


def cases(name: str) -> list[Any]:
    found = v.load(f"rules/{name}.json")["cases"]
    return [pytest.param(case, id=f"{i}: {case.get('why', '')}") for i, case in enumerate(found)]


@pytest.mark.parametrize("case", cases("efficiency"))
def test_efficiency(case: dict[str, Any]) -> None:
    assert rules.efficiency(case["fresh"], case["dry"], case["per_g"]) == case["be"]


@pytest.mark.parametrize("case", cases("dry_share"))
def test_dry_share(case: dict[str, Any]) -> None:
    assert rules.dry_share_g(case["bags"], case["fill_g"], case["moisture"]) == case["dry"]


@pytest.mark.parametrize("case", cases("round_half_up"))
def test_round_half_up(case: dict[str, Any]) -> None:
    assert rules.round_half_up(case["a"], case["b"]) == case["out"]


@pytest.mark.parametrize("case", cases("number_of"))
def test_number_of(case: dict[str, Any]) -> None:
    assert rules.number_of(case["first"], case["index"]) == case["out"]


@pytest.mark.parametrize("case", cases("seen"))
def test_seen(case: dict[str, Any]) -> None:
    assert rules.seen(case["writer"], case["other"], case["epochs"]) is case["out"]


@pytest.mark.parametrize("case", cases("may_correct"))
def test_may_correct(case: dict[str, Any]) -> None:
    assert rules.may_correct(case["actor"], case["target"]) is case["out"]


@pytest.mark.parametrize("case", cases("summary"))
def test_summary(case: dict[str, Any]) -> None:
    assert rules.summary(case["unit"]) == case["out"]
