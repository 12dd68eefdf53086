"""The steriliser: its vessels, its runs, and what a run's temperature log was worth."""

from .fields import ALTITUDE, WAY
from .model import CHOICE, CODE, FLAG, INT, ROWS, TEXT, TIME, Field, Kind, add

PROGRAMME = (
    Field("vessel", TEXT, max=60),
    Field("hold_min", INT, unit="min", max=10_000),
    Field("temp", INT, unit="0.01 °C", max=20_000),
    Field("gauge_pa", INT, unit="Pa", max=1_000_000),
    WAY,
    Field("pot", CODE, letters=("vessel",)),
    Field("heat_min", INT, unit="min", max=10_000),
    Field("cool_min", INT, unit="min", max=10_000),
    ALTITUDE,
    # When the heat went on, and off: a result is often told hours later.
    Field("begun", TIME),
    Field("off", TIME),
)

add(Kind("load.filled", "Bags or batches were put into a load that is still to run.",
    sub=("H", "B", "G", "M"),
    fields=PROGRAMME,
    effects=(("ref", "loads"),),
    rules=("load",),
    example={"sub": ["H0000001D", "M0000001A"], "d": {"vessel": "Big pot"}},
))  # fmt: skip

add(Kind("load.ran", "One steriliser run: the load's tag first, then what stood in it.",
    sub=("H", "B", "G", "M"),
    fields=(
        Field("result", CHOICE, required=True, choices=("passed", "failed", "unsure")),
        *PROGRAMME,
        # Somebody was asked before inoculating and did not know: nobody is asked again.
        Field("asked", FLAG),
    ),
    effects=(("ref", "loads"),),
    rules=("load",),
    example={"sub": ["H0000001D", "M0000001A"],
             "d": {"result": "passed", "hold_min": 150, "temp": 12_110}},
))  # fmt: skip

add(Kind("load.logged", "What a run's temperature log was worth; reference and z belong to it.",
    sub=("H",), subs=(1, 1), timed=False,
    fields=(
        Field("f0", INT, required=True, unit="0.01 min", max=1_000_000),
        Field("ref", INT, required=True, unit="0.01 °C", min=5_000, max=20_000),
        Field("z", INT, required=True, unit="0.01 °C span", min=100, max=10_000),
        Field("coldest", TEXT, max=60),
        Field("highest", INT, unit="0.01 °C", min=-4_000, max=20_000),
        Field("limit", INT, unit="0.01 °C", min=0, max=20_000),
        Field("arrived_min", INT, unit="min", max=100_000),
        Field("held_min", INT, unit="min", max=100_000),
        Field("uncounted_min", INT, unit="min", max=100_000),
        Field("readings", INT, max=100_000_000),
        Field("faults", INT, max=1_000_000),
        Field("file", TEXT, max=120),
        Field("sha256", TEXT, max=64),
        Field("by_hand", FLAG),
        Field("curve", ROWS, max=120, rows=(
            Field("min", INT, required=True, unit="min", max=100_000),
            Field("temp", INT, required=True, unit="0.01 °C", min=-4_000, max=20_000),
            Field("gap", FLAG),  # nothing was read from here to the next
        )),
    ),
    effects=(("ref", "loads"),),
    example={"sub": ["H0000001D"], "d": {"f0": 10_178, "ref": 12_110, "z": 1_000,
             "limit": 12_100, "held_min": 90, "coldest": "Core 2"}},
))  # fmt: skip

add(Kind("vessel.named", "A steriliser or steamer, and how it is run.",
    sub=("vessel",), subs=(1, 1), timed=False,
    fields=(
        Field("name", TEXT, required=True, max=60),
        Field("way", CHOICE, required=True, choices=("pressure", "atmospheric")),
        Field("holds", INT, unit="bags", min=1, max=100_000),
        Field("core_g", INT, unit="g", max=100_000),
        Field("core", TEXT, max=200),
        Field("temp", INT, unit="0.01 °C", max=20_000),
        Field("gauge_pa", INT, unit="Pa", max=1_000_000),
        Field("heat_min", INT, unit="min", max=10_000),
        Field("hold_min", INT, unit="min", max=10_000),
        Field("cool_min", INT, unit="min", max=10_000),
        Field("note", TEXT, max=500),
    ),
    effects=(("ref", "vessels"),),
    example={"sub": ["vessel-00000000-0000-7000-8000-000000000005"],
             "d": {"name": "Big pot", "way": "pressure", "hold_min": 150, "temp": 12_100}},
))  # fmt: skip
