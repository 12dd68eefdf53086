"""Fields that several kinds share: what a mix is made of, and how it was dried or steamed."""

from .model import CHOICE, CODE, FLAG, INT, ROWS, TEXT, Field

MOIST = Field("moisture", INT, unit="0.01 % wet basis", max=9_999)

# What the numbers of a recipe are shares of; the same words as trade/recipe.py, a test holds it.
BASIS = Field("basis", CHOICE,
              choices=("of_total_dry", "per_wood_dry", "of_total_weighed",
                       "per_wood_weighed"))  # fmt: skip
# How they are said: 0.0001 %, so that 73.125 % stays what it is, or grams.
SAID = Field("said", CHOICE, choices=("percent", "grams"))
AMOUNTS = Field("amounts", ROWS, max=20, rows=(
    Field("name", TEXT, required=True, max=60),
    Field("amount", INT, required=True, unit="0.0001 % or g, as said", max=1_000_000_000),
    Field("wood", FLAG),
    MOIST,
))  # fmt: skip
BASE = Field("base", CHOICE, choices=("sawdust", "straw", "other"))

SPAWN = (
    Field("spawn_rate", INT, unit="0.01 %", min=1, max=10_000),
    Field("spawn_basis", CHOICE, choices=("wet_substrate", "final_block", "dry_substrate")),
    Field("spawn_blocks", INT, unit="blocks a spawn bag", min=1, max=10_000),
)

# What goes on the scale: of which lot, how much was planned, how much it was.
LINES = Field("lines", ROWS, max=40, rows=(
    Field("name", TEXT, required=True, max=60),
    Field("lot", CODE, letters=("material",)),
    Field("planned_g", INT, unit="g", max=100_000_000),
    Field("g", INT, unit="g", max=100_000_000),
    MOIST,
))  # fmt: skip

METHOD = Field("method", CHOICE, choices=("oven", "microwave", "meter"))
READINGS = Field("readings", ROWS, max=12, rows=(
    Field("wet", INT, required=True, unit="0.01 g", max=10_000_000),
    Field("dry", INT, required=True, unit="0.01 g", max=10_000_000),
    Field("tare", INT, unit="0.01 g", max=10_000_000),
    Field("dry_before", INT, unit="0.01 g", max=10_000_000),
))  # fmt: skip

WAY = Field("way", CHOICE, choices=("pressure", "atmospheric"))
ALTITUDE = Field("altitude_m", INT, unit="m", min=-500, max=6_000)
