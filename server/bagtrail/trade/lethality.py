"""Lethality F0: how many minutes at the reference temperature a run was worth.

F = integral of 10^((T - T_ref) / z) dt. Source: National Canners Association 1968; US FDA,
proposed 21 CFR 212.3, 1 June 1976 (z = 10 °C; 121 °C or 250 °F, which is why the reference must be
said). It holds for water-wet goods in saturated steam: dry pockets do not follow it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, log

import numpy as np
import numpy.typing as npt

from .findings import NOTE, WARN, Finding, Unfit
from .readings import Series, Temps
from .whole import in_words, nearest

# Which references are in use, °C? 121.1 (250 °F rounded) and 121.0 (Ph. Eur. 5.1.5, from memory);
# 90 min at 121.0 °C are 87.95 or 90.00 of them.
REFERENCES = (121.1, 121.0)
# How many degrees make a tenfold difference? 10 K, of the spores of one heat-loving bacterium.
Z = 10.0

# What does an atmospheric steaming of 10 to 20 h score? F0 3 to 7 by the trade page's table; below
# this top temperature it is one, °C.
ATMOSPHERIC_C = 105.0

_MIN_MS = 60_000.0


@dataclass(frozen=True)
class RunLethality:
    """One run (see `readings`): minutes a probe, None without two readings that follow each other.

    `uncounted_ms` is how much of each probe's time lies in gaps and missing readings.
    """

    run: int
    from_ms: int
    to_ms: int
    f0: tuple[float | None, ...]
    uncounted_ms: tuple[int, ...]
    coldest: int | None


@dataclass(frozen=True)
class Lethality:
    """F0 with the reference and z that belong to it.

    Attributes:
        f0: minutes of the coldest probe in the run that counts; None when no probe has any.
        coldest: index of that probe.
        counted: the run that counts: the one whose coldest probe got most. Runs are never added
            up, as a clock that went back does not tell whether it is the same time again.
        highest_c: highest reading of any probe.
    """

    ref_c: float
    z_c: float
    f0: float | None
    coldest: int | None
    counted: int
    runs: tuple[RunLethality, ...]
    highest_c: float | None
    findings: tuple[Finding, ...]


def lethality(series: Series, ref_c: float, z_c: float = Z) -> Lethality:
    """Return F0 of every probe and run: exact where the temperature goes straight between readings.

    Args:
        ref_c: reference temperature, °C; there is no default, as 121.0 and 121.1 differ by 2.3 %.
        z_c: in kelvin, above 0.

    Returns:
        Findings: "runs_not_added", "probe_silent" (about a probe), "atmospheric" (such a run is
        never failed on F0 alone, nor called sterile), "one_probe".

    Raises:
        Unfit: "z_range", "reference_range".

    Example: (0 min, 20 °C), (30, 100), (45, 110), (60, 121.1), (150, 121.1), (165, 110), (180,
        100), (200, 80) is 101.78 min at 121.1 °C.
    """
    if not 1.0 <= z_c <= 100.0:
        raise Unfit("z_range", z=in_words(100 * z_c))
    if not 50.0 <= ref_c <= 200.0:
        raise Unfit("reference_range", ref=in_words(100 * ref_c))
    minutes, known = _intervals(series, ref_c, z_c)
    step = np.diff(series.ms)
    same = series.run[1:] == series.run[:-1]
    runs = []
    for number in range(int(series.run[-1]) + 1):
        rows = np.flatnonzero(series.run == number)
        first, last = int(rows[0]), int(rows[-1])
        part = slice(first, last)
        any_known: list[bool] = np.any(known[part], axis=0).tolist()
        sums: list[float] = minutes[part].sum(axis=0).tolist()
        f0 = tuple(x if k else None for x, k in zip(sums, any_known, strict=True))
        lost = np.where(known[part] | ~same[part, None], 0, step[part, None]).sum(axis=0)
        scored = [(x, i) for i, x in enumerate(f0) if x is not None]
        runs.append(
            RunLethality(
                number,
                int(series.ms[first]),
                int(series.ms[last]),
                f0,
                tuple(int(x) for x in lost),
                min(scored)[1] if scored else None,
            )  # fmt: skip
        )
    counted = max(runs, key=lambda r: -1.0 if r.coldest is None else (r.f0[r.coldest] or 0.0))
    highest = None if np.isnan(series.temps).all() else float(np.nanmax(series.temps))
    return Lethality(
        ref_c=ref_c,
        z_c=z_c,
        f0=None if counted.coldest is None else counted.f0[counted.coldest],
        coldest=counted.coldest,
        counted=counted.run,
        runs=tuple(runs),
        highest_c=highest,
        findings=_findings(series, counted, len(runs), highest),
    )


def lethal_rate(temp_c: Temps | float, ref_c: float, z_c: float = Z) -> Temps:
    """Return the rate of kill: minutes at the reference that one minute here is worth.

    Example: 111.1 °C at reference 121.1 is 0.1.
    """
    return np.asarray(np.power(10.0, (np.asarray(temp_c) - ref_c) / z_c), dtype=np.float64)


def hundredths(f0: float) -> int:
    """Return F0 for a record, in 0.01 min, cut and not rounded: never more than there was."""
    # 87.95 stored in binary may lie a hair below: what is within a millionth counts as reached.
    return floor(f0 * 100 + 1e-6)


def _intervals(series: Series, ref_c: float, z_c: float) -> tuple[Temps, npt.NDArray[np.bool_]]:
    """Minutes of F0 of each interval and probe, and where both of its ends are known.

    With x = ln 10 (T1 - T0) / z the integral over an interval is dt L0 (e^x - 1) / x.
    """
    before, after = series.temps[:-1], series.temps[1:]
    known = series.solid[:, None] & ~np.isnan(before) & ~np.isnan(after)
    x = np.where(known, (after - before) * (log(10.0) / z_c), 0.0)
    flat = np.abs(x) < 1e-9
    mean = np.where(flat, 1.0 + x / 2, np.expm1(x) / np.where(flat, 1.0, x))
    start = lethal_rate(np.where(known, before, ref_c), ref_c, z_c)
    minutes = np.diff(series.ms)[:, None] / _MIN_MS
    return np.where(known, start * mean * minutes, 0.0), known


def _findings(
    series: Series, counted: RunLethality, runs: int, highest: float | None
) -> tuple[Finding, ...]:
    findings = list(series.findings)
    if runs > 1:
        values: dict[str, int | str] = {"runs": runs, "run": counted.run}
        findings.append(Finding("runs_not_added", WARN, "", values))
    for name, f0 in zip(series.probes, counted.f0, strict=True):
        if f0 is None:
            findings.append(Finding("probe_silent", WARN, name))
    if len(series.probes) == 1:
        findings.append(Finding("one_probe", NOTE, series.probes[0]))
    if highest is not None and highest < ATMOSPHERIC_C:
        findings.append(Finding("atmospheric", NOTE, "", {"highest": nearest(100 * highest)}))
    return tuple(findings)
