"""Lethality, hold time and what is done about faults in a row of readings."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bagtrail.trade import steam
from bagtrail.trade.curve import curve
from bagtrail.trade.degree_days import degree_days
from bagtrail.trade.findings import Unfit
from bagtrail.trade.hold import hold
from bagtrail.trade.lethality import hundredths, lethal_rate, lethality
from bagtrail.trade.readings import Series, fill_missing, tidy

DATA = json.loads((Path(__file__).parents[3] / "fixtures/trade/lethality.json").read_text("utf-8"))
MIN = 60_000
NAN = float("nan")


def series(minutes: Any, *probes: Any, **options: Any) -> Series:
    """A row of readings at these minutes, one list a probe."""
    ms = [round(m * MIN) for m in minutes]
    columns = np.array(probes, dtype=float).T
    return tidy(ms, columns, [f"p{i}" for i in range(len(probes))], **options)


def codes(found: Any) -> list[str]:
    return [f.code for f in found.findings]


def finding(found: Any, code: str) -> Any:
    return next(f for f in found.findings if f.code == code)


@pytest.mark.parametrize("case", DATA["rates"], ids=lambda c: f"{c['ref']} {c['source']}")
def test_rates(case: dict[str, Any]) -> None:
    found = lethal_rate(np.array(case["temp"]), case["ref"], case["z"])
    assert found == pytest.approx(np.array(case["rate"]), abs=case["within"], rel=1e-12)


@pytest.mark.parametrize("case", DATA["runs"], ids=lambda c: c["why"])
def test_runs(case: dict[str, Any]) -> None:
    found = lethality(series(case["min"], case["temp"], by_hand=True), case["ref"])
    assert found.f0 == pytest.approx(case["f0"], abs=case["within"])
    assert (found.ref_c, found.z_c) == (case["ref"], 10.0)


def test_every_published_row_is_there() -> None:
    """F0-O1 to O6 of the oracles and O20 to O24 of the trade page, each with its source."""
    said = " ".join(
        [f"{r['why']} " for r in DATA["runs"]] + [r["source"] for r in DATA["rates"]]
    ) + DATA["atmospheric"]["why"]  # fmt: skip
    # F0-O3 is a rule of summation that is not ours: its own test below.
    for row in ("F0-O1", "F0-O2", "F0-O4", "F0-O5", "F0-O6", "O20", "O21", "O22", "O23", "O24"):
        assert f"{row}" in said
    assert all(row["source"] for row in [*DATA["runs"], *DATA["rates"], DATA["atmospheric"]])
    assert len(DATA["runs"]) == 22
    assert sum(len(row["temp"]) for row in DATA["rates"]) == 34


def test_atmospheric_steaming_at_altitudes() -> None:
    case = DATA["atmospheric"]
    for m, f0 in zip(case["m"], case["f0"], strict=True):
        boils = steam.boiling_c(m)
        found = lethality(series([0, 600], [boils, boils], by_hand=True), case["ref"])
        # The page takes 100.0 and the boiling point to 0.1 K here and there.
        assert found.f0 == pytest.approx(f0, abs=0.012)
        assert "atmospheric" in codes(found)


def test_a_manuals_summation_is_another_rule_and_not_ours() -> None:
    """F0-O3 (FAO fish canning): 2.925 x 5 = 14.6; half ordinates at both ends: 1.730 x 5 = 8.6.

    Its rates are those of the formula: 0.776 at "60 min" is 120 degC.
    """
    assert 2.925 * 5 == pytest.approx(14.6, abs=0.06)
    assert (1.342 + (0.0 + float(lethal_rate(120.0, 121.1))) / 2) * 5 == pytest.approx(
        8.6, abs=0.06
    )


def test_exact_on_any_grid_where_lines_are_straight() -> None:
    """Readings each minute add corners only: what is between stays straight, the sum the same."""
    knots = DATA["ramp_knots"]
    minutes = sorted({*np.arange(0, 72.2, 0.1).round(1).tolist(), *knots["min"]})
    temps = np.interp(minutes, knots["min"], knots["temp"])
    found = lethality(series(minutes, temps, longest_ms=MIN), 121.1)
    assert found.f0 == pytest.approx(knots["exact"], abs=1e-6)
    rates = lethal_rate(temps, 121.1)
    assert np.trapezoid(rates, minutes) > found.f0  # The trapezoid on rates overstates.


readings = st.lists(st.floats(20, 140), min_size=2, max_size=20)


@given(readings, st.floats(0.5, 30))
def test_against_a_fine_sum(temps: list[float], step: float) -> None:
    minutes = np.arange(len(temps)) * step
    exact = lethality(series(minutes, temps, by_hand=True), 121.1)
    ms = np.rint(minutes * MIN) / MIN
    fine = np.linspace(0, ms[-1], 20_001)
    rough = np.trapezoid(lethal_rate(np.interp(fine, ms, temps), 121.1), fine)
    assert exact.f0 == pytest.approx(rough, rel=2e-3, abs=1e-9)


@given(readings, st.floats(0.1, 10))
def test_warmer_kills_more(temps: list[float], more: float) -> None:
    minutes = range(len(temps))
    cool = lethality(series(minutes, temps), 121.1)
    warm = lethality(series(minutes, [t + more for t in temps]), 121.1)
    assert cool.f0 is not None
    assert warm.f0 == pytest.approx(cool.f0 * 10 ** (more / 10), rel=1e-9)


@given(readings, st.integers(1, 18))
def test_parts_add_up(temps: list[float], cut: int) -> None:
    cut = min(cut, len(temps) - 1)
    whole = lethality(series(range(len(temps)), temps, by_hand=True), 121.1).f0
    parts = 0.0
    for piece in (temps[: cut + 1], temps[cut:]):
        if len(piece) > 1:
            parts += lethality(series(range(len(piece)), piece, by_hand=True), 121.1).f0 or 0.0
    assert parts == pytest.approx(whole, rel=1e-9)


def test_the_coldest_probe_counts() -> None:
    found = lethality(series([0, 30], [121.1, 121.1], [111.1, 111.1], [131.1, 131.1]), 121.1)
    assert found.runs[0].f0 == pytest.approx((30.0, 3.0, 300.0))
    assert (found.coldest, found.f0) == (1, pytest.approx(3.0))


def test_the_reference_has_no_default_and_bounds() -> None:
    one = series([0, 30], [121, 121])
    with pytest.raises(TypeError):
        lethality(one)  # type: ignore[call-arg]
    for ref, z in ((0.0, 10.0), (121.1, 0.0), (121.1, NAN), (NAN, 10.0)):
        with pytest.raises(Unfit):
            lethality(one, ref, z)


def test_other_z_values() -> None:
    """z = 10 K is 18 degF; at z 20 ten degrees below are 0.316."""
    assert lethality(series([0, 10], [111.1, 111.1]), 121.1, 20).f0 == pytest.approx(3.16227766)


def test_hundredths_are_cut() -> None:
    assert [hundredths(x) for x in (14.999, 15.0, 87.95, 0.0, 29.999999999)] == [
        1_499, 1_500, 8_795, 0, 3_000,
    ]  # fmt: skip


# --- Hold time


def test_hold_counts_from_the_coldest_probes_arrival() -> None:
    """The air is at 121 after 20 min, the core after 60: 90 min on the clock are 30 of hold."""
    found = hold(
        series([0, 20, 60, 90], [20, 121, 121, 121], [20, 40, 121, 121], by_hand=True), 121
    )
    assert found.arrived_ms == 60 * MIN
    assert found.held_ms == found.total_ms == found.longest_ms == 30 * MIN
    assert found.each_ms == (20 * MIN, 60 * MIN)


def test_hold_crosses_between_readings() -> None:
    found = hold(series([0, 21.1, 51.1, 72.2], [100, 121.1, 121.1, 100], by_hand=True), 121)
    assert found.arrived_ms == 21 * MIN
    assert found.held_ms == pytest.approx(30.2 * MIN, abs=1)


def test_a_dip_breaks_the_hold() -> None:
    found = hold(series(range(7), [121, 122, 122, 120, 122, 122, 122]), 121)
    assert found.stretches == 2
    assert found.held_ms == pytest.approx(2.5 * MIN)
    assert found.longest_ms == pytest.approx(2.5 * MIN)
    assert found.total_ms == pytest.approx(5 * MIN)
    assert codes(found) == ["hold_broken"]


def test_probes_that_take_turns_never_hold_together() -> None:
    found = hold(series([0, 10, 20], [125, 115, 115], [115, 115, 125], by_hand=True), 121)
    assert (found.arrived_ms, found.held_ms) == (None, 0)


def test_crossing_lines_hold_where_both_are_above() -> None:
    """One falls 130 to 110, one rises 110 to 130 in 20 min: 118 and more from 8 to 12 min."""
    found = hold(series([0, 20], [130, 110], [110, 130], by_hand=True), 118)
    assert (found.arrived_ms, found.held_ms) == (8 * MIN, 4 * MIN)


def test_a_gap_or_a_missing_reading_ends_the_hold() -> None:
    gap = hold(series([0, 1, 2, 3, 30, 31], [122] * 6), 121)
    assert (gap.held_ms, gap.total_ms, gap.stretches) == (3 * MIN, 4 * MIN, 2)
    missing = hold(series(range(6), [122] * 6, [122, 122, NAN, 122, 122, 122]), 121)
    assert (missing.held_ms, missing.total_ms) == (1 * MIN, 3 * MIN)


def test_touching_the_limit_is_no_hold() -> None:
    assert hold(series(range(3), [120, 121, 120]), 121).arrived_ms is None


@given(readings, st.floats(50, 130), st.floats(0.01, 20))
def test_a_higher_limit_is_held_no_longer(temps: list[float], limit: float, more: float) -> None:
    one = series(range(len(temps)), temps)
    assert hold(one, limit + more).total_ms <= hold(one, limit).total_ms + len(temps)


# --- Faults: named, never bridged silently


def test_a_gap_is_named_and_not_counted() -> None:
    found = lethality(series([*range(10), *range(40, 50)], [121.1] * 20), 121.1)
    assert found.f0 == pytest.approx(18)
    assert finding(found, "gap").values == {
        "gap": 1,
        "from_ms": 9 * MIN,
        "ms": 31 * MIN,
        "bridged": 0,
    }
    assert found.runs[0].uncounted_ms == (31 * MIN,)


def test_a_gap_that_was_accepted_counts_and_is_still_named() -> None:
    found = lethality(series([*range(10), *range(40, 50)], [121.1] * 20, accept=[1]), 121.1)
    assert found.f0 == pytest.approx(49)
    assert finding(found, "gap").level == "note"


def test_one_lost_row_is_a_gap() -> None:
    found = lethality(series([0, 1, 2, 4, 5], [121.1] * 5), 121.1)
    assert found.f0 == pytest.approx(3)
    assert "gap" in codes(found)


def test_a_missing_reading_takes_both_its_minutes() -> None:
    found = lethality(series(range(6), [121.1, 121.1, NAN, 121.1, 121.1, 121.1]), 121.1)
    assert found.f0 == pytest.approx(3)
    assert finding(found, "reading_missing").values == {"readings": 1, "of": 6}
    assert found.runs[0].uncounted_ms == (2 * MIN,)


def test_missing_readings_are_filled_only_when_asked() -> None:
    one = fill_missing(series(range(6), [121.1, 121.1, NAN, NAN, 121.1, 121.1]))
    found = lethality(one, 121.1)
    assert found.f0 == pytest.approx(5)
    assert finding(found, "reading_filled").values == {"readings": 2}


def test_readings_no_steriliser_has() -> None:
    found = lethality(series(range(6), [121.1, 121.1, 850.0, 121.1, -200.0, 121.1]), 121.1)
    assert found.f0 == pytest.approx(1)
    assert finding(found, "reading_range").values == {"readings": 2, "row": 3}


def test_a_clock_set_back_makes_a_new_run_and_runs_are_not_added() -> None:
    """At the end of summer time the logger goes back an hour in the middle of the hold."""
    minutes = [*range(100, 130), *range(70, 110)]
    found = lethality(series(minutes, [121.1] * 70), 121.1)
    assert finding(found, "clock_back").values == {"row": 31, "by_ms": 59 * MIN, "run": 1}
    assert [run.f0[0] for run in found.runs] == pytest.approx([29, 39])
    assert (found.f0, found.counted) == (pytest.approx(39), 1)
    assert "runs_not_added" in codes(found)


def test_a_logger_that_restarts() -> None:
    found = lethality(series([*range(50), *range(20)], [121.1] * 50 + [111.1] * 20), 121.1)
    assert finding(found, "clock_restarted").values["run"] == 1
    assert found.f0 == pytest.approx(49)


def test_a_log_pasted_twice_counts_once() -> None:
    temps = [100 + i for i in range(20)]
    once = lethality(series(range(20), temps), 121.1)
    twice = lethality(series([*range(20), *range(20)], temps * 2), 121.1)
    assert twice.f0 == once.f0
    assert finding(twice, "rows_repeated").values == {"rows": 20, "run": 1}
    assert len(twice.runs) == 1


def test_a_row_twice() -> None:
    found = lethality(series([0, 1, 1, 2], [121.1] * 4), 121.1)
    assert found.f0 == pytest.approx(2)
    assert finding(found, "time_double").values == {"rows": 1, "row": 3}


def test_two_readings_of_one_time_keep_the_lower() -> None:
    found = lethality(series([0, 1, 1, 2], [111.1, 121.1, 111.1, 111.1]), 121.1)
    assert found.f0 == pytest.approx(0.2)
    assert finding(found, "time_conflict").values == {"times": 1, "rows": 1, "row": 2}


def test_one_row_with_a_stray_time_is_left_out() -> None:
    back = series([0, 1, 2, 1.5, 3, 4], [121.1] * 6)
    assert finding(back, "time_stray").values["row"] == 4
    ahead = series([0, 1, 2, 900, 3, 4, 5], [121.1] * 7)
    assert finding(ahead, "time_stray").values["row"] == 4
    assert lethality(ahead, 121.1).f0 == pytest.approx(5)


def test_newest_first_is_turned_round() -> None:
    temps = [100.0 + i for i in range(30)]
    found = lethality(series(range(29, -1, -1), temps[::-1]), 121.1)
    assert found.f0 == pytest.approx(lethality(series(range(30), temps), 121.1).f0)
    assert "newest_first" in codes(found)


def test_times_without_order_are_refused() -> None:
    with pytest.raises(Unfit, match="times_shuffled"):
        series([5, 1, 4, 0, 3, 1, 5, 2, 0, 4, 1, 3], [121.1] * 12)


def test_a_silent_probe_is_named_and_is_not_the_coldest() -> None:
    found = lethality(series([0, 1, 2], [121.1] * 3, [NAN] * 3), 121.1)
    assert found.coldest == 0
    assert finding(found, "probe_silent").about == "p1"


def test_nothing_but_missing() -> None:
    found = lethality(series([0, 1, 2], [NAN] * 3), 121.1)
    assert (found.f0, found.coldest, found.highest_c) == (None, None, None)


@pytest.mark.parametrize("minutes", [[], [5]])
def test_one_row_is_no_log(minutes: list[int]) -> None:
    with pytest.raises(Unfit, match="one_row"):
        tidy([m * MIN for m in minutes], np.zeros((len(minutes), 1)), ["p"])


@given(
    st.lists(st.tuples(st.integers(0, 60), st.one_of(st.none(), st.floats(-60, 260))),
             min_size=2, max_size=40)
)  # fmt: skip
def test_any_rows_give_an_answer_or_a_named_refusal(rows: list[tuple[int, float | None]]) -> None:
    """Whatever is wrong, F0 never exceeds what the hottest reading would do all the time."""
    temps = [NAN if t is None else t for _, t in rows]
    try:
        one = series([m for m, _ in rows], temps)
    except Unfit:
        return
    found = lethality(one, 121.1)
    hold(one, 121)
    drawn = curve(one, 121.1, 10, points=20)
    assert len(drawn.joined) == len(drawn.ms) - 1
    for number in range(int(one.run[-1]) + 1):
        assert (np.diff(one.ms[one.run == number]) > 0).all()
    if found.f0 is not None and found.highest_c is not None:
        assert found.f0 <= 60 * float(lethal_rate(found.highest_c, 121.1)) * (1 + 1e-9)


def test_a_long_curve_keeps_its_peak_and_its_gap() -> None:
    temps = [100.0] * 30_000
    temps[17_003], temps[21_007] = 119.0, 60.0
    minutes = [*range(25_000), *range(26_000, 31_000)]
    drawn = curve(series(minutes, temps), 121.1, 10, points=400)
    values = [row for row in drawn.temp[0] if row is not None]
    assert len(drawn.ms) <= 450
    assert (max(values), min(values)) == (11_900, 6_000)
    assert drawn.joined.count(False) == 1


# --- Warmth over days


def test_degree_days() -> None:
    """O18, an enoki factory's three regimes."""
    assert degree_days([(1_600, 6), (1_400, 16)]) == 32_000
    assert degree_days([(1_500, 6), (1_300, 17)]) == 31_100
    assert degree_days([(1_700, 6), (1_500, 14)]) == 31_200
    assert degree_days([(1_600, 6), (300, 9)], base=400) == 7_200


def test_a_cycle_in_days() -> None:
    """O19: 21 d of run, 28 of browning, 38 of three breaks; at 1 degC a day counts one."""
    assert degree_days([(100, 21), (100, 28), (100, 38)]) == 8_700
