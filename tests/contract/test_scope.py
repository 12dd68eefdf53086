"""Which batches a device keeps as a summary only; client twin: core/scope.vectors.test.ts."""

from __future__ import annotations

from typing import Any

import pytest

from bagtrail import scope

from . import vectors as v

FILE = v.load("scope/archived.json")


@pytest.mark.parametrize("case", [pytest.param(c, id=c["why"]) for c in FILE["cases"]])
def test_C5_archived(case: dict[str, Any]) -> None:
    asks = [{"id": "count_negative", "recs": [], "sub": []}] * case["questions"]
    held = [{"id": "x", "why": "kind"}] * case["held"]
    unit = {"unit": case["unit"], "parts": case["parts"], "questions": asks, "held": held}
    lines = [{"e": e} for e in case["newest"]]
    assert scope.is_archived(unit, lines, FILE["now"]) is case["archived"]
