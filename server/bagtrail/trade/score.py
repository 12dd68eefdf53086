"""What a load's readings were worth, in the whole numbers that a record, the API and a screen hold.

Phone and server make this sum: a table written by hand is scored where it was written.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .curve import Curve, curve
from .findings import Finding
from .hold import hold
from .lethality import hundredths, lethality
from .readings import Series
from .whole import nearest


@dataclass(frozen=True)
class ProbeScore:
    """One probe in the run that counts.

    Attributes:
        f0: 0.01 min, cut; None without two readings that follow each other.
        uncounted_ms: its time in gaps and missing readings.
        arrived_ms: when it first came to the limit; None never.
        highest: 0.01 °C; None without a reading.
    """

    name: str
    f0: int | None
    uncounted_ms: int
    arrived_ms: int | None
    highest: int | None


@dataclass(frozen=True)
class Score:
    """A load's result; temperatures 0.01 °C, F0 0.01 min, times in ms of the readings' clock.

    Attributes:
        coldest: index of the probe with the least F0; `f0` is its.
        arrived_ms: when the last probe came to the limit; `held_ms` from then without a break.
        readings, runs: of all rows, also of runs that do not count.
    """

    ref: int
    z: int
    limit: int
    probes: tuple[ProbeScore, ...]
    f0: int | None
    coldest: int | None
    highest: int | None
    from_ms: int
    to_ms: int
    arrived_ms: int | None
    held_ms: int
    longest_ms: int
    total_ms: int
    stretches: int
    readings: int
    runs: int
    curve: Curve
    findings: tuple[Finding, ...]


def score(series: Series, ref: int, z: int, limit: int, points: int = 800) -> Score:
    """Return F0, hold and curve of the run that counts (see `lethality`).

    Args:
        ref, limit: 0.01 °C; the reference has no default, as 121.0 and 121.1 differ by 2.3 %.
        z: 0.01 K.
        points: about how many points the curve may have.

    Raises:
        Unfit: as `lethality`.
    """
    worth = lethality(series, ref / 100, z / 100)
    run = worth.runs[worth.counted]
    counted = only(series, worth.counted)
    held = hold(counted, limit / 100)
    probes = tuple(
        ProbeScore(
            name,
            None if f0 is None else hundredths(f0),
            lost,
            arrived,
            _highest(counted, i),
        )
        for i, (name, f0, lost, arrived) in enumerate(
            zip(series.probes, run.f0, run.uncounted_ms, held.each_ms, strict=True)
        )
    )
    tops = [probe.highest for probe in probes if probe.highest is not None]
    return Score(
        ref=ref,
        z=z,
        limit=limit,
        probes=probes,
        f0=None if worth.f0 is None else hundredths(worth.f0),
        coldest=worth.coldest,
        highest=max(tops, default=None),
        from_ms=run.from_ms,
        to_ms=run.to_ms,
        arrived_ms=held.arrived_ms,
        held_ms=held.held_ms,
        longest_ms=held.longest_ms,
        total_ms=held.total_ms,
        stretches=held.stretches,
        readings=len(series.ms),
        runs=len(worth.runs),
        curve=curve(counted, ref / 100, z / 100, points),
        findings=(*worth.findings, *held.findings),
    )


def only(series: Series, run: int) -> Series:
    """Return one run's rows by themselves."""
    rows = np.flatnonzero(series.run == run)
    a, b = int(rows[0]), int(rows[-1]) + 1
    return replace(
        series,
        ms=series.ms[a:b],
        temps=series.temps[a:b],
        run=np.zeros(b - a, dtype=np.int64),
        solid=series.solid[a : b - 1],
    )


def _highest(series: Series, probe: int) -> int | None:
    column = series.temps[:, probe]
    return None if np.isnan(column).all() else nearest(100 * float(np.nanmax(column)))
