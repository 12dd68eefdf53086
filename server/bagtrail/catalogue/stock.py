"""What comes in: strains, materials, spawn lots and recipes."""

from .fields import AMOUNTS, BASE, BASIS, METHOD, READINGS, SAID, SPAWN
from .model import CHOICE, CODE, FLAG, INT, PARTS, TEXT, WAS, Field, Kind, add

CARRIERS = ("grain", "sawdust", "liquid", "plug", "agar")
SPAWN_TESTS = ("none", "clean", "suspect", "failed")

add(Kind("strain.named", "A strain the farm grows.",
    sub=("strain",), subs=(1, 1), timed=False,
    fields=(
        Field("name", TEXT, required=True, max=60),
        Field("species", TEXT, max=80),
        Field("source", TEXT, max=80),
    ),
    effects=(("ref", "strains"),),
    example={"sub": ["strain-00000000-0000-7000-8000-000000000001"],
             "d": {"name": "Fen 4", "species": "Lentinula edodes"}},
))  # fmt: skip

add(Kind("material.received", "A lot of wood, bran or mineral came in.",
    sub=("material",), subs=(1, 1), timed=False,
    fields=(
        Field("name", TEXT, required=True, max=60),
        Field("mass_g", INT, unit="g", min=1, max=100_000_000),
        Field("moisture", INT, unit="0.01 % wet basis", max=10_000),
        Field("supplier", TEXT, max=80),
        Field("untreated", FLAG),
        Field("allergens", TEXT, max=120),
        Field("price_minor", INT, unit="minor currency units", max=1_000_000_000),
        Field("price_g", INT, unit="g the price is for", min=1, max=100_000_000),
        Field("wood", FLAG),
        Field("c", INT, unit="0.01 % of dry", max=10_000),
        Field("n", INT, unit="0.01 % of dry", max=10_000),
        Field("bulk_g_l", INT, unit="g/L", min=1, max=5_000),
        Field("swell", INT, unit="0.01", min=1, max=1_000),
        Field("grade", CHOICE, choices=("measured", "supplier", "table", "memory")),
        Field("organic", TEXT, max=80),
        Field("was", WAS),
    ),
    effects=(("ref", "materials"),),
    rules=("no_carbide", "store"),
    example={"sub": ["material-00000000-0000-7000-8000-000000000002"],
             "d": {"name": "Wheat bran", "mass_g": 500_000, "moisture": 1_200}},
))  # fmt: skip

add(Kind("material.tested", "A drying test of a lot: its moisture, from repeats and their spread.",
    sub=("material",), subs=(1, 1), timed=False,
    fields=(
        Field("moisture", INT, required=True, unit="0.01 % wet basis", max=9_999),
        Field("spread", INT, unit="0.01 %", max=10_000),
        METHOD, READINGS,
        Field("was", WAS),
    ),
    effects=(("ref", "materials"),),
    example={"sub": ["material-00000000-0000-7000-8000-000000000002"],
             "d": {"moisture": 1_210, "spread": 20, "method": "oven",
                   "readings": [{"wet": 1_400, "dry": 1_279, "tare": 400}]}},
))  # fmt: skip

add(Kind("material.taken", "Grams of a lot were used, or its count was corrected (below 0: back).",
    sub=("material",), subs=(1, 1), timed=False,
    fields=(
        Field("g", INT, required=True, unit="g", min=-100_000_000, max=100_000_000),
        Field("batch", CODE, letters=("M",)),
        Field("why", TEXT, max=200),
        Field("was", WAS),
    ),
    rules=("store",),
    example={"sub": ["material-00000000-0000-7000-8000-000000000002"],
             "d": {"g": 3_000, "batch": "M0000001A"}},
))  # fmt: skip

_SPAWN = (
    Field("units", INT, unit="bags or jars", min=1, max=100_000),
    Field("unit_g", INT, unit="g", min=1, max=100_000),
    Field("generation", INT, min=0, max=20),
    Field("was", WAS),
)

add(Kind("spawn.received", "A lot of spawn was bought in.",
    sub=("S",), subs=(1, 1), timed=False,
    fields=(
        Field("strain", CODE, required=True, letters=("strain",)),
        Field("carrier", CHOICE, choices=CARRIERS),
        Field("supplier", TEXT, max=80),
        *_SPAWN,
    ),
    effects=(("ref", "spawn"),),
    example={"sub": ["S00000015"], "d": {"strain": "strain-00000000-0000-7000-8000-000000000001",
             "carrier": "grain", "units": 12, "unit_g": 2_500}},
))  # fmt: skip

add(Kind("spawn.made", "A lot of spawn was made on the farm, from a parent lot or a culture.",
    sub=("S",), subs=(1, 1), timed=False,
    fields=(
        Field("parent", CODE, letters=("S",)),
        Field("strain", CODE, letters=("strain",)),
        Field("carrier", CHOICE, required=True, choices=CARRIERS),
        Field("test", CHOICE, choices=SPAWN_TESTS),
        *_SPAWN,
    ),
    effects=(("ref", "spawn"),),
    example={"sub": ["S00000023"],
             "d": {"parent": "S00000015", "carrier": "sawdust", "generation": 2, "test": "clean"}},
))  # fmt: skip

add(Kind("recipe.written", "A recipe; a change is a new version under a new id.",
    sub=("recipe",), subs=(1, 1), timed=False,
    fields=(
        Field("name", TEXT, required=True, max=60),
        Field("parts", PARTS, required=True, min=1, max=20),
        Field("moisture", INT, unit="0.01 % wet basis", max=10_000),
        Field("note", TEXT, max=500),
        BASIS, SAID, AMOUNTS, BASE, *SPAWN,
    ),
    effects=(("ref", "recipes"),),
    rules=("no_carbide",),
    example={"sub": ["recipe-00000000-0000-7000-8000-000000000003"],
             "d": {"name": "Oak 80/18", "moisture": 6_000,
                   "parts": [{"name": "Oak sawdust", "share": 8_000},
                             {"name": "Wheat bran", "share": 1_800},
                             {"name": "Gypsum", "share": 200}]}},
))  # fmt: skip
