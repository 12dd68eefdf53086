"""Hold time: from when the coldest probe arrives at the limit, not from switch-on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .findings import WARN, Finding
from .readings import Series, Temps
from .whole import nearest


@dataclass(frozen=True)
class Hold:
    """How long every probe was at the limit or above, straight lines between readings.

    Attributes:
        limit_c: °C.
        arrived_ms: when the last probe first came to the limit with all others there; None never.
        held_ms: from then without a break.
        longest_ms: the longest stretch without a break; more than `held_ms` when it fell off first.
        total_ms: all stretches of all runs together.
        stretches: how many.
        each_ms: when each probe by itself first came to the limit; None never.
    """

    limit_c: float
    arrived_ms: int | None
    held_ms: int
    longest_ms: int
    total_ms: int
    stretches: int
    each_ms: tuple[int | None, ...]
    findings: tuple[Finding, ...]


def hold(series: Series, limit_c: float) -> Hold:
    """Return how long the coldest probe held the limit; gaps and missing readings end a stretch.

    Example: readings 0 min 100 °C, 21.1 min 121.1, 51.1 min 121.1, 72.2 min 100 held 121 °C for
        30.2 min, from 21.0 min on.
    """
    start, end = _above(series.temps, limit_c)
    step = np.diff(series.ms).astype(np.float64)
    least, most = start.max(axis=1), end.min(axis=1)
    here = series.solid & (most >= least)
    begin = np.where(here, series.ms[:-1] + least * step, 0.0)
    stop = np.where(here, series.ms[:-1] + most * step, 0.0)
    rows = np.flatnonzero(here)
    stretches: list[tuple[float, float]] = []
    if rows.size:
        # A stretch goes on where one interval ends full and the next, its neighbour, begins full.
        joined = (np.diff(rows) == 1) & (most[rows[:-1]] == 1.0) & (least[rows[1:]] == 0.0)
        first = np.flatnonzero(np.concatenate(([True], ~joined)))
        last = np.concatenate((first[1:] - 1, [rows.size - 1]))
        stretches = list(zip(begin[rows[first]].tolist(), stop[rows[last]].tolist(), strict=True))
    # A probe that only touches the limit and falls again has not held it.
    stretches = [(a, b) for a, b in stretches if b > a]
    lengths = [nearest(b - a) for a, b in stretches]
    findings = []
    if len(stretches) > 1:
        values: dict[str, int | str] = {"stretches": len(stretches), "longest_ms": max(lengths)}
        findings.append(Finding("hold_broken", WARN, "", values))
    return Hold(
        limit_c=limit_c,
        arrived_ms=nearest(stretches[0][0]) if stretches else None,
        held_ms=lengths[0] if lengths else 0,
        longest_ms=max(lengths, default=0),
        total_ms=sum(lengths),
        stretches=len(stretches),
        each_ms=tuple(_arrival(series, start[:, i], end[:, i]) for i in range(start.shape[1])),
        findings=tuple(findings),
    )


def _above(temps: Temps, limit_c: float) -> tuple[Temps, Temps]:
    """From which to which part (0..1) of each interval a probe is at the limit; (2, -1) nowhere."""
    before, after = temps[:-1], temps[1:]
    with np.errstate(invalid="ignore", divide="ignore"):
        cross = (limit_c - before) / (after - before)
        warm0, warm1 = before >= limit_c, after >= limit_c
        known = ~np.isnan(before) & ~np.isnan(after)
    start = np.where(warm0, 0.0, np.where(warm1, cross, 2.0))
    end = np.where(warm1, 1.0, np.where(warm0, cross, -1.0))
    return np.where(known, start, 2.0), np.where(known, end, -1.0)


def _arrival(series: Series, start: Temps, end: Temps) -> int | None:
    rows = np.flatnonzero(series.solid & (end > start))
    if not rows.size:
        return None
    i = int(rows[0])
    return nearest(float(series.ms[i] + start[i] * (series.ms[i + 1] - series.ms[i])))
