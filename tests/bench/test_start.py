"""How long the server takes until it answers: first start of a farm, and the next."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest
from tests.served import Served

from . import figures

pytestmark = pytest.mark.bench


def test_second_start(tmp_path: Path) -> None:
    """Aim: a second start under 3 s (the environment and the client are there)."""
    first, later = [], []
    for n in range(3):
        for into in (first, later):
            served = Served(tmp_path / f"farm{n}")
            into.append(1000 * served.wait())
            served.end(signal.SIGTERM)
    print(f"\n{figures.machine()}")
    figures.tell("first start of a farm", first, "ms")
    figures.tell("the next start", later, "ms", "under 3000")
