"""How bags come to be: mixing, filling, opening stock, splitting, counting."""

from .fields import AMOUNTS, BASIS, LINES, SAID
from .model import CHOICE, CODE, CODES, INT, PARTS, TEXT, WAS, Field, Kind, add

MAX_BAGS = 100_000
MOISTURE = Field("moisture", INT, unit="0.01 % wet basis", max=10_000)
FILL = Field("fill_g", INT, unit="g", min=1, max=100_000)
LABELS = Field("to", CODES, letters=("B", "G"), max=900)
FIRST = Field("first", TEXT, max=12)

add(Kind("batch.mixed", "One mix of substrate; the recipe's figures are copied, not pointed at.",
    sub=("M",), subs=(1, 1), timed=False,
    fields=(
        Field("name", TEXT, required=True, max=40),
        Field("recipe", CODE, letters=("recipe",)),
        Field("recipe_name", TEXT, max=60),
        Field("parts", PARTS, max=20),
        MOISTURE,
        Field("wet_g", INT, unit="g", min=1, max=100_000_000),
        Field("plan", CODE, letters=("plan",)),
        Field("target", INT, unit="0.01 % wet basis", max=10_000),
        Field("water_g", INT, unit="g", max=100_000_000),
        Field("dry_g", INT, unit="g oven-dry", max=100_000_000),
        Field("charges", INT, min=1, max=10_000),
        BASIS, SAID, AMOUNTS, LINES,
        Field("was", WAS),
    ),
    rules=("batch", "no_carbide"),
    example={"sub": ["M0000001A"], "d": {"name": "25 Nov A1", "moisture": 6_000,
             "recipe_name": "Oak 80/18", "wet_g": 48_000}},
))  # fmt: skip

add(Kind("bag.filled", "Bags of a batch were filled: counted, and labelled now, later or never.",
    sub=("M",), subs=(1, 1), timed=False,
    fields=(
        Field("n", INT, unit="bags", min=1, max=MAX_BAGS),
        FILL, LABELS, FIRST,
        Field("place", CODE, letters=("P",)),
        Field("was", WAS),
    ),
    effects=(("set", "fill_g", "fill_g"), ("stand", "place"), ("stage", "filled")),
    rules=("born",),
    example={"sub": ["M0000001A"], "d": {"n": 20, "fill_g": 2_400, "to": ["B0000001K"],
             "first": "A1"}},
))  # fmt: skip

add(Kind("stock.opened", "Bags that stood here before Bagtrail came, by count; they make a batch.",
    sub=("M",), subs=(1, 1), timed=False,
    fields=(
        Field("name", TEXT, required=True, max=40),
        Field("n", INT, required=True, unit="bags", min=1, max=MAX_BAGS),
        Field("stage", CHOICE, required=True,
              choices=("filled", "sterilised", "spawn_run", "colonised", "fruiting", "resting")),
        Field("strain", CODE, letters=("strain",)),
        FILL, MOISTURE, LABELS, FIRST,
        Field("place", CODE, letters=("P",)),
        Field("was", WAS),
    ),
    effects=(("set", "fill_g", "fill_g"), ("set", "strain", "strain"), ("stand", "place")),
    rules=("born", "batch"),
    example={"sub": ["M0000001A"], "d": {"name": "Before 25 Nov", "n": 800, "stage": "spawn_run"}},
))  # fmt: skip

add(Kind("group.split", "Some bags of a group become a part of their own, or get labels.",
    sub=("G", "B"), subs=(1, 1), timed=False,
    fields=(Field("n", INT, unit="bags", min=1, max=MAX_BAGS), LABELS, FIRST),
    rules=("born",),
    example={"sub": ["G0000001E"], "d": {"to": ["B0000001K", "B0000002H"]}},
))  # fmt: skip

add(Kind("group.corrected", "A count was wrong; the difference is written with its reason.",
    sub=("G", "B"), subs=(1, 1), timed=False,
    fields=(
        Field("by", INT, required=True, unit="bags", min=-MAX_BAGS, max=MAX_BAGS),
        Field("why", TEXT, max=200),
    ),
    rules=("corrected",),
    example={"sub": ["G0000001E"], "d": {"by": -2, "why": "counted again"}},
))  # fmt: skip
