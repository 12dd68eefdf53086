"""A farm of model phones and everything that goes wrong, from one seed: same seed, same run.

Phones write, sync, lose requests and replies, are cloned, evicted and put back from backups of
their own; late duplicates arrive; the server is restarted, restored by the tool, put back as a file
without a word, and emptied. Afterwards everybody syncs until nothing moves, and `check` looks at
what is left.
"""

from __future__ import annotations

import json
import random
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.model import Cut, Kept, ModelPhone, Reply
from tests.wires import direct

START = 1_764_072_000_000
MINUTE = 60_000


class Server:
    """The farm's server as use cases in one folder, that can be put back to what it was."""

    def __init__(self, folder: Path, now: Callable[[], int], database: str = "") -> None:
        self.folder, self.now, self.database = folder, now, database
        self.log: Any = None
        self.open()

    def open(self) -> None:
        """Start as a process does."""
        from bagtrail import open_log, settings

        given = {"BAGTRAIL_DATA": str(self.folder), "BAGTRAIL_ZONE": "UTC"}
        if self.database:
            given["BAGTRAIL_DATABASE"] = self.database
        self.log = open_log(settings.load(given), self.now)
        self.log.epochs.start(self.now())

    def pair(self, role: str, name: str) -> dict[str, Any]:
        """Pair a device."""
        from bagtrail import devices

        code = devices.new_code(self.log, role)["code"]
        paired: dict[str, Any] = devices.pair(self.log, code, name, "", "sim")
        return paired

    def confirm(self) -> None:
        """Let the owner confirm all devices."""
        from bagtrail import devices

        devices.confirm(self.log, devices.owner_of(self.log))

    def restart(self) -> None:
        """Stop and start."""
        self.log.close()
        self.open()

    def save(self, to: Path) -> None:
        """Copy the database file while the server stands still."""
        self.log.close()
        shutil.copy(self.folder / "farm.db", to)
        self.open()

    def put_back(self, saved: Path, with_side: bool) -> None:
        """Put an older file in place; `with_side` takes what would tell it away as well."""
        self.log.close()
        for name in ("farm.db", "farm.db-wal", "farm.db-shm"):
            (self.folder / name).unlink(missing_ok=True)
        if with_side:
            (self.folder / "starts").unlink(missing_ok=True)
        shutil.copy(saved, self.folder / "farm.db")
        self.open()

    def empty(self) -> None:
        """Lose the database; the farm's identity is still there."""
        self.log.close()
        for name in ("farm.db", "farm.db-wal", "farm.db-shm"):
            (self.folder / name).unlink(missing_ok=True)
        self.open()

    def rows(self) -> list[Any]:
        """Return the whole log."""
        found: list[Any] = []
        with self.log.store.reading():
            while page := self.log.store.after(len(found), 1000):
                found += page
        return found


class Simulation:
    """One run."""

    def __init__(self, folder: Path, seed: int, phones: int = 5, steps: int = 120) -> None:
        self.rng = random.Random(seed)
        self.seed, self.steps = seed, steps
        self.time = START
        self.folder = folder
        self.server = Server(folder / "farm", lambda: self.time)
        self.saved: list[Path] = []
        self.delayed: list[tuple[str, str, Any, dict[str, str]]] = []
        self.phones: list[ModelPhone] = []
        self.images: list[ModelPhone] = []  # OS backups of phones
        self.story: list[str] = []
        self.clones = 0
        self._straight = direct(lambda: self.server.log, lambda: self.time)
        self.calm = False
        for i in range(phones):
            paired = self.server.pair("owner" if i == 0 else "worker", f"Phone {i}")
            phone = ModelPhone(self._send, paired, f"{seed}.{i}", lambda: self.time)
            self.phones.append(phone)
        self.codes = self._start_farm()

    def _start_farm(self) -> list[str]:
        first = self.phones[0]
        batch = self._code("M")
        bags = [self._code("B") for _ in range(8)]
        places = [self._code("P") for _ in range(3)]
        first.write("batch.mixed", [batch], {"name": "Mix 1", "moisture": 6_000})
        first.write("bag.filled", [batch], {"n": 8, "to": bags, "fill_g": 2_400})
        for i, place in enumerate(places):
            first.write("place.named", [place], {"name": f"Shelf {i}", "type": "shelf"})
        return [batch, *bags, *places]

    def _code(self, letter: str) -> str:
        from bagtrail import ids

        body = letter + "".join(self.rng.choice(ids.ALPHABET) for _ in range(7))
        return body + ids.check_symbol(body)

    # The network

    def _send(self, method: str, path: str, body: Any, headers: dict[str, str]) -> Reply:
        """Pass a request on, or not, or twice, or later."""
        luck = 1.0 if self.calm else self.rng.random()
        self.time += self.rng.randrange(5, 500)
        if luck < 0.08:
            raise Cut("dropped")
        if luck < 0.13 and method == "POST":
            self.delayed.append((method, path, json.loads(json.dumps(body)), headers))
            raise Cut("delayed: it arrives when the phone has given up")
        if luck < 0.18:
            self._straight(method, path, body, headers)
        reply = self._straight(method, path, body, headers)
        if 0.18 <= luck < 0.28:
            raise Cut("the reply was cut after COMMIT")
        return reply

    # What happens

    def run(self) -> None:
        """Let it all happen, then let it come to rest."""
        acts: list[tuple[float, Callable[[], None]]] = [
            (30, self._write), (30, self._sync), (6, self._late), (3, self._clock),
            (2, self._clone), (2, self._evict), (2, self._image), (2, self._phone_back),
            (2, self._restart), (3, self._save), (2, self._file_back), (1.5, self._restore),
            (0.7, self._empty), (2, self._confirm),
        ]  # fmt: skip
        for _ in range(self.steps):
            self.time += self.rng.randrange(1, 20 * MINUTE)
            act = self.rng.choices([a for _, a in acts], [w for w, _ in acts])[0]
            act()
        self.rest()

    def _phone(self) -> ModelPhone:
        return self.rng.choice(self.phones)

    def _write(self) -> None:
        phone, rng = self._phone(), self.rng
        batch, bags, places = self.codes[0], self.codes[1:9], self.codes[9:]
        for _ in range(rng.randrange(1, 6)):
            more: dict[str, Any] = {}
            if rng.random() < 0.25:
                more["on"] = {"ms": self.time - rng.randrange(0, 5 * 86_400_000), "p": "m"}
            kind = rng.randrange(7)
            bag = rng.choice(bags)
            if kind < 2:
                phone.write("bag.moved", [bag], {"to": rng.choice(places)}, **more)
            elif kind == 2:
                phone.write("bag.checked", rng.sample(bags, 2), {}, **more)
            elif kind == 3:
                told = {"g": rng.randrange(50, 900), "of": [[batch, ""]], "flush": 1}
                phone.write("bag.harvested", [bag], told, **more)
            elif kind == 4:
                phone.write("bag.sung_to", [bag], {"song": 5})  # a kind nobody knows
            elif kind == 5 and phone.kept:
                target = rng.choice(sorted(phone.kept.values(), key=lambda k: k.id))
                sub = json.loads(target.text)["sub"]
                phone.write("record.voided", sub, {"target": target.id[:36]})
            else:
                name = f"Shelf {rng.randrange(99)}"
                phone.write("place.named", [rng.choice(places)], {"name": name, "type": "shelf"})

    def _sync(self) -> None:
        self._phone().sync(rounds=self.rng.randrange(1, 8))

    def _late(self) -> None:
        """A request that was under way for long arrives; nobody waits for its reply."""
        if self.delayed:
            self._straight(*self.delayed.pop(self.rng.randrange(len(self.delayed))))

    def _clock(self) -> None:
        phone = self._phone()
        phone.skew = self.rng.choice([0, 0, 3_600_000, -3_600_000, 400 * 86_400_000])
        phone.quality = "sync" if phone.skew == 0 else self.rng.choice(["none", "stale", "jump"])

    def _clone(self) -> None:
        self.clones += 1
        self.phones.append(self._phone().clone(f"{self.seed}.clone{self.clones}"))
        self._tell("clone")

    def _evict(self) -> None:
        self._phone().evict()
        self._tell("evict")

    def _image(self) -> None:
        self.clones += 1
        self.images.append(self._phone().clone(f"{self.seed}.image{self.clones}"))

    def _phone_back(self) -> None:
        """A phone is put back from its OS backup: what it wrote since is smashed with it."""
        if self.images:
            image = self.images.pop(self.rng.randrange(len(self.images)))
            same = [i for i, p in enumerate(self.phones) if p.dev == image.dev]
            self.phones[self.rng.choice(same)] = image
            self._tell("phone put back")

    def _restart(self) -> None:
        self.server.restart()

    def _save(self) -> None:
        path = self.folder / f"saved{len(self.saved)}.db"
        self.server.save(path)
        self.saved.append(path)

    def _file_back(self) -> None:
        if self.saved:
            self.server.put_back(self.rng.choice(self.saved), self.rng.random() < 0.4)
            self._tell("file put back")

    def _restore(self) -> None:
        from bagtrail import backup, restore

        folder = self.folder / "backups"
        made = sorted(folder.glob("*.zip"))
        if not made or self.rng.random() < 0.5:
            backup.make(self.server.log, self.server.folder, folder, self.time)
        else:
            path = self.rng.choice(made)
            restore.restore(self.server.log, self.server.folder, path, self.time)
            self._tell("restored")

    def _empty(self) -> None:
        self.server.empty()
        self._tell("emptied")

    def _confirm(self) -> None:
        self.server.confirm()

    def _tell(self, what: str) -> None:
        self.story.append(f"{len(self.server.rows())} records: {what}")

    # The end

    def rest(self) -> None:
        """Calm network, right clocks, a confirming owner: sync until nobody has anything to say."""
        self.calm = True
        while self.delayed:
            self._late()
        self.held_texts = {k.text for p in self.phones for k in p.kept.values()}
        for phone in self.phones:
            phone.skew, phone.quality = 0, "sync"
        before: tuple[int, str] = (-1, "")
        for _ in range(30):
            for phone in self.rng.sample(self.phones, len(self.phones)):
                phone.retry_s = 0.0
                phone.sync()
                self.server.confirm()
            now = self._quiet()
            if now == before:
                return
            before = now
        raise AssertionError(f"seed {self.seed}: it never came to rest; {self.story}")

    def _quiet(self) -> tuple[int, str]:
        with self.server.log.store.reading():
            top = self.server.log.store.top()
        here = {p.cursor for p in self.phones} == {f"{top.epoch}.{top.pos}.{top.h}"}
        return (top.pos if here else -2, top.h)

    def check(self) -> None:
        """What must hold whatever happened.

        Raises:
            AssertionError: with the seed and the story.
        """
        rows = self.server.rows()
        story = f"seed {self.seed}; {self.story}"
        texts = [row.text for row in rows]
        assert not self.held_texts - set(texts), f"held records were lost; {story}"
        assert len(set(texts)) == len(texts), f"a record lies there twice; {story}"
        assert [row.pos for row in rows] == list(range(1, len(rows) + 1)), story
        self._check_chain(rows, story)
        by_id = {row.id: row for row in rows}
        for phone in self.phones:
            assert not phone.two_servers, f"a phone believes in two servers; {story}"
            for kept in phone.kept.values():
                self._check_kept(kept, by_id, story)
        live = self.server.log.live
        with live.now() as farm:
            from bagtrail.live import dumps

            mine = {row["unit"]: dumps(row) for row in farm.rows()}
            epochs = list(farm.index.epochs)
        assert live.refold()[1] == [], f"folding again gives another state; {story}"
        for phone in self.phones:
            assert phone.view(epochs) == mine, f"a phone sees another farm; {story}"

    def _check_kept(self, kept: Kept, by_id: dict[str, Any], story: str) -> None:
        said = json.loads(kept.receipt)
        row = by_id[said["id"]]
        assert (row.text, row.receipt, row.rmac) == (kept.text, kept.receipt, kept.rmac), story
        assert kept.state == "acked", story

    def _check_chain(self, rows: list[Any], story: str) -> None:
        import hashlib

        h = bytes(16)
        for row in rows:
            link = h + row.id.encode() + hashlib.sha256(row.text.encode()).digest()
            link += hashlib.sha256(row.receipt.encode()).digest()
            h = hashlib.sha256(link).digest()[:16]
            assert row.h == h.hex(), story
