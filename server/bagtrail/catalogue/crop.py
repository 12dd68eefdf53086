"""After the pick: packing, and notes on anything."""

from .model import CHOICE, INT, TEXT, TIME, Field, Kind, add

add(Kind("crop.packed", "Mushrooms were packed from crates or a batch.",
    sub=("K", "M"),
    fields=(
        Field("g", INT, required=True, unit="g net", min=1, max=10_000_000),
        Field("packs", INT, min=1, max=100_000),
        Field("grade", CHOICE, choices=("first", "second", "third")),
        Field("lot", TEXT, max=40),
        Field("best_before", TIME),
    ),
    example={"sub": ["K0000001B"], "d": {"g": 5_000, "packs": 20, "lot": "25 Nov A"}},
))  # fmt: skip

add(Kind("note.written", "A note on anything that has a code.",
    sub=("B", "G", "M", "P", "S", "H", "K", "W", "strain", "material", "recipe",
         "plan", "vessel"),
    fields=(Field("text", TEXT, required=True, max=2_000),),
    rules=("noted",),
    example={"sub": ["B0000001K"], "d": {"text": "patch torn, taped"}},
))  # fmt: skip
