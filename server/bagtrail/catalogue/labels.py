"""Labels as printed: what was printed, how the farm wants them, what its stock lived through."""

from .model import CHOICE, CODES, FLAG, INT, TEXT, Field, Kind, add

# How labels are printed and on what; the twin of METHODS and MATERIALS in bagtrail_labels.advice.
METHODS = ("direct_thermal", "thermal_wax", "thermal_resin", "laser", "inkjet", "pen", "marker")
MATERIALS = ("paper", "polypropylene", "polyester", "autoclave_film", "bag_film")
# Steps of the farm's own test, in order; true: the label came through it.
STEPS = ("print", "sterilise", "wipe_wet", "wipe_alcohol", "soak", "scan")
# A name of the table, a roll by its size, or the measures of a sheet as JSON.
STOCK = Field("stock", TEXT, max=400)

add(Kind("label.printed", "Labels were printed; old and new label of a code mean the same thing.",
    # Blank labels are nobody's yet: their codes are no subjects, or they would wait for a birth.
    sub=("B", "G", "M", "P", "S", "H", "K", "W"), subs=(0, 1_000),
    fields=(
        Field("n", INT, required=True, unit="labels", min=1, max=20_000),
        Field("job", CHOICE, required=True, choices=("first", "again", "blank")),
        STOCK,
        Field("codes", CODES, letters=("B", "G"), max=900),
    ),
    rules=("noted",),
    example={"sub": ["B0000001K"], "d": {"n": 1, "job": "again", "stock": "roll-50x30"}},
))  # fmt: skip

add(Kind("label.chosen", "The farm's own stock, language and layout of labels.",
    sub=(), subs=(0, 0), timed=False,
    fields=(
        Field("label_stock", TEXT, max=400),
        Field("method", CHOICE, choices=METHODS),
        Field("material", CHOICE, choices=MATERIALS),
        Field("label_language", TEXT, max=20),
        Field("label_address", TEXT, max=29),
        *(Field(f"layout_{of}", TEXT, max=200) for of in
          ("bag", "group", "place", "spawn", "load", "batch", "crate", "person")),
    ),
    effects=(("ref", "settings"),),
    example={"sub": [], "d": {"label_stock": "roll-50x30", "method": "thermal_resin",
             "material": "polyester", "layout_bag": "number large bold, batch, day"}},
))  # fmt: skip

add(Kind("label.tested", "The farm's own stock went through steam, wipes and soak; what came out.",
    sub=(), subs=(0, 0),
    fields=(
        Field("method", CHOICE, required=True, choices=METHODS),
        Field("material", CHOICE, required=True, choices=MATERIALS),
        *(Field(step, FLAG) for step in STEPS),
        STOCK,
        Field("temp", INT, unit="0.01 °C", max=20_000),
        Field("hold_min", INT, unit="min", max=10_000),
        Field("note", TEXT, max=500),
    ),
    example={"sub": [], "d": {"method": "thermal_resin", "material": "polyester", "print": True,
             "sterilise": True, "wipe_wet": True, "wipe_alcohol": True, "soak": True,
             "scan": True, "temp": 12_110, "hold_min": 150}},
))  # fmt: skip
