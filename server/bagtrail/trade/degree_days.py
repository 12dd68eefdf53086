"""Degree-days: how warm, times how long."""

from __future__ import annotations

from collections.abc import Sequence


def degree_days(phases: Sequence[tuple[int, int]], base: int = 0) -> int:
    """Return 0.01 °C·d over phases of (0.01 °C, days) above `base`; colder phases count nothing.

    Example: 16 °C for 6 d and 14 °C for 16 d are 320 °C·d.
    """
    return sum(max(0, temp - base) * days for temp, days in phases)
