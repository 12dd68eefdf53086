"""Figures of scope: what a new phone is sent of batches long ended, beside their whole rows."""

from __future__ import annotations

import gzip
import json
import time
from pathlib import Path

import pytest

from bagtrail.sync import Log

from . import bigfarm, figures

pytestmark = [pytest.mark.bench, pytest.mark.timeout(600)]

BAGS = 10_000
LATER_MS = 400 * 86_400_000


def test_what_a_new_phone_is_sent_of_ended_batches(tmp_path: Path) -> None:
    log = bigfarm.open_farm(tmp_path)
    pen = bigfarm.Pen(log)
    bigfarm.plant(pen, BAGS, acts=8)
    firsts = range(0, BAGS, bigfarm.BAGS_A_BATCH)
    ends = [
        pen.record("bag.finished", [bigfarm.code("M", first)], {"cause": "spent"})
        for first in firsts
    ]
    for i in range(0, len(ends), 500):
        pen.push(ends[i : i + 500])
    log.clock = lambda: pen.at + LATER_MS
    print(f"\n{figures.machine()}; {BAGS} ended bags, {pen.sq} records")
    whole = told(log, pen, scoped=False)
    short = told(log, pen, scoped=True)
    print(f"a bag: {whole / BAGS:.0f} bytes whole, {short / BAGS:.0f} as a summary")
    assert short < whole / 10


def told(log: Log, pen: bigfarm.Pen, scoped: bool) -> int:
    """Tell the time of the first snapshot and of the next ones, and its size; return the size."""
    name = "summaries" if scoped else "whole rows"
    times = []
    for _ in range(6):
        started = time.perf_counter()
        snap = log.snapshot(pen.caller, texts=True, scoped=scoped)
        text = json.dumps(snap)
        times.append(time.perf_counter() - started)
    assert len(snap["archived"]) == (BAGS // bigfarm.BAGS_A_BATCH if scoped else 0)
    print(f"snapshot of {name}, the first: {times[0]:.3f} s")
    figures.tell(f"snapshot of {name}, the next", times[1:], "s")
    print(f"{len(text) / 1e6:.2f} MB, {len(gzip.compress(text.encode(), 6)) / 1e6:.2f} MB packed")
    return len(text)
