"""P2 to P8 at once, from seeds: nothing held is lost, nothing doubled, all views equal."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from tests.simulation import Simulation

ROOT = Path(__file__).resolve().parents[2]
# Seeds that once found a fault, with what it was; they are run for ever.
KEPT = json.loads((ROOT / "fixtures" / "sync" / "seeds.json").read_text())
LONG = bool(os.environ.get("BAGTRAIL_LONG"))
STEPS = 250 if LONG else 120
SEEDS = [(seed, STEPS) for seed in range(1_000, 1_400 if LONG else 1_016)]


@pytest.mark.parametrize(("seed", "steps"), [(k["seed"], k["steps"]) for k in KEPT] + SEEDS)
def test_P4_P7_whatever_happens_nothing_held_is_lost(tmp_path: Path, seed: int, steps: int) -> None:
    simulation = Simulation(tmp_path, seed, steps=steps)
    simulation.run()
    simulation.check()
    simulation.server.log.close()


def test_the_simulation_would_notice_a_phone_that_forgets_at_the_acknowledgement(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The usual rule of other engines: what was acknowledged is never offered again."""
    from tests.model import ModelPhone

    reset = ModelPhone._reset

    def forgetful(self: ModelPhone, said: dict[str, object], nonce: str) -> None:
        reset(self, said, nonce)
        for kept in self.kept.values():
            kept.state = "acked" if kept.state == "offer" else kept.state

    monkeypatch.setattr(ModelPhone, "_reset", forgetful)
    simulation = Simulation(tmp_path, KEPT[0]["seed"], steps=KEPT[0]["steps"])

    def whole() -> None:
        simulation.run()
        simulation.check()

    with pytest.raises(AssertionError, match="held records were lost|came to rest"):
        whole()
    simulation.server.log.close()
