"""The demo farm: invented places, people, strains and bags, planted as real records.

Everything is deterministic but the day: dates count back from the moment of planting, so the farm
always looks lived in. The records come in through ``sync.accept`` like a phone's.
"""

from __future__ import annotations

import json
import random
import uuid
from typing import Any

from . import ids, keys
from .demo_loads import Vessels, loads_of_every_state
from .demo_loads import log as read_log
from .devices import owner_of, revoke
from .errors import AppError
from .intake import Caller
from .sync import Log, now_ms

NAME = "Heron Mill (demo)"
SEED = 20_251_125
DAY = 86_400_000
HOUR = 3_600_000
CHUNK = 300
Code = str


class Pen:
    """Collects acts in any order and writes them as one device's stream, oldest first."""

    def __init__(self, log: Log, by: str, now: int) -> None:
        self.rng = random.Random(SEED)
        self._log, self._by, self._now = log, by, now
        self._midnight = now - now % DAY
        self._acts: list[tuple[int, int, dict[str, Any]]] = []

    def code(self, letter: str) -> Code:
        """Returns a new code of a type."""
        body = letter + "".join(self.rng.choice(ids.ALPHABET) for _ in range(7))
        return body + ids.check_symbol(body)

    def codes(self, letter: str, n: int) -> list[Code]:
        """Returns several new codes of a type."""
        return [self.code(letter) for _ in range(n)]

    def act(
        self,
        day: float,
        kind: str,
        sub: list[Code],
        hour: float = 9,
        but: list[Code] | None = None,
        **d: Any,
    ) -> str:
        """Notes an act of so many days ago and returns the id of its record.

        A subject that is a bare word (strain, material, recipe) becomes a named one; ``but`` are
        the parts that the act leaves out.
        """
        at = self.at(day, hour)
        raw = (at << 80) | (0x7 << 76) | (self.rng.getrandbits(12) << 64)
        id_ = str(uuid.UUID(int=raw | (0b10 << 62) | self.rng.getrandbits(62)))
        sub = [f"{s}-{id_}" if s in ids.WORDS else s for s in sub]
        act = {"id": id_, "ty": kind, "sub": sub, "d": d}
        if but:
            act["except"] = but
        self._acts.append((at, len(self._acts), act))
        return id_

    def at(self, day: float, hour: float) -> int:
        """Returns the moment of an act: so many days ago at that hour, never in the future."""
        return int(min(self._midnight - day * DAY + hour * HOUR, self._now - HOUR // 2))

    def named(self, day: float, kind: str, **d: Any) -> Code:
        """Notes a strain, material or recipe and returns its name in the log."""
        word = kind.split(".")[0]
        return f"{word}-{self.act(day, kind, [word], hour=8, **d)}"

    def write(self) -> int:
        """Pushes everything that was noted; returns the number of records."""
        log, dev = self._log, "d" + f"{self.rng.getrandbits(64):016x}"
        st = f"{self.rng.getrandbits(64):016x}"
        with log.store.writing():
            log.store.put_device(
                dev=dev, gen=1, role="owner", person=self._by, name="Demo phone", letter="Z",
                state="paired", made=self._now, seen=self._now,
            )  # fmt: skip
            told = {"dev": dev, "gen": 1, "name": "Demo phone", "role": "owner", "letter": "Z"}
            log.write("device.paired", [self._by], told, self._by)
        key = log.identity.stream_key(dev, 1, st)
        caller = Caller(dev, 1, "owner", self._by, "paired")
        records, last = [], 0
        for sq, (at, _, act) in enumerate(sorted(self._acts, key=lambda a: a[:2]), start=1):
            last = max(at, last + 1)
            record = {
                "v": 1, "dev": dev, "gen": 1, "st": st, "sq": sq, "at": last,
                "cl": {"w": last, "o": 0, "q": "sync"}, "tz": 0, "tv": 1,
                "base": "", "by": self._by, **act,
            }  # fmt: skip
            text = json.dumps(record, ensure_ascii=False, separators=(",", ":"))
            records.append([text, keys.mac(key, text)])
        for i in range(0, len(records), CHUNK):
            push = {
                "farm": log.identity.farm, "proof": "", "nonce": f"demo{i}", "now": self._now,
                "st": st, "pending": 0, "oldest": 0, "records": records[i : i + CHUNK],
            }  # fmt: skip
            wrong = [r for r in log.accept(caller, push, self._now)["r"] if r[1] != "ok"]
            if wrong:
                raise AppError(f"The demo farm has a record that does not fold: {wrong[0][:2]}.")
        revoke(log, dev, "the demo farm is planted", self._by)
        return len(records)


def plant_once(log: Log) -> int:
    """Plants the demo farm in a farm that has no place yet; returns its records, 0 if it had."""
    if log.live.ref("places"):
        return 0
    pen = Pen(log, owner_of(log), now_ms())
    farm = Ground(pen)
    opening_stock(pen, farm)
    old_shiitake(pen, farm)
    oysters(pen, farm)
    two_strains(pen, farm)
    on_the_trolley(pen, farm)
    just_filled(pen, farm)
    loads_of_every_state(pen, farm)
    return pen.write()


class Ground:
    """Places, people, strains, spawn lots, materials and recipes of the demo farm."""

    def __init__(self, pen: Pen) -> None:
        self.pen = pen
        self.person(150, "Ines", "manager")
        self.person(150, "Tomo", "worker")
        self.run_room = self.place("Run room", "room", None, 2_000)
        self.fruit_room = self.place("Fruiting room", "room", None, 900)
        self.cold = self.place("Cold store", "cold_store", None, 200)
        self.rack_a = self.place("Rack A", "rack", self.run_room, 400)
        self.rack_b = self.place("Rack B", "rack", self.run_room, 400)
        self.rack_f = self.place("Rack F", "rack", self.fruit_room, 240)
        self.shelves_a = [self.place(f"Shelf A{i}", "shelf", self.rack_a, 100) for i in (1, 2, 3)]
        self.shelves_f = [self.place(f"Shelf F{i}", "shelf", self.rack_f, 60) for i in (1, 2, 3)]
        self.vessels = Vessels(pen)
        self.trolley = self.place("Trolley 1", "trolley", self.run_room, 60)
        strain = "strain.named"
        self.fen = pen.named(150, strain, name="Fen 4", species="Lentinula edodes",
                             source="own culture")  # fmt: skip
        self.heron = pen.named(150, strain, name="Heron 7", species="Lentinula edodes")
        self.sallow = pen.named(150, strain, name="Sallow 2", species="Pleurotus ostreatus")
        self.fen_lot = self.spawn(120, self.fen, "sawdust", 40)
        self.sallow_lot = self.spawn(75, self.sallow, "grain", 20)
        self.heron_lot = self.spawn(40, self.heron, "grain", 16)
        self.fen_made = pen.code("S")
        pen.act(45, "spawn.made", [self.fen_made], 15, parent=self.fen_lot, carrier="sawdust",
                generation=2, test="clean", units=30, unit_g=2_000)  # fmt: skip
        # Grams, moisture in 0.01 %, pence a lot, g/L.
        lots = (("Oak sawdust", 2_400_000, 3_800, 21_600, 260),
                ("Wheat bran", 500_000, 1_200, 19_500, 250),
                ("Beech sawdust", 1_500_000, 3_500, 13_500, 250), ("Gypsum", 50_000, 0, 1_750, 960),
                ("Calcium carbonate", 25_000, 0, 1_100, 1_100))  # fmt: skip
        for name, mass, moisture, price, bulk in lots:
            wood = "sawdust" in name
            more: dict[str, Any] = {"wood": True, "untreated": True} if wood else {}
            if "bran" in name:
                more |= {"allergens": "wheat", "organic": "GB-ORG-00 / 1234"}
            pen.named(140, "material.received", name=name, mass_g=mass, moisture=moisture,
                      price_minor=price, bulk_g_l=bulk, grade="supplier",
                      supplier="Weir Lane Sawmill" if wood else "Brook Farm Supply",
                      **more)  # fmt: skip
        pen.act(139, "farm.equipped", [], 8, mixer_g=120_000, mixer_ml=300_000, rotating=True,
                fill_g=2_400, loss_g=50, bag_minor=18, tolerance=200)  # fmt: skip
        self.oak = self.recipe("Oak 80/18", 6_000, ("Oak sawdust", 8_000), ("Wheat bran", 1_800),
                               ("Gypsum", 200))  # fmt: skip
        self.beech = self.recipe("Beech 88/10", 6_300, ("Beech sawdust", 8_800),
                                 ("Wheat bran", 1_000), ("Calcium carbonate", 200))  # fmt: skip

    def person(self, day: float, name: str, role: str) -> None:
        self.pen.act(day, "person.named", [self.pen.code("W")], 7, name=name, role=role)

    def place(self, name: str, kind: str, within: Code | None, holds: int) -> Code:
        code = self.pen.code("P")
        inside: dict[str, Any] = {"within": within} if within else {}
        self.pen.act(150, "place.named", [code], 7.5, name=name, type=kind, holds=holds, **inside)
        return code

    def spawn(self, day: float, strain: Code, carrier: str, units: int) -> Code:
        code = self.pen.code("S")
        self.pen.act(day, "spawn.received", [code], 14, strain=strain, carrier=carrier,
                     supplier="Willow Bench Spawn", units=units, unit_g=2_500,
                     generation=1)  # fmt: skip
        return code

    def recipe(self, name: str, moisture: int, *parts: tuple[str, int]) -> dict[str, Any]:
        shares = [{"name": n, "share": s} for n, s in parts]
        code = self.pen.named(139, "recipe.written", name=name, parts=shares, moisture=moisture)
        return {"recipe": code, "recipe_name": name, "parts": shares, "moisture": moisture}

    def batch(
        self,
        day: float,
        name: str,
        recipe: dict[str, Any],
        n: int,
        labels: int,
        place: Code,
        steamed: bool = False,
    ) -> tuple[Code, list[Code], Code]:
        """Mixes, fills and sterilises a batch; returns its code, labels and unlabelled group."""
        pen = self.pen
        batch, bags = pen.code("M"), pen.codes("B", labels)
        pen.act(day, "batch.mixed", [batch], 8, name=name, wet_g=n * 2_400 + 1_500, **recipe)
        told: dict[str, Any] = {"to": bags, "first": "1"} if bags else {}
        birth = pen.act(day, "bag.filled", [batch], 11, n=n, fill_g=2_400, place=place, **told)
        self.load = self.vessels.run(day, [batch], steamed)
        return batch, bags, f"g-{birth}"

    def split(self, day: float, group: Code, n: int, hour: float = 10) -> Code:
        """Takes n unlabelled bags out of a group and returns the new part."""
        return f"g-{self.pen.act(day, 'group.split', [group], hour, n=n)}"


def opening_stock(pen: Pen, farm: Ground) -> None:
    """800 bags that stood there before: counted, some labelled later, most never."""
    batch, labels = pen.code("M"), pen.codes("B", 24)
    birth = pen.act(110, "stock.opened", [batch], 10, name="Before Bagtrail", n=800,
                    stage="spawn_run", strain=farm.fen, fill_g=2_400, moisture=6_000,
                    place=farm.rack_b)  # fmt: skip
    group = f"g-{birth}"
    pen.act(108, "group.split", [group], 11, to=labels, first="S1")
    pen.act(107, "group.corrected", [group], 16, by=-4, why="counted again")
    bad = farm.split(95, group, 31)
    pen.act(95, "bag.contaminated", [bad], 10.2, sign="green_mould", where="side",
            kept="thrown_out")  # fmt: skip
    pen.act(70, "bag.colonised", [batch], 15)
    fruiting = farm.split(55, group, 120, 9)
    pen.act(55, "bag.moved", [fruiting], 9.2, to=farm.fruit_room)
    pen.act(54, "bag.opened", [fruiting], 9, how="stripped")
    for day, kilos in ((44, 21_400), (43, 14_850), (41, 6_300)):
        pen.act(day, "bag.harvested", [fruiting], 8, g=kilos, of=[[batch, farm.fen]], flush=1,
                tare_g=1_800, grade="first")  # fmt: skip
    pen.act(30, "bag.soaked", [fruiting], 17, minutes=720, water_temp=1_200)
    pen.act(21, "bag.harvested", [fruiting], 8, g=18_900, of=[[batch, farm.fen]], flush=2,
            tare_g=1_800, grade="second")  # fmt: skip


def old_shiitake(pen: Pen, farm: Ground) -> None:
    """Sixty bags, two flushes in, resting."""
    batch, bags, group = farm.batch(98, "Old oak A1", farm.oak, 60, 24, farm.shelves_a[0])
    pen.act(97, "bag.inoculated", [batch], 10, spawn=farm.fen_lot, spawn_g=95)
    for day, code, sign, where in ((80, bags[3], "green_mould", "top"),
                                   (71, bags[17], "orange_mould", "patch")):  # fmt: skip
        pen.act(day, "bag.contaminated", [code], 10, sign=sign, where=where, kept="thrown_out")
    bad = farm.split(64, group, 2)
    pen.act(64, "bag.contaminated", [bad], 10.2, sign="black_mould", where="seam",
            kept="kept_apart", to=farm.cold)  # fmt: skip
    pen.act(30, "bag.colonised", [batch], 9, but=[bad])
    pen.act(24, "bag.moved", [batch], 10, but=[bad], to=farm.shelves_f[0])
    pen.act(23, "bag.opened", [batch], 10, but=[bad], how="stripped")
    of = [[batch, farm.fen]]
    for bag in bags[:3] + bags[4:12]:
        pen.act(16, "bag.harvested", [bag], 8, g=pen.rng.randrange(210, 420), of=of, flush=1)
    pen.act(15, "bag.harvested", [farm.shelves_f[0]], 8, g=11_650, of=of, flush=1, tare_g=900)
    pen.act(12, "bag.soaked", [farm.shelves_f[0]], 17, minutes=840)
    pen.act(4, "bag.harvested", [farm.shelves_f[0]], 8, g=7_240, of=of, flush=2, tare_g=900,
            done=True)  # fmt: skip
    crate = pen.code("K")
    pen.act(4, "crop.packed", [crate], 11, g=6_800, packs=34, grade="first", lot="Old oak A1")


def oysters(pen: Pen, farm: Ground) -> None:
    """Forty bags that fruit early: every bag labelled, first flush picked, some spent."""
    batch, bags, _ = farm.batch(62, "Beech B1", farm.beech, 40, 40, farm.shelves_a[1],
                                steamed=True)  # fmt: skip
    pen.act(61, "bag.inoculated", [batch], 10, spawn=farm.sallow_lot, spawn_g=110)
    for code, sign in ((bags[8], "wet_spot"), (bags[9], "green_mould"), (bags[30], "cobweb")):
        pen.act(49, "bag.contaminated", [code], 10, sign=sign, where="spawn", kept="thrown_out")
    pen.act(41, "bag.colonised", [batch], 9)
    pen.act(39, "bag.moved", [batch], 9, to=farm.shelves_f[1])
    pen.act(38, "bag.opened", [batch], 10, how="slit")
    of = [[batch, farm.sallow]]
    for i, bag in enumerate(bags):
        if i not in (8, 9, 30):
            pen.act(31 + i % 2, "bag.harvested", [bag], 8 + i / 40, of=of, flush=1,
                    g=pen.rng.randrange(340, 620))  # fmt: skip
    pen.act(14, "bag.harvested", [farm.shelves_f[1]], 8, g=6_120, of=of, flush=2, tare_g=900)
    pen.act(6, "bag.finished", bags[:8], 16, cause="spent")
    pen.act(9, "bag.malformed", [bags[22]], 9, sign="long_stem", note="far corner, little air")


def two_strains(pen: Pen, farm: Ground) -> None:
    """Eighty bags of one mix, split between two strains, in the spawn run."""
    batch, bags, group = farm.batch(33, "Oak C1", farm.oak, 80, 30, farm.shelves_a[2])
    read_log(pen, 33, farm.load)
    pen.act(32, "bag.inoculated", bags, 10, spawn=farm.heron_lot, spawn_g=90)
    pen.act(32, "bag.inoculated", [group], 11, spawn=farm.fen_made, spawn_g=95)
    pen.act(20, "bag.checked", [farm.shelves_a[2]], 9)
    bad = farm.split(18, group, 3)
    pen.act(18, "bag.contaminated", [bad], 10.2, sign="green_mould", where="throughout",
            kept="thrown_out")  # fmt: skip
    pen.act(18, "bag.contaminated", [bags[5]], 10.5, sign="pin_mould", where="top",
            kept="thrown_out")  # fmt: skip
    pen.act(2, "note.written", [bags[11]], 9, text="runs slower than its neighbours")


def on_the_trolley(pen: Pen, farm: Ground) -> None:
    """Sixty bags under one group tag, rolled in on a trolley ten days ago."""
    batch, tag = pen.code("M"), pen.code("G")
    pen.act(11, "batch.mixed", [batch], 8, name="Beech D1", wet_g=145_500, **farm.beech)
    pen.act(11, "bag.filled", [batch], 11, n=60, fill_g=2_400, to=[tag], place=farm.trolley)
    farm.vessels.run(11, [tag], steamed=True)
    pen.act(10, "bag.inoculated", [farm.trolley], 10, spawn=farm.sallow_lot, spawn_g=110)
    pen.act(10, "place.moved", [farm.trolley], 12, to=farm.run_room)


def just_filled(pen: Pen, farm: Ground) -> None:
    """Forty-eight bags filled and steamed yesterday, waiting for spawn."""
    batch, bags, _ = farm.batch(1, "Oak E1", farm.oak, 48, 48, farm.cold)
    for bag in bags[:4]:
        pen.act(0.4, "bag.weighed", [bag], 17, g=pen.rng.randrange(2_350, 2_400), when="cooled")
