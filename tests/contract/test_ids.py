"""Codes on tags, held by the vectors that the client's twin reads too."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bagtrail import ids

VECTORS: dict[str, Any] = json.loads(
    (Path(__file__).parents[2] / "fixtures/ids/codes.json").read_text(encoding="utf-8")
)


def cases(name: str) -> list[Any]:
    return [pytest.param(case, id=case.get("why", "")) for case in VECTORS[name]]


bodies = st.tuples(st.sampled_from(ids.TYPES), st.text(ids.ALPHABET, min_size=7, max_size=7)).map(
    "".join
)


@pytest.mark.parametrize("case", cases("check"))
def test_check_symbol(case: dict[str, str]) -> None:
    assert ids.check_symbol(case["body"]) == case["check"]
    assert ids.is_code(case["body"] + case["check"])


@pytest.mark.parametrize("case", cases("codes"))
def test_is_code(case: dict[str, Any]) -> None:
    assert ids.is_code(case["text"]) is case["valid"]


@pytest.mark.parametrize("case", cases("normalise"))
def test_normalise(case: dict[str, str]) -> None:
    assert ids.normalise(case["text"]) == case["out"]


@pytest.mark.parametrize("case", cases("types"))
def test_type_of(case: dict[str, str]) -> None:
    assert ids.type_of(case["text"]) == case["type"]


@pytest.mark.parametrize("case", cases("guesses"))
def test_guesses(case: dict[str, Any]) -> None:
    found = ids.guesses(case["text"], set(case["known"]).__contains__)
    assert [guess._asdict() for guess in found] == case["out"]


@given(bodies, st.data())
def test_one_wrong_symbol_is_always_caught(body: str, data: st.DataObject) -> None:
    code = body + ids.check_symbol(body)
    at = data.draw(st.integers(0, 8))
    wrong = data.draw(st.sampled_from(ids.ALPHABET.replace(code[at], "")))
    assert not ids.is_code(code[:at] + wrong + code[at + 1 :])


def test_of_all_swaps_only_the_first_and_last_symbol_side_by_side_slip_through() -> None:
    """Luhn's known gap: 0 beside Z. All pairs of neighbours, in an even and in an odd place."""
    missed = set()
    for first, second in ((a, b) for a in ids.ALPHABET for b in ids.ALPHABET if a != b):
        for stem in ("B", "B1"):
            body, swapped = (
                (stem + pair).ljust(8, "0") for pair in (first + second, second + first)
            )
            if ids.check_symbol(body) == ids.check_symbol(swapped):
                missed.add((first, second))
    assert missed == {("0", "Z"), ("Z", "0")}


@given(bodies, st.data())
def test_the_code_meant_is_among_the_guesses(body: str, data: st.DataObject) -> None:
    code = body + ids.check_symbol(body)
    at = data.draw(st.integers(0, 8))
    wrong = data.draw(st.sampled_from(ids.ALPHABET.replace(code[at], "")))
    typed = code[:at] + wrong + code[at + 1 :]
    assert ids.Guess(code, at + 1) in ids.guesses(typed)


def test_new_codes_check_and_differ() -> None:
    made = [ids.new_code("B") for _ in range(200)]
    assert all(ids.is_code(code) and ids.type_of(code) == "B" for code in made)
    assert all(a != b for a, b in pairwise(sorted(made)))
