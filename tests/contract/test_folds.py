"""Every vector of fixtures/folds: in any order, repeated, watched or stored, the same state."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest

from bagtrail import rules
from bagtrail.fold import Farm
from bagtrail.line import Line

from . import vectors as v

CASES = v.fold_cases()
params = pytest.mark.parametrize("case", [pytest.param(c, id=name) for name, c in CASES])


def written(farm: Farm) -> str:
    """Return all rows as text, to compare to the byte."""
    return json.dumps(list(farm.rows()), sort_keys=True)


def orders(lines: list[Line]) -> dict[str, list[Line]]:
    shuffled = list(lines)
    random.Random(len(lines)).shuffle(shuffled)
    return {
        "reversed": lines[::-1],
        "shuffled": shuffled,
        "doubled": lines + lines,
        "doubled, second time first to last": lines[::-1] + lines,
    }


@params
def test_state_is_what_the_design_says(case: dict[str, Any]) -> None:
    farm = v.farm_of(case, v.lines(case))
    wrong = []
    for unit, expected in case["state"].items():
        if expected == v.ABSENT:
            wrong += [f"{unit}: is there"] if unit in farm.units() else []
        else:
            wrong += v.differences(expected, farm.unit(unit), unit)
    for unit, expected in case.get("summary", {}).items():
        wrong += v.differences(expected, rules.summary(farm.unit(unit)), f"summary of {unit}")
    for code, expected in case.get("history", {}).items():
        found = [line["id"] for line in farm.history(code)]
        wrong += v.differences(expected, found, f"history of {code}")
    assert not wrong, "\n".join(wrong)


@params
def test_order_of_arrival_and_repeats_change_nothing(case: dict[str, Any]) -> None:
    lines = v.lines(case)
    first = written(v.farm_of(case, lines))
    for name, some in orders(lines).items():
        assert written(v.farm_of(case, some)) == first, name


@params
def test_reading_between_records_changes_nothing(case: dict[str, Any]) -> None:
    lines = v.lines(case)
    first = written(v.farm_of(case, lines))
    for name, some in {"as written": lines, **orders(lines)}.items():
        farm = v.farm_of(case, [])
        for line in some:
            farm.add(line)
            written(farm)
        assert written(farm) == first, name


@params
def test_stored_rows_carry_on_where_they_were(case: dict[str, Any]) -> None:
    """The first records come from stored rows, the others afterwards: cut at every place."""
    lines = v.lines(case)
    first = written(v.farm_of(case, lines))
    for cut in range(1, len(lines)):
        farm = v.farm_of(case, [])
        for row in json.loads(json.dumps(list(v.farm_of(case, lines[:cut]).rows()))):
            farm.load_row(row)
        for line in lines[cut:]:
            farm.add(line)
        assert written(farm) == first, f"stored after {cut}"
