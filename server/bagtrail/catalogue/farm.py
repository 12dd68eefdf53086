"""The farm itself: its settings, its people and its devices."""

from .model import CHOICE, INT, TEXT, Field, Kind, add

ROLES = ("owner", "manager", "worker")

add(Kind("farm.named", "The farm's name, time zone and money; days already past do not move.",
    sub=(), subs=(0, 0), timed=False,
    fields=(
        Field("name", TEXT, required=True, max=60),
        Field("zone", TEXT, required=True, max=60),
        Field("currency", TEXT, max=3),
    ),
    effects=(("ref", "settings"),),
    example={"sub": [], "d": {"name": "Alder Hollow", "zone": "Europe/London", "currency": "GBP"}},
))  # fmt: skip

add(Kind("person.named", "A person who works here.",
    sub=("W",), subs=(1, 1), timed=False,
    fields=(
        Field("name", TEXT, required=True, max=60),
        Field("role", CHOICE, required=True, choices=ROLES),
    ),
    effects=(("ref", "people"),),
    example={"sub": ["W00000012"], "d": {"name": "Mira", "role": "owner"}},
))  # fmt: skip

add(Kind("device.paired", "A phone, tablet or computer was paired and given to a person.",
    sub=("W",), subs=(1, 1), timed=False,
    fields=(
        Field("dev", TEXT, required=True, max=17),
        Field("gen", INT, required=True, min=1, max=1_000),
        Field("name", TEXT, required=True, max=60),
        Field("role", CHOICE, required=True, choices=ROLES),
        Field("letter", TEXT, required=True, max=2),
    ),
    rules=("device",),
    example={"sub": ["W00000012"], "d": {"dev": "d0123456789abcdef", "gen": 1,
             "name": "Shed phone", "role": "worker", "letter": "B"}},
))  # fmt: skip

add(Kind("device.revoked", "A device is no longer trusted; what it still sends is kept and held.",
    sub=("W",), subs=(0, 1), timed=False,
    fields=(Field("dev", TEXT, required=True, max=17), Field("why", TEXT, max=200)),
    rules=("device",),
    example={"sub": [], "d": {"dev": "d0123456789abcdef", "why": "lost"}},
))  # fmt: skip
