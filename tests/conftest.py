"""What several folders of tests share: a farm's server in this process, and phones on it."""

from __future__ import annotations

import gzip
import json
import random
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.postgres import Cluster, cluster

NOW = 1_764_072_000_000  # 25 Nov 2025 12:00 UTC; tests that look at clocks pass it in


def uuid7(rng: random.Random, at: int) -> str:
    """Returns a record id of version 7 for a time in ms."""
    raw = (at << 80) | (0x7 << 76) | (rng.getrandbits(12) << 64)
    return str(uuid.UUID(int=raw | (0b10 << 62) | rng.getrandbits(62)))


class FarmServer:
    """A farm in its own data folder, with the WSGI application around it."""

    def __init__(self, folder: Path, database: str = "") -> None:
        self.folder, self.database = folder, database
        self.open()

    def open(self) -> None:
        from bagtrail import create_app

        self.app = create_app(
            {
                "BAGTRAIL_DATA": str(self.folder),
                "BAGTRAIL_DATABASE": self.database,
                "BAGTRAIL_NAME": "Alder Hollow",
                "BAGTRAIL_ZONE": "Europe/London",
            }
        )
        self.log = self.app.extensions["bagtrail"]
        self.http = self.app.test_client()

    def restart(self) -> None:
        """Ends this server as SIGTERM would and starts another on the same folder."""
        self.log.close()
        self.open()

    def pair(self, role: str = "owner", name: str = "Shed phone") -> Phone:
        from bagtrail import devices

        code = devices.new_code(self.log, role)["code"]
        reply = self.http.post("/api/devices/pair", json={"code": code, "name": name})
        assert reply.status_code == 200, reply.text
        return Phone(self, reply.json)


class Phone:
    """A paired device: writes records into its stream and pushes what it is told to."""

    def __init__(self, server: FarmServer, paired: dict[str, Any], seed: int = 1) -> None:
        from bagtrail import keys

        self.server, self.paired = server, paired
        self.dev, self.gen, self.by = paired["dev"], paired["gen"], paired["by"]
        self.key = bytes.fromhex(paired["key"])
        self.headers = {
            "Authorization": f"Bearer {self.dev}.{self.gen}.{keys.bearer_tag(self.key)}"
        }
        self.rng = random.Random(f"{seed}{self.dev}")
        self.st = f"{self.rng.getrandbits(64):016x}"
        self.sq = 0
        self.proof = ""

    def record(self, ty: str, sub: list[str], d: dict[str, Any], **more: Any) -> dict[str, Any]:
        """Returns the next record of this phone's stream; ``more`` overrides its envelope."""
        self.sq += 1
        at = more.pop("at", NOW + self.sq)
        return {
            "v": 1, "id": uuid7(self.rng, at), "dev": self.dev, "gen": self.gen, "st": self.st,
            "sq": self.sq, "at": at, "cl": {"w": at, "o": 0, "q": "sync"}, "tz": 0, "ty": ty,
            "tv": 1, "sub": sub, "base": "", "by": self.by, "d": d, **more,
        }  # fmt: skip

    def sign(self, record: dict[str, Any] | str, st: str | None = None) -> list[str]:
        """Returns [text, mac] of a record or of any text."""
        from bagtrail import keys

        text = record if isinstance(record, str) else json.dumps(record, separators=(",", ":"))
        return [text, keys.mac(keys.stream_key(self.key, st or self.st), text)]

    def body(self, *sent: list[str], **more: Any) -> dict[str, Any]:
        """Returns the body of a push."""
        return {
            "farm": self.paired["farm"], "proof": self.proof, "nonce": "n1", "now": NOW,
            "st": self.st, "pending": len(sent), "oldest": NOW, "records": list(sent), **more,
        }  # fmt: skip

    def push(self, *records: list[str] | dict[str, Any], packed: bool = False, **more: Any) -> Any:
        """Pushes signed or plain records and returns the reply."""
        signed = [r if isinstance(r, list) else self.sign(r) for r in records]
        body = self.body(*signed, **more)
        if packed:
            return self.server.http.post(
                "/api/sync/push",
                data=gzip.compress(json.dumps(body).encode()),
                headers={**self.headers, "Content-Encoding": "gzip"},
                content_type="application/json",
            )
        return self.server.http.post("/api/sync/push", json=body, headers=self.headers)

    def accept(self, *records: list[str] | dict[str, Any], now: int = NOW, **more: Any) -> Any:
        """Pushes past HTTP, so that the server's clock can be given."""
        from bagtrail.intake import Caller

        signed = [r if isinstance(r, list) else self.sign(r) for r in records]
        row = self.server.log.store
        with row.reading():
            device = row.device(self.dev)
        caller = Caller(self.dev, self.gen, device["role"], device["person"], device["state"])
        return self.server.log.accept(caller, self.body(*signed, **more), now)

    def pull(self, cursor: str = "", **more: Any) -> Any:
        """Pulls one page and returns the reply."""
        query = {"c": cursor, **more}
        return self.server.http.get("/api/sync/pull", query_string=query, headers=self.headers)

    def get(self, path: str, **query: Any) -> Any:
        """Asks any address as this device."""
        return self.server.http.get(path, query_string=query, headers=self.headers)

    def batch(self, n: int = 10, labels: int = 0) -> tuple[str, list[str]]:
        """Pushes a mixed and filled batch; returns its code and the labels of its bags."""
        batch, bags = self.code("M"), [self.code("B") for _ in range(labels)]
        told = {"to": bags} if bags else {}
        reply = self.push(
            self.record("batch.mixed", [batch], {"name": "25 Nov A1", "moisture": 6_000}),
            self.record("bag.filled", [batch], {"n": n, "fill_g": 2_400, **told}),
        )
        assert [r[1] for r in reply.json["r"]] == ["ok", "ok"], reply.text
        return batch, bags

    def code(self, letter: str) -> str:
        """Returns a code nobody has."""
        from bagtrail import ids

        body = letter + "".join(self.rng.choice(ids.ALPHABET) for _ in range(7))
        return body + ids.check_symbol(body)


def codes(reply: Any) -> list[str]:
    """Returns what became of each record of a push."""
    body = reply if isinstance(reply, dict) else reply.json
    return [row[1] for row in body["r"]]


#: The files that take longest, the longest first: begun last, one of them would keep one worker
#: busy while the other has nothing left to do.
LONGEST = {
    "server": ("simulation", "push", "api_fuzz", "pull", "labels_api", "csvlog", "postgres",
               "foreign", "power", "faults", "any_record", "running"),
    "browser": ("round", "axe", "mix", "sync_many", "labels", "life", "photos", "seen", "access",
                "sync_recover", "offline", "sync_faults", "sync_clones", "load_log", "network",
                "loads", "sync_scope", "carried"),
}  # fmt: skip


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the files that take longest first; tests/run tells xdist to keep this order."""
    here = Path(__file__).parent
    rank = {
        (part, f"test_{name}.py"): n
        for part, files in LONGEST.items()
        for n, name in enumerate(files)
    }

    def place(item: pytest.Item) -> int:
        path = item.path
        part = path.relative_to(here).parts[0] if path.is_relative_to(here) else ""
        return rank.get((part, path.name), len(rank))

    items.sort(key=place)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Runs the tests of a module that says BOTH_STORES on SQLite and on PostgreSQL."""
    if "server" in metafunc.fixturenames and getattr(metafunc.module, "BOTH_STORES", False):
        metafunc.parametrize("server", ["sqlite", "postgresql"], indirect=True)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Cluster]:
    """A running PostgreSQL of the tests' own."""
    with cluster() as found:
        yield found


@pytest.fixture
def database(postgres: Cluster) -> Iterator[str]:
    """The address of an empty PostgreSQL database."""
    name = f"farm{uuid.uuid4().hex[:12]}"
    yield postgres.make_database(name)
    postgres.drop_database(name)


@pytest.fixture
def server(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[FarmServer]:
    """A new farm with nobody's device yet."""
    on = getattr(request, "param", "sqlite")
    url = request.getfixturevalue("database") if on == "postgresql" else ""
    made = FarmServer(tmp_path / "farm", url)
    yield made
    made.log.close()


@pytest.fixture
def phone(server: FarmServer) -> Phone:
    """The owner's phone of a new farm."""
    return server.pair()


@pytest.fixture
def outcome() -> Callable[[Any], list[str]]:
    """What became of each record of a push."""
    return codes


@pytest.fixture
def each_farm(tmp_path: Path) -> Callable[[], FarmServer]:
    """Makes as many separate farms as a test asks for."""
    count = iter(range(1_000))
    return lambda: FarmServer(tmp_path / f"farm{next(count)}")
