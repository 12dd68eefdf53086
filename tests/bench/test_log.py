"""Figures of the log: refolding 100,000 records, beside reading and parsing the same rows."""

from __future__ import annotations

import json
import time
from pathlib import Path

import pytest

from bagtrail.live import Live

from . import bigfarm, figures

pytestmark = [pytest.mark.bench, pytest.mark.timeout(600)]


def test_refold_of_100_000_records(tmp_path: Path) -> None:
    """Aim: under 10 s. The twin in the same run is the bare work: rows read, JSON parsed."""
    log = bigfarm.open_farm(tmp_path)
    count = bigfarm.plant(bigfarm.Pen(log), bags=12_400, acts=8)
    refolds, ratios = [], []
    for _ in range(3):
        started = time.perf_counter()
        rows = log.store.after(0, count + 10)
        for row in rows:
            json.loads(row.text)
            json.loads(row.receipt)
        bare = time.perf_counter() - started
        started = time.perf_counter()
        with log.store.writing():
            log.store.drop_snapshot()
        live = Live(log.store)
        for unit in live.farm.units():
            live.farm.unit(unit)
        refolds.append(time.perf_counter() - started)
        ratios.append(refolds[-1] / bare)
    print(f"\n{figures.machine()}; {live.pos} records, 12,400 bags")
    figures.tell("refold", refolds, "s", "under 10 s")
    figures.tell("refold / reading and parsing the rows", ratios, "x")
    assert live.pos >= count
