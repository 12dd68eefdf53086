"""A million-row log: from the file on the disk to the answer with F0, hold and curve."""

from __future__ import annotations

import hashlib
import json
import time
from pathlib import Path

import pytest

from bagtrail.loadlogs import LoadLogs

from . import figures

pytestmark = [pytest.mark.bench, pytest.mark.timeout(300)]

ASKED = {"layout": None, "ref": 12_110, "z": 1_000, "limit": 12_000, "longest_ms": None,
         "accept": [], "fill": False}  # fmt: skip


def million() -> bytes:
    """A row a second for eleven and a half days, three probes, decimal commas."""
    rows = []
    for i in range(1_000_000):
        day, second = divmod(i, 86_400)
        clock = f"{second // 3_600:02d}:{second // 60 % 60:02d}:{second % 60:02d}"
        temp = min(12_110, 2_000 + i // 80)
        cells = (f"{(temp - lag) // 100},{(temp - lag) % 100:02d}" for lag in (0, 50, 120))
        rows.append(f"{10 + day:02d}.11.2026 {clock};{';'.join(cells)}\n")
    return b"Zeit;Oben \xc2\xb0C;Kern 1 \xc2\xb0C;Kern 2 \xc2\xb0C\n" + "".join(rows).encode()


def test_a_million_rows(tmp_path: Path) -> None:
    data = million()
    name = hashlib.sha256(data).hexdigest()
    (tmp_path / name).write_bytes(data)
    logs = LoadLogs(tmp_path)
    took = []
    for _ in range(5):
        started = time.perf_counter()
        answer = logs.answer({**ASKED, "sha256": name})
        text = json.dumps(answer)
        took.append(time.perf_counter() - started)
    assert answer["score"]["readings"] == 1_000_000
    print(f"\n{figures.machine()}; {len(data) >> 20} MiB, answer {len(text) >> 10} KiB")
    figures.tell("million-row log, file to answer", took, "s", "under 2 s")
