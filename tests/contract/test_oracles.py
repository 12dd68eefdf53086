"""Published figures (sources beside the numbers in fixtures/) and properties that are counted."""

from __future__ import annotations

import uuid
from itertools import pairwise
from typing import Any

import pytest
from stdnum import luhn

from bagtrail import ids, receipts, rules, sync

from . import vectors as v

EFFICIENCY = v.load("rules/efficiency.json")["cases"]


PRINTED = [case for case in EFFICIENCY if "printed" in case]


@pytest.mark.parametrize("case", [pytest.param(case, id=case["why"]) for case in PRINTED])
def test_efficiency_meets_the_printed_figure(case: dict[str, Any]) -> None:
    found = rules.efficiency(case["fresh"], case["dry"])
    assert found is not None
    assert abs(found - case["printed"]) <= case["within"]
    assert case["source"]


def test_every_published_row_is_there() -> None:
    """Three of BE-O1, one of BE-O2, and O4, O5, ten of O6, two of O7, O8."""
    assert len(PRINTED) == 19
    assert sum("source" in case for case in v.load("rules/dry_share.json")["cases"]) == 6  # O9


def test_efficiency_and_dry_mass_meet_in_one_bag() -> None:
    """O4 whole: a 500 g packet at 60 % and 153 g picked; O9 whole: 3.2 kg at 55 %."""
    assert rules.efficiency(153, rules.dry_share_g(1, 500, 6_000), 10_000) == 7_650
    assert rules.efficiency(1_440, rules.dry_share_g(1, 3_200, 5_500), 10_000) == 10_000


def test_at_every_place_every_wrong_symbol_is_caught() -> None:
    """At each of the eight places the 32 symbols ask for 32 different check symbols."""
    for place in range(8):
        asked = {
            luhn.calc_check_digit("B7K3Q9TW"[:place] + s + "B7K3Q9TW"[place + 1 :], ids.ALPHABET)
            for s in ids.ALPHABET
        }
        assert len(asked) == 32


def test_swapped_neighbours_that_slip_through_are_counted() -> None:
    """2 of the 992 pairs at each of the eight places: 16 of 7,936.

    Luhn doubles every other symbol's number n and folds it at 31: doubling adds n, or n + 1 from 16
    on (mod 32). Only 0 (adds 0) and Z = 31 (adds 32, which is 0) add alike, so only 0 beside Z may
    be swapped unseen.
    """
    missed = []
    pairs = [(a, b) for a in ids.ALPHABET for b in ids.ALPHABET if a != b]
    for place in range(7):
        for a, b in pairs:
            body = ("B7K3Q9TW"[:place] + a + b + "B7K3Q9TW"[place + 2 :])[:8]
            swapped = body[:place] + b + a + body[place + 2 :]
            if ids.check_symbol(body) == ids.check_symbol(swapped):
                missed.append((place, a + b))
    for a, b in pairs:  # the last symbol and the check symbol: another place makes up for it
        stem = next(s for s in ids.ALPHABET if ids.check_symbol(f"B7K{s}Q9T{a}") == b)
        if luhn.is_valid(f"B7K{stem}Q9T{b}{a}", ids.ALPHABET):
            missed.append((7, a + b))
    assert missed == [(place, pair) for place in range(8) for pair in ("0Z", "Z0")]
    assert len(missed) == 16
    assert 8 * len(pairs) == 7_936


def test_uuid7_of_rfc_9562(monkeypatch: pytest.MonkeyPatch) -> None:
    case = v.load("ids/uuid7.json")
    drawn = uuid.UUID(int=(4 << 76) | (case["rand_a"] << 64) | (2 << 62) | int(case["rand_b"]))
    monkeypatch.setattr(sync.uuid, "uuid4", lambda: drawn)
    made = sync.new_id(case["ms"])
    assert made == case["uuid"]
    assert uuid.UUID(made).version == 7
    assert uuid.UUID(made).variant == uuid.RFC_4122
    assert ids.is_record_id(made)


def test_uuid7_sorts_by_its_time() -> None:
    times = [0, 1, 1_645_557_742_000, 1_764_000_000_000, 2**48 - 1]
    made = [sync.new_id(ms) for ms in times]
    assert made == sorted(made)
    assert [uuid.UUID(one).int >> 80 for one in made] == times


def test_one_integer_keeps_the_order_of_a_hybrid_logical_clock() -> None:
    cases = v.load("order/hlc.json")["cases"]
    last = 0
    for case in cases:
        floor = max(last, case["seen"] or 0) + 1
        last, flags = receipts.effective(
            at=case["clock"], quality="sync", received=case["clock"], skew=None, floor=floor
        )
        assert last == case["time"]
        assert flags == []
        assert last >= sum(case["hlc"])
    assert all(a["time"] < b["time"] and a["hlc"] < b["hlc"] for a, b in pairwise(cases))
    assert [c["time"] for c in cases[:6]] == [sum(c["hlc"]) for c in cases[:6]]
