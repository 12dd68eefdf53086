"""A mix before and after it is one: the plan that is weighed in, and what was measured of it."""

from .fields import ALTITUDE, AMOUNTS, BASE, BASIS, LINES, METHOD, READINGS, SAID
from .model import CHOICE, CODE, FLAG, INT, TEXT, WAS, Field, Kind, add

add(Kind("mix.planned", "What to weigh for a batch that is still to be mixed.",
    sub=("plan",), subs=(1, 1), timed=False,
    fields=(
        Field("name", TEXT, required=True, max=40),
        Field("batch", CODE, required=True, letters=("M",)),
        Field("recipe", CODE, letters=("recipe",)),
        Field("recipe_name", TEXT, max=60),
        Field("target", INT, required=True, unit="0.01 % wet basis", max=9_999),
        Field("water_g", INT, required=True, unit="g", max=100_000_000),
        Field("charges", INT, min=1, max=10_000),
        Field("n", INT, unit="bags", min=1, max=100_000),
        Field("fill_g", INT, unit="g", min=1, max=100_000),
        BASIS, SAID, AMOUNTS, BASE, LINES,
        Field("was", WAS),
    ),
    effects=(("ref", "plans"),),
    rules=("no_carbide",),
    example={"sub": ["plan-00000000-0000-7000-8000-000000000004"],
             "d": {"name": "25 Nov A1", "batch": "M0000001A", "target": 6_000, "water_g": 27_000,
                   "charges": 1,
                   "lines": [{"name": "Oak pellets", "planned_g": 18_000, "moisture": 800},
                             {"name": "Wheat bran", "planned_g": 3_000, "moisture": 1_200}]}},
))  # fmt: skip

add(Kind("batch.tested", "The mix was measured or squeezed, and what was added for it.",
    sub=("M",), subs=(1, 1), timed=False,
    fields=(
        Field("found", INT, unit="0.01 % wet basis", max=9_999),
        Field("felt", CHOICE, choices=("no_drop", "drop_or_two", "runs")),
        METHOD, READINGS,
        Field("added_water_g", INT, unit="g", max=100_000_000),
        Field("added_mix_g", INT, unit="g", max=100_000_000),
        Field("moisture", INT, unit="0.01 % wet basis", max=9_999),
        Field("wet_g", INT, unit="g", min=1, max=100_000_000),
    ),
    rules=("batch",),
    example={"sub": ["M0000001A"],
             "d": {"found": 5_925, "method": "oven", "added_water_g": 900, "moisture": 6_000,
                   "wet_g": 48_900}},
))  # fmt: skip

add(Kind("farm.equipped", "What the farm mixes and sterilises with, and how high it lies.",
    sub=(), subs=(0, 0), timed=False,
    fields=(
        ALTITUDE,
        Field("mixer_g", INT, unit="g", min=1, max=100_000_000),
        Field("mixer_ml", INT, unit="mL", min=1, max=100_000_000),
        Field("rotating", FLAG),
        Field("tolerance", INT, unit="0.01 %", min=1, max=5_000),
        Field("bag_minor", INT, unit="minor currency units", max=1_000_000),
        Field("fill_g", INT, unit="g", min=1, max=100_000),
        Field("loss_g", INT, unit="g a bag", max=10_000),
    ),
    effects=(("ref", "settings"),),
    example={"sub": [], "d": {"altitude_m": 420, "mixer_g": 60_000, "mixer_ml": 150_000}},
))  # fmt: skip
