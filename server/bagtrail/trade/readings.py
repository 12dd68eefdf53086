"""A row of temperature readings made fit for sums: what is wrong with its times is named.

1. Newest first is turned round; single rows whose time strays are left out.
2. A clock that goes back, or restarts, ends a *run*: no line is drawn from one run to the next.
3. Of rows with one time the lowest reading stays; a run that repeats an earlier one is left out.
4. Readings no steriliser has become missing.
5. Where the next reading comes too late there is a *gap*: no line is drawn over it.

Nothing is ever bridged unless its number is passed back in `accept`: a person said so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from .findings import NOTE, WARN, Finding, Unfit

Times = npt.NDArray[np.int64]
Temps = npt.NDArray[np.float64]

# Which readings can a probe in a steriliser show, °C? Beyond them it is broken or unplugged.
LOWEST_C, HIGHEST_C = -40.0, 200.0

# How much longer than usual may an interval be? Half as long again: one lost reading makes two.
GAP = 1.5

# How many single faults are listed one by one? The rest is in their count.
LISTED = 50

# With how many jumps back are times no row any more?
MOST_JUMPS = 1_000


@dataclass(frozen=True)
class Series:
    """Readings in the order of time.

    Attributes:
        ms: int64 [n], rising within a run.
        temps: float64 [n, probes], °C; NaN is a missing reading.
        probes: their names.
        run: int64 [n], from 0; rows of one run follow each other.
        solid: bool [n - 1], whether a straight line may be drawn from each row to the next.
        usual_ms: the median interval.
        findings: everything that was found wrong, and what was done.
    """

    ms: Times
    temps: Temps
    probes: tuple[str, ...]
    run: npt.NDArray[np.int64]
    solid: npt.NDArray[np.bool_]
    usual_ms: int
    findings: tuple[Finding, ...]


def tidy(
    ms: Sequence[int] | Times,
    temps: Sequence[Sequence[float]] | Temps,
    probes: Sequence[str],
    *,
    by_hand: bool = False,
    longest_ms: int | None = None,
    accept: Iterable[int] = (),
) -> Series:
    """Put readings in order and name what is wrong with them.

    Args:
        ms: time of each row, milliseconds of any one clock.
        temps: °C, one row a time, one column a probe.
        by_hand: a table written by a person: its lines are meant, however long.
        longest_ms: the longest interval that is no gap; 1.5 times the median when left out.
        accept: numbers of gaps (their `gap` value, from 1) over which a line may be drawn.

    Raises:
        Unfit: "one_row" with fewer than two rows; "times_shuffled"; "no_temperature".

    Returns:
        Findings: "newest_first", "time_stray", "time_double", "time_conflict", "rows_repeated",
        "clock_back" and "clock_restarted" (with `run`), "reading_range", "reading_missing" (about
        a probe), "gap" (with `gap`, `from_ms`, `ms`), "gaps" (how many and how long in all).
    """
    if not probes:
        raise Unfit("no_temperature")
    at = np.asarray(ms, dtype=np.int64)
    values = np.asarray(temps, dtype=np.float64).reshape(len(at), len(probes)).copy()
    if len(at) < 2:
        raise Unfit("one_row", rows=len(at))
    findings: list[Finding] = []
    at, values = _forward(at, values, findings)
    at, values, run = _runs(at, values, findings)
    at, values, run = _doubles(at, values, run, findings)
    at, values, run = _repeats(at, values, run, findings)
    if len(at) < 2:
        raise Unfit("one_row", rows=len(at))
    _readings(values, probes, findings)

    # Column by column: every sum over a probe then runs through memory in one go.
    values = np.asfortranarray(values)
    step = np.diff(at)
    same = run[1:] == run[:-1]
    usual = int(np.median(step[same])) if same.any() else 0
    solid = same.copy()
    if not by_hand:
        limit = longest_ms if longest_ms is not None else int(GAP * usual)
        solid &= _gaps(at, same & (step > limit), set(accept), findings)
    return Series(at, values, tuple(probes), run, solid, usual, tuple(findings))


def fill_missing(series: Series) -> Series:
    """Draw lines over missing readings inside runs, where a person accepted it; says how many."""
    temps = series.temps.copy()
    filled = 0
    for run in range(int(series.run[-1]) + 1):
        rows = np.flatnonzero(series.run == run)
        for probe in range(temps.shape[1]):
            column = temps[rows, probe]
            known = np.flatnonzero(~np.isnan(column))
            if known.size < 2:
                continue
            inner = np.flatnonzero(np.isnan(column))
            inner = inner[(inner > known[0]) & (inner < known[-1])]
            at = series.ms[rows]
            temps[rows[inner], probe] = np.interp(at[inner], at[known], column[known])
            filled += inner.size
    note = Finding("reading_filled", NOTE, "", {"readings": filled})
    return replace(series, temps=temps, findings=(*series.findings, note))


def _forward(at: Times, values: Temps, findings: list[Finding]) -> tuple[Times, Temps]:
    """Turn a table round that is written newest first."""
    step = np.diff(at)
    if at[-1] < at[0] and np.count_nonzero(step < 0) > np.count_nonzero(step > 0):
        findings.append(Finding("newest_first", NOTE))
        return at[::-1], values[::-1]
    return at, values


def _runs(
    at: Times, values: Temps, findings: list[Finding]
) -> tuple[Times, Temps, npt.NDArray[np.int64]]:
    """Cut where the clock goes back; a single row that strays from its neighbours is left out."""
    back = np.flatnonzero(np.diff(at) < 0) + 1
    if back.size > MOST_JUMPS or back.size * 4 > at.size + 4:
        raise Unfit("times_shuffled", jumps=int(back.size))
    keep = np.ones(at.size, dtype=bool)
    cuts: list[int] = []
    for i in back.tolist():
        if not keep[i - 1]:
            continue
        if i + 1 < at.size and at[i + 1] > at[i - 1]:
            stray = i
        elif i >= 2 and keep[i - 2] and at[i - 2] < at[i]:
            stray = i - 1
        else:
            cuts.append(i)
            continue
        keep[stray] = False
        values_: dict[str, int | str] = {"row": stray + 1, "ms": int(at[stray])}
        _list(findings, Finding("time_stray", WARN, "", values_))
    run = np.zeros(at.size, dtype=np.int64)
    for number, i in enumerate(cuts, 1):
        run[i:] = number
        by = int(at[i - 1] - at[i])
        # An elapsed clock restarts at (nearly) the value it began with.
        code = "clock_restarted" if abs(at[i] - at[0]) <= 60_000 else "clock_back"
        _list(findings, Finding(code, WARN, "", {"row": i + 1, "by_ms": by, "run": number}))
    return at[keep], values[keep], run[keep]


def _doubles(
    at: Times, values: Temps, run: npt.NDArray[np.int64], findings: list[Finding]
) -> tuple[Times, Temps, npt.NDArray[np.int64]]:
    """One row a time: where readings differ the lowest of each probe stays, as it kills least."""
    same = (np.diff(at) == 0) & (run[1:] == run[:-1])
    if not same.any():
        return at, values, run
    first = np.flatnonzero(np.concatenate(([True], ~same)))
    with np.errstate(invalid="ignore"):
        lowest = np.fmin.reduceat(values, first, axis=0)
        highest = np.fmax.reduceat(values, first, axis=0)
    differ = np.any(lowest != highest, axis=1, where=~np.isnan(lowest))
    conflicts = int(np.count_nonzero(differ))
    left_out = int(at.size - first.size)
    if conflicts:
        row = int(first[np.flatnonzero(differ)[0]]) + 1
        values_: dict[str, int | str] = {"times": conflicts, "rows": left_out, "row": row}
        findings.append(Finding("time_conflict", WARN, "", values_))
    else:
        row = int(np.flatnonzero(same)[0]) + 2
        findings.append(Finding("time_double", WARN, "", {"rows": left_out, "row": row}))
    return at[first], lowest, run[first]


def _repeats(
    at: Times, values: Temps, run: npt.NDArray[np.int64], findings: list[Finding]
) -> tuple[Times, Temps, npt.NDArray[np.int64]]:
    """Leave out a run whose every row stands in an earlier one: a log pasted twice."""
    keep = np.ones(at.size, dtype=bool)
    for number in range(1, int(run[-1]) + 1):
        rows = np.flatnonzero(run == number)
        for earlier in range(number):
            before = np.flatnonzero((run == earlier) & keep)
            if not before.size:
                continue
            place = np.minimum(np.searchsorted(at[before], at[rows]), before.size - 1)
            match = before[place]
            if np.array_equal(at[match], at[rows]) and np.array_equal(
                values[match], values[rows], equal_nan=True
            ):
                keep[rows] = False
                said: dict[str, int | str] = {"rows": int(rows.size), "run": number}
                _list(findings, Finding("rows_repeated", WARN, "", said))
                break
    if keep.all():
        return at, values, run
    numbers = np.unique(run[keep], return_inverse=True)[1]
    return at[keep], values[keep], numbers.astype(np.int64)


def _readings(values: Temps, probes: Sequence[str], findings: list[Finding]) -> None:
    """Make impossible readings missing, in place, and count what is missing of each probe."""
    with np.errstate(invalid="ignore"):
        wrong = (values < LOWEST_C) | (values > HIGHEST_C)
    for column, name in enumerate(probes):
        off = np.flatnonzero(wrong[:, column])
        if off.size:
            said: dict[str, int | str] = {"readings": int(off.size), "row": int(off[0]) + 1}
            findings.append(Finding("reading_range", WARN, name, said))
    values[wrong] = np.nan
    for column, name in enumerate(probes):
        missing = int(np.count_nonzero(np.isnan(values[:, column])))
        if missing:
            said = {"readings": missing, "of": len(values)}
            findings.append(Finding("reading_missing", WARN, name, said))


def _gaps(
    at: Times, late: npt.NDArray[np.bool_], accept: set[int], findings: list[Finding]
) -> npt.NDArray[np.bool_]:
    """Name the gaps; True where there is none or a person accepted it."""
    rows = np.flatnonzero(late)
    step = np.diff(at)
    fine = ~late
    for number, i in enumerate(rows.tolist(), 1):
        taken = number in accept
        fine[i] = taken
        if number <= LISTED or taken:
            said: dict[str, int | str] = {
                "gap": number, "from_ms": int(at[i]), "ms": int(step[i]), "bridged": int(taken),
            }  # fmt: skip
            findings.append(Finding("gap", NOTE if taken else WARN, "", said))
    if rows.size:
        total = {"gaps": int(rows.size), "ms": int(step[rows].sum())}
        findings.append(Finding("gaps", WARN, "", {**total}))
    return fine


def _list(findings: list[Finding], finding: Finding) -> None:
    if sum(1 for f in findings if f.code == finding.code) < LISTED:
        findings.append(finding)
