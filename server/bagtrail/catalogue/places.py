"""Places: rooms, racks, shelves, trolleys, cold stores, and where they stand."""

from .model import CHOICE, CODE, INT, TEXT, Field, Kind, add

PLACE_TYPES = ("room", "rack", "shelf", "trolley", "cold_store")

add(Kind("place.named", "A room, rack, shelf, trolley or cold store gets a name or a new one.",
    sub=("P",), subs=(1, 1), timed=False,
    fields=(
        Field("name", TEXT, required=True, max=60),
        Field("type", CHOICE, required=True, choices=PLACE_TYPES),
        Field("within", CODE, letters=("P",)),
        Field("holds", INT, unit="bags", min=1, max=100_000),
    ),
    effects=(("ref", "places"),),
    rules=("place_tree",),
    example={"sub": ["P00000018"], "d": {"name": "Rack 2", "type": "rack", "holds": 120}},
))  # fmt: skip

add(Kind("place.moved", "A trolley or rack is rolled elsewhere with all that stands on it.",
    sub=("P",), subs=(1, 1),
    fields=(Field("to", CODE, letters=("P",)),),
    rules=("place_tree",),
    example={"sub": ["P00000018"], "d": {"to": "P00000026"}},
))  # fmt: skip
