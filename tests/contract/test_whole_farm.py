"""A farm that starts with 800 unlabelled bags: some get labels, others never do; totals stay exact.

Beside the fold runs a plain account in numbers, kept the way a grower keeps it on paper.
"""

from __future__ import annotations

import json
import random
from typing import Any

from bagtrail import ids, rules
from bagtrail.fold import Farm
from bagtrail.line import Line

from . import vectors as v

HOUR = 3_600_000
BATCH, ROOM, TROLLEY, FRUITING = "M0000001A", "P00000018", "P00000026", "P00000034"
STRAIN = "strain-00000000-0000-7000-8000-000000000101"
GROUP = "G0000001E"


def label(i: int) -> str:
    body = f"B{i:07d}"
    return body + ids.check_symbol(body)


class Shed:
    """Two phones writing into one log, and the account on paper."""

    def __init__(self) -> None:
        self.records: list[dict[str, Any]] = []
        self.farm = v.farm_of({}, [])
        self.lines: list[Line] = []

    def write(self, ty: str, sub: list[str], d: dict[str, Any], phone: str = "a") -> str:
        i = len(self.records) + 1
        self.records.append({"ty": ty, "sub": sub, "at": i * HOUR, "d": d, "st": phone * 16})
        line = v.lines({"records": self.records})[-1]
        self.lines.append(line)
        self.farm.unit(BATCH)  # a unit that was read is named again by all that touches it
        assert BATCH in self.farm.add(line)
        return str(line["id"])

    def split(self, of: str, phone: str = "a", **d: Any) -> str:
        return "g-" + self.write("group.split", [of], d, phone)

    def sums(self) -> dict[str, Any]:
        whole: dict[str, Any] = rules.summary(self.farm.unit(BATCH))["all"]
        return whole

    def agrees(self, *, bags: int, live: int, places: dict[str, int], parts: int) -> None:
        sums = self.sums()
        unit = self.farm.unit(BATCH)
        assert (sums["bags"], sums["live"]) == (bags, live)
        assert sums["places"] == places
        assert len(unit["parts"]) == parts
        assert sum(part["n"] for part in unit["parts"].values()) == bags


def test_800_bags_some_labelled_some_never() -> None:
    shed = Shed()
    stock = "g-" + shed.write(
        "stock.opened", [BATCH],
        {"name": "Before 24 Nov", "n": 800, "stage": "spawn_run", "strain": STRAIN,
         "fill_g": 2_500, "moisture": 6_000, "place": ROOM},
    )  # fmt: skip
    shed.agrees(bags=800, live=800, places={ROOM: 800}, parts=1)

    # A hundred get labels, twenty at a time, from two phones.
    for row in range(5):
        labels = [label(row * 20 + i) for i in range(1, 21)]
        shed.split(stock, phone="ab"[row % 2], to=labels)
        shed.agrees(bags=800, live=800, places={ROOM: 800}, parts=1 + (row + 1) * 20)
    assert shed.farm.unit(BATCH)["parts"][stock]["n"] == 700

    # A trolley of sixty under one group tag; the trolley is rolled, then they are carried off it.
    shed.split(stock, n=60, to=[GROUP])
    shed.write("bag.moved", [GROUP], {"to": TROLLEY})
    shed.agrees(bags=800, live=800, places={ROOM: 740, TROLLEY: 60}, parts=102)
    shed.write("bag.moved", [label(1), label(2)], {"to": TROLLEY}, "b")
    shed.agrees(bags=800, live=800, places={ROOM: 738, TROLLEY: 62}, parts=102)

    # Twelve without labels have green mould and go; one labelled bag is set apart.
    bad = {"sign": "green_mould", "where": "top", "kept": "thrown_out"}
    shed.write("bag.contaminated", [shed.split(stock, n=12)], bad)
    shed.agrees(bags=800, live=788, places={ROOM: 726, TROLLEY: 62}, parts=103)
    shed.write("bag.contaminated", [label(3)], {**bad, "kept": "kept_apart"}, "b")
    assert shed.sums()["bad"] == 13
    assert shed.sums()["ends"] == {"dumped": 12}

    # Two phones without signal each take 400 of the 628 that are left: one too many is a question.
    first = shed.split(stock, n=400)
    second = shed.split(stock, phone="b", n=400)
    shed.agrees(bags=800, live=788, places={ROOM: 726, TROLLEY: 62}, parts=105)
    assert shed.farm.unit(BATCH)["parts"][stock]["n"] == 628 - 800
    assert [q["rule"] for q in shed.farm.unit(BATCH)["questions"]] == ["count_negative"]

    # The second phone's split is taken back: the bags are in the stock again, nobody is asked.
    shed.write("record.voided", [stock], {"target": second[2:]})
    shed.agrees(bags=800, live=788, places={ROOM: 726, TROLLEY: 62}, parts=104)
    assert shed.farm.unit(BATCH)["questions"] == []
    assert shed.farm.unit(BATCH)["parts"][stock]["n"] == 228

    # Counted again on the shelf: five more than thought.
    shed.write("group.corrected", [stock], {"by": 5, "why": "counted again"})
    shed.agrees(bags=805, live=793, places={ROOM: 731, TROLLEY: 62}, parts=104)

    # Everything on the trolley goes to the fruiting room, is opened there and picked.
    shed.write("bag.moved", [TROLLEY], {"to": FRUITING})
    shed.write("bag.opened", [FRUITING], {"how": "slit"})
    shed.agrees(bags=805, live=793, places={ROOM: 731, FRUITING: 62}, parts=104)
    assert shed.sums()["stages"] == {"spawn_run": 731, "fruiting": 62}
    shed.write("bag.harvested", [FRUITING], {"g": 24_800, "of": [[BATCH, STRAIN]], "flush": 1})
    shed.write("bag.harvested", [label(1)], {"g": 450, "of": [[BATCH, STRAIN]], "flush": 2})
    assert shed.sums()["flushes"] == {"1": 24_800, "2": 450}
    # 805 bags of 2.5 kg at 60 % are 805 kg dry; 25.25 kg are 3.1366 %.
    assert (shed.sums()["dry_g"], shed.sums()["be"]) == (805_000, 314)

    # The 400 that never had a label are sold as they stand.
    shed.write("bag.finished", [first], {"cause": "sold"})
    shed.agrees(bags=805, live=393, places={ROOM: 331, FRUITING: 62}, parts=104)
    assert shed.sums()["ends"] == {"dumped": 12, "sold": 400}

    # Whatever the order of arrival, the farm is the same to the byte.
    rows = json.dumps(list(shed.farm.rows()), sort_keys=True)
    for seed in range(5):
        shuffled = [*shed.lines, *shed.lines]
        random.Random(seed).shuffle(shuffled)
        other: Farm = v.farm_of({}, shuffled)
        assert json.dumps(list(other.rows()), sort_keys=True) == rows
