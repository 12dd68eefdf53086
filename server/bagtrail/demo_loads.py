"""Vessels and loads of the demo farm, invented: one of every state, one with a log."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .demo import Ground, Pen

# Minutes and 0.01 °C of a log: the worked example of our trade notes, exact for straight lines
# between its points: F0 101.78 min at reference 121.1 °C and z 10 K, 90 min at 121.0 °C and above.
CURVE = ((0, 2_000), (30, 10_000), (45, 11_000), (60, 12_110), (150, 12_110), (165, 11_000),
         (180, 10_000), (200, 8_000))  # fmt: skip
PRESSURE: dict[str, Any] = {"way": "pressure", "temp": 12_110, "gauge_pa": 109_000, "heat_min": 60,
                            "hold_min": 90, "cool_min": 720}  # fmt: skip
STEAM: dict[str, Any] = {"way": "atmospheric", "temp": 9_800, "heat_min": 180, "hold_min": 840,
                         "cool_min": 720}  # fmt: skip


class Vessels:
    """A pressure steriliser and a steamer, at an altitude where 121 °C takes more than at sea."""

    def __init__(self, pen: Pen) -> None:
        self._pen = pen
        pen.act(150, "farm.equipped", [], 7, altitude_m=420)
        self.steriliser = pen.named(150, "vessel.named", name="Steriliser 1", holds=96,
                                    core="middle of the lowest shelf", **PRESSURE)  # fmt: skip
        self.steamer = pen.named(150, "vessel.named", name="Steamer 1", holds=240,
                                 core="middle of the load", **STEAM)  # fmt: skip

    def run(self, day: float, what: list[str], steamed: bool = False) -> str:
        """Writes one whole run that passed, in one record; returns the load's code."""
        code = self._pen.code("H")
        self._pen.act(day, "load.ran", [code, *what], 18, result="passed", **self.told(steamed))
        return code

    def told(self, steamed: bool = False) -> dict[str, Any]:
        """Returns what a load says of its vessel."""
        if steamed:
            return {"pot": self.steamer, "vessel": "Steamer 1", "altitude_m": 420, **STEAM}
        return {"pot": self.steriliser, "vessel": "Steriliser 1", "altitude_m": 420, **PRESSURE}


def log(pen: Pen, day: float, load: str) -> None:
    """Reads the temperature log of a load in."""
    curve = [{"min": minute, "temp": temp} for minute, temp in CURVE]
    pen.act(day, "load.logged", [load], 20, f0=10_178, ref=12_110, z=1_000, coldest="Core 2",
            highest=12_110, limit=12_100, arrived_min=60, held_min=90, readings=len(CURVE),
            by_hand=True, curve=curve)  # fmt: skip


def loads_of_every_state(pen: Pen, farm: Ground) -> None:
    """Ninety bags of three days: failed, not recorded, hot, and one load that is being filled."""
    vessels = farm.vessels
    old, group = _mixed(pen, farm, 2, "Alder F1", 48)
    kept = farm.split(2, group, 18, 12)
    failed, unsure = pen.code("H"), pen.code("H")
    pen.act(2, "load.filled", [failed, group], 13, **vessels.told(), begun=pen.at(2, 13))
    burst = farm.split(2, group, 2, 19)
    pen.act(2, "load.ran", [failed], 19, result="failed", hold_min=20, off=pen.at(2, 15))
    pen.act(2, "bag.finished", [burst], 19.2, cause="burst")
    pen.act(2, "load.filled", [unsure, kept], 14, **vessels.told(steamed=True))
    pen.act(1, "load.ran", [unsure], 9, result="unsure")
    _, fresh = _mixed(pen, farm, 0, "Alder G1", 42)
    hot, open_ = pen.code("H"), pen.code("H")
    rest = farm.split(0, fresh, 12, 8.5)
    pen.act(0, "load.filled", [hot, fresh], 9, **vessels.told(), begun=pen.at(0, 9))
    told: dict[str, Any] = {"pot": vessels.steamer, "vessel": "Steamer 1", "way": "atmospheric"}
    pen.act(0, "load.filled", [open_, rest], 9.2, **told)


def _mixed(pen: Pen, farm: Ground, day: float, name: str, n: int) -> tuple[str, str]:
    batch = pen.code("M")
    pen.act(day, "batch.mixed", [batch], 7, name=name, wet_g=n * 2_400 + 1_500, **farm.beech)
    birth = pen.act(day, "bag.filled", [batch], 8, n=n, fill_g=2_400, place=farm.cold)
    return batch, f"g-{birth}"
