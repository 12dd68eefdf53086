"""A long log made short enough to draw, with every peak and dip still in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .lethality import lethal_rate
from .readings import Series, Temps
from .whole import nearest


@dataclass(frozen=True)
class Curve:
    """Readings to draw: ms, temperature (0.01 °C) and rate of kill (0.0001) a probe, None missing.

    `joined[i]` tells whether a line goes from point i to the next; where it does not, a gap shows.
    """

    ms: tuple[int, ...]
    temp: tuple[tuple[int | None, ...], ...]
    rate: tuple[tuple[int | None, ...], ...]
    joined: tuple[bool, ...]


def curve(series: Series, ref_c: float, z_c: float, points: int = 800) -> Curve:
    """Return at most about `points` rows: ends of gaps, and each stretch's highest and lowest."""
    n = len(series.ms)
    keep = np.zeros(n, dtype=bool)
    keep[[0, -1]] = True
    broken = np.flatnonzero(~series.solid)[: points // 4]
    keep[broken] = keep[broken + 1] = True
    probes = series.temps.shape[1]
    pieces = max(2, points // (2 * probes))
    edges = np.arange(pieces + 1, dtype=np.int64) * n // pieces
    if n > points:
        for a, b in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
            for probe in range(probes):
                piece = series.temps[a:b, probe]
                if piece.size and not np.isnan(piece).all():
                    keep[a + int(np.nanargmin(piece))] = keep[a + int(np.nanargmax(piece))] = True
    else:
        keep[:] = True
    rows = np.flatnonzero(keep)
    holes = np.concatenate(([0], np.cumsum(~series.solid)))
    temps = series.temps[rows]
    rates = lethal_rate(temps, ref_c, z_c)
    return Curve(
        ms=tuple(series.ms[rows].tolist()),
        temp=tuple(_whole(temps[:, i] * 100) for i in range(probes)),
        rate=tuple(_whole(rates[:, i] * 10_000) for i in range(probes)),
        joined=tuple((holes[rows[1:]] == holes[rows[:-1]]).tolist()),
    )


def _whole(values: Temps) -> tuple[int | None, ...]:
    return tuple(None if np.isnan(x) else nearest(x) for x in values.tolist())
