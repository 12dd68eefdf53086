"""Records about records: nothing is ever rewritten, so a correction is a record too.

Each names as subjects the subjects of its target, so that it finds the way to the same units.
"""

from .model import FIELDS, ID, TEXT, WAS, Field, Kind, add

ANYTHING = ("B", "G", "M", "P", "S", "H", "K", "W", "strain", "material", "recipe",
            "plan", "vessel")  # fmt: skip

add(Kind("record.voided", "A record does not count, for all of its subjects or for those named.",
    sub=ANYTHING, subs=(0, 1_000), timed=False,
    fields=(Field("target", ID, required=True), Field("why", TEXT, max=200)),
    rules=("voided",),
    example={"sub": ["B0000001K"], "d": {"target": "00000000-0000-7000-8000-000000000009"}},
))  # fmt: skip

add(Kind("record.amended", "Fields of a record were wrong; its kind and subjects stay.",
    sub=ANYTHING, subs=(0, 1_000), timed=False,
    fields=(
        Field("target", ID, required=True),
        Field("fields", FIELDS, max=20),
        Field("was", WAS),
        Field("why", TEXT, max=200),
    ),
    rules=("amended",),
    example={"sub": ["B0000001K"],
             "d": {"target": "00000000-0000-7000-8000-000000000009", "fields": {"g": 421}}},
))  # fmt: skip

add(Kind("record.admitted", "A held record was looked at by the owner or a manager and counts.",
    sub=ANYTHING, subs=(0, 1_000), timed=False,
    fields=(Field("target", ID, required=True), Field("why", TEXT, max=200)),
    rules=("admitted",),
    example={"sub": [], "d": {"target": "00000000-0000-7000-8000-000000000009"}},
))  # fmt: skip

add(Kind("question.answered", "A person answered what two records could not settle.",
    sub=ANYTHING, subs=(0, 1_000), timed=False,
    fields=(Field("question", TEXT, required=True, max=200), Field("choice", TEXT, required=True,
            max=40)),
    rules=("answered",),
    example={"sub": ["B0000001K"], "d": {"question": "two_places:…", "choice": "seen"}},
))  # fmt: skip
