"""How a figure is told: with the machine, its load and the versions, to be read later."""

from __future__ import annotations

import os
import platform
import statistics
from collections.abc import Sequence


def machine() -> str:
    """Return one line about where the figures were taken."""
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    return (
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, load {load:.1f}, "
        f"Python {platform.python_version()}"
    )


def tell(what: str, values: Sequence[float], unit: str, aim: str = "") -> None:
    """Print a median with its range, the number of runs and the aim of the issue."""
    middle = statistics.median(values)
    print(
        f"{what}: median {middle:.4g} {unit} "
        f"({min(values):.4g} to {max(values):.4g}, n={len(values)})"
        + (f"; aim {aim}" if aim else "")
    )
