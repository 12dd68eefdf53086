"""What is done to bags and seen on them; every kind takes bags, groups, batches or places."""

from .model import CHOICE, CODE, FLAG, INT, OF, TEXT, Field, Kind, add

ANY = ("B", "G", "M", "P", "S", "H")

# The trade's names; what each looks like is in the locale files (`choice.sign.*.looks`).
SIGNS = ("green_mould", "orange_mould", "blue_green_mould", "black_mould", "pin_mould",
         "cobweb", "wet_spot", "blotch", "lipstick_mould", "slime_mould", "mites", "flies",
         "other")  # fmt: skip
SPOTS = ("top", "spawn", "side", "bottom", "patch", "seam", "hole", "throughout")
DISORDERS = ("deformed", "long_stem", "stroma", "bumps_only", "early_pins", "exudate", "stalled",
             "aborts", "cracked_caps", "other")  # fmt: skip

add(Kind("bag.weighed", "One bag on the scale: filled, cooled, before or after soaking.",
    sub=("B", "G"),
    fields=(
        Field("g", INT, required=True, unit="g", min=1, max=100_000),
        Field("when", CHOICE, required=True,
              choices=("filled", "cooled", "before_soak", "after_soak", "other")),
    ),
    effects=(("append", "weights", ("g", "when")),),
    reach="stood",
    example={"sub": ["B0000001K"], "d": {"g": 2_380, "when": "cooled"}},
))  # fmt: skip

add(Kind("bag.inoculated", "Spawn went in; the strain follows from the spawn lot.",
    sub=ANY, reach="stood", alive=True,
    fields=(
        Field("spawn", CODE, letters=("S",)),
        Field("strain", CODE, letters=("strain",)),
        Field("spawn_g", INT, unit="g a bag", min=1, max=10_000),
        Field("override", FLAG),
    ),
    effects=(("stage", "spawn_run"),),
    rules=("inoculated",),
    example={"sub": ["B0000001K"], "d": {"spawn": "S00000015"}},
))  # fmt: skip

add(Kind("bag.moved", "Bags were carried to a place.",
    sub=ANY, reach="stood", alive=True,
    fields=(Field("to", CODE, required=True, letters=("P",)),),
    effects=(("stand", "to"),),
    rules=("moved",),
    example={"sub": ["B0000001K"], "d": {"to": "P00000018"}},
))  # fmt: skip

add(Kind("bag.checked", "Somebody looked at it and it was as it should be.",
    sub=ANY, reach="stood",
    effects=(("put", "checked", ()),),
    example={"sub": ["P00000018"], "except": ["B0000001K"], "d": {}},
))  # fmt: skip

add(Kind("bag.colonised", "The mycelium has run through the block.",
    sub=ANY, reach="stood", alive=True,
    effects=(("stage", "colonised"),),
    example={"sub": ["B0000001K"], "d": {}},
))  # fmt: skip

add(Kind("bag.contaminated", "Something else grows in it: which sign, where, and what was done.",
    sub=ANY, reach="seen",
    fields=(
        Field("sign", CHOICE, required=True, choices=SIGNS),
        Field("where", CHOICE, required=True, choices=SPOTS),
        Field("kept", CHOICE, required=True, choices=("kept_apart", "thrown_out")),
        Field("to", CODE, letters=("P",)),
    ),
    effects=(("put", "bad", ("sign", "where", "kept")), ("stand", "to"),
             ("end_if", "kept", "thrown_out", "dumped")),
    example={"sub": ["B0000001K"],
             "d": {"sign": "green_mould", "where": "top", "kept": "thrown_out"}},
))  # fmt: skip

add(Kind("bag.malformed", "It grew abnormally, without a contaminant.",
    sub=ANY, reach="seen",
    fields=(Field("sign", CHOICE, required=True, choices=DISORDERS), Field("note", TEXT, max=500)),
    effects=(("put", "odd", ("sign",)),),
    example={"sub": ["B0000001K"], "d": {"sign": "stroma"}},
))  # fmt: skip

add(Kind("bag.opened", "The bag was opened for fruiting.",
    sub=ANY, reach="stood", alive=True,
    fields=(Field("how", CHOICE, required=True, choices=("top_cut", "slit", "stripped")),),
    effects=(("stage", "fruiting"), ("put", "opened", ("how",))),
    example={"sub": ["B0000001K"], "d": {"how": "top_cut"}},
))  # fmt: skip

add(Kind("bag.soaked", "The block stood in water.",
    sub=ANY, reach="stood", alive=True,
    fields=(
        Field("minutes", INT, unit="min", min=1, max=10_000),
        Field("water_temp", INT, unit="0.01 °C", max=10_000),
    ),
    effects=(("stage", "fruiting"), ("add", "soaks", 1)),
    rules=("new_flush",),
    example={"sub": ["B0000001K"], "d": {"minutes": 720}},
))  # fmt: skip

add(Kind("bag.shocked", "The block was chilled to start fruiting.",
    sub=ANY, reach="stood", alive=True,
    fields=(
        Field("temp", INT, unit="0.01 °C", min=-2_000, max=4_000),
        Field("hours", INT, unit="h", min=1, max=1_000),
    ),
    effects=(("stage", "fruiting"), ("add", "shocks", 1)),
    rules=("new_flush",),
    example={"sub": ["B0000001K"], "d": {"temp": 400, "hours": 24}},
))  # fmt: skip

add(Kind("bag.harvested", "Mushrooms were picked: net grams of what, and which batch they came of.",
    sub=("B", "G", "M", "P"), reach="stood", alive=True,
    fields=(
        Field("g", INT, required=True, unit="g net", min=1, max=10_000_000),
        Field("of", OF, required=True, min=1, max=100),
        Field("flush", INT, required=True, min=1, max=30),
        Field("tare_g", INT, unit="g", max=100_000),
        Field("grade", CHOICE, choices=("first", "second", "third")),
        Field("crate", CODE, letters=("K",)),
        Field("done", FLAG),
    ),
    effects=(("stage", "fruiting"),),
    rules=("harvested",),
    example={"sub": ["B0000001K"], "d": {"g": 412, "of": [["M0000001A", ""]], "flush": 1}},
))  # fmt: skip

add(Kind("bag.photographed", "A photograph was taken; the picture is kept beside the log.",
    sub=ANY, reach="stood",
    fields=(
        Field("sha256", TEXT, required=True, max=64),
        Field("bytes", INT, required=True, unit="bytes", min=1, max=2_097_152),
        Field("note", TEXT, max=200),
    ),
    example={"sub": ["B0000001K"], "d": {"sha256": "0" * 64, "bytes": 412_000}},
))  # fmt: skip

add(Kind("bag.finished", "Its life here is over: spent, dumped, sold, burst or melted, and why.",
    sub=ANY, reach="seen", alive=True,
    fields=(
        Field("cause", CHOICE, required=True,
              choices=("spent", "dumped", "sold", "burst", "melted")),
        Field("why", TEXT, max=200),
    ),
    effects=(("end", "cause"),),
    example={"sub": ["B0000001K"], "d": {"cause": "spent"}},
))  # fmt: skip
