"""Figures of sync: our push and pull beside the bare work of the same rows, alternated in one run.

The twin of a push is what the database must do at the least: executemany of the very rows that the
push left behind, 20 transactions of 500, WAL and synchronous=FULL. Ours has by then validated each
record, verified its MAC, decided its receipt, chained it and taken it into the fold.
"""

from __future__ import annotations

import http.client
import json
import signal
import sqlite3
import statistics
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests import postgres as pg
from tests.served import Served

from bagtrail import keys
from bagtrail.migrations import STEPS
from bagtrail.store.log import EVENT

from . import bigfarm, figures

pytestmark = [pytest.mark.bench, pytest.mark.timeout(1800)]

COUNT, PAGE, ROUNDS = 10_000, 500, 5
SUB = ("code", "pos", "eff")


class Client:
    """A device's keep-alive connection to a served farm."""

    def __init__(self, port: int, paired: dict[str, Any]) -> None:
        tag = keys.bearer_tag(bytes.fromhex(paired["key"]))
        self.headers = {"Authorization": f"Bearer {paired['dev']}.{paired['gen']}.{tag}",
                        "Content-Type": "application/json"}  # fmt: skip
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)

    def close(self) -> None:
        """Hang up."""
        self.connection.close()

    def ask(self, method: str, path: str, body: bytes | None = None) -> Any:
        """Send a request and return its JSON; anything but 200 is an error."""
        self.connection.request(method, path, body, self.headers)
        reply = self.connection.getresponse()
        said = reply.read()
        assert reply.status == 200, said
        return json.loads(said)


def prepared(folder: Path, database: str = "") -> tuple[bigfarm.Pen, list[list[str]]]:
    """A new farm with a paired device, and the records that wait on it."""
    from bagtrail import open_log, settings

    given = {"BAGTRAIL_DATA": str(folder), "BAGTRAIL_DATABASE": database}
    pen = bigfarm.Pen(open_log(settings.load(given)))
    records: list[list[str]] = []
    for record in bigfarm.life(pen, 2_000, 6):
        records.append(record)
        if len(records) == COUNT:
            break
    return pen, records


def bodies(pen: bigfarm.Pen, records: list[list[str]], page: int = PAGE) -> Iterator[bytes]:
    """The bodies of the pushes, ready to send."""
    for i in range(0, len(records), page):
        push = {"farm": pen.log.identity.farm, "proof": "", "nonce": "n", "now": pen.at,
                "st": pen.st, "pending": len(records) - i, "oldest": 0,
                "records": records[i : i + page]}  # fmt: skip
        yield json.dumps(push).encode()


def push_all(client: Client, sent: list[bytes]) -> float:
    """Push everything, one request after the other, and return the seconds."""
    began = time.perf_counter()
    for body in sent:
        said = client.ask("POST", "/api/sync/push", body)
        assert {row[1] for row in said["r"]} <= {"ok", "held"}
    return time.perf_counter() - began


def rows_of(store: Any) -> tuple[list[tuple[Any, ...]], list[tuple[Any, ...]]]:
    """The rows that a push left behind, as bare values."""
    with store.reading():
        events = store._all(f"SELECT {', '.join(EVENT)} FROM event ORDER BY pos")
        subs = store._all(f"SELECT {', '.join(SUB)} FROM event_sub ORDER BY pos, code")
    return [tuple(e) for e in events], [tuple(s) for s in subs]


def by_pages(events: list[Any], subs: list[Any]) -> list[tuple[list[Any], list[Any]]]:
    """The rows in the transactions in which they came."""
    pages = []
    for i in range(0, len(events), PAGE):
        part = events[i : i + PAGE]
        first, last = part[0][0], part[-1][0]
        pages.append((part, [s for s in subs if first <= s[1] <= last]))
    return pages


def raw_sqlite(path: Path, pages: list[tuple[list[Any], list[Any]]]) -> float:
    """Insert the rows with sqlite3 alone and return the seconds."""
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("PRAGMA journal_mode=WAL")
    db.execute("PRAGMA synchronous=FULL")
    for sql in STEPS[0].sql:
        db.execute(sql.format(blob="BLOB"))
    began = time.perf_counter()
    for events, subs in pages:
        db.execute("BEGIN IMMEDIATE")
        db.executemany(f"INSERT INTO event VALUES ({', '.join('?' * len(EVENT))})", events)
        db.executemany("INSERT INTO event_sub VALUES (?, ?, ?)", subs)
        db.execute("COMMIT")
    took = time.perf_counter() - began
    db.close()
    return took


def raw_postgres(url: str, pages: list[tuple[list[Any], list[Any]]]) -> float:
    """Insert the rows with psycopg alone, behind a head row's lock, and return the seconds."""
    import psycopg

    with psycopg.connect(url, autocommit=True, options="-c synchronous_commit=on") as db:
        for sql in STEPS[0].sql:
            db.execute(sql.format(blob="BYTEA"))
        db.execute("INSERT INTO head VALUES (1, 'e', 0, '', 1)")
        began = time.perf_counter()
        for events, subs in pages:
            with db.transaction():
                db.execute("UPDATE head SET pos = pos + %s WHERE one = 1", (len(events),))
                cursor = db.cursor()
                marks = ", ".join(["%s"] * len(EVENT))
                cursor.executemany(f"INSERT INTO event VALUES ({marks})", events)
                cursor.executemany("INSERT INTO event_sub VALUES (%s, %s, %s)", subs)
        return time.perf_counter() - began


@pytest.mark.parametrize("on", ["sqlite", "postgresql"])
def test_push_and_pull_of_10_000(on: str, tmp_path: Path) -> None:
    """Aim: push 8x (at most 12x) on SQLite, at most 4x on PostgreSQL; pull at most 5x."""
    pushes, ratios, inside, pulls, pull_ratios, offers = [], [], [], [], [], []
    with pg.cluster() as cluster:
        for turn in range(ROUNDS):
            url = cluster.make_database(f"farm{turn}") if on == "postgresql" else ""
            folder = tmp_path / f"{turn}"
            pen, records = prepared(folder, url)
            sent = list(bodies(pen, records))
            pen.log.close()
            served = Served(folder, BAGTRAIL_DATABASE=url)
            try:
                served.wait()
                client = Client(served.port, pen.device)
                pushes.append(push_all(client, sent))
                pages = by_pages(*rows_of(pen.log.store))
                if url:
                    raw = raw_postgres(cluster.make_database(f"raw{turn}"), pages)
                else:
                    raw = raw_sqlite(folder / "raw.db", pages)
                ratios.append(pushes[-1] / raw)
                took, bare = pull_all(client, pen)
                pulls.append(took)
                pull_ratios.append(took / bare)
                offers.append(offer_all(client, pen, records))
                client.close()
            finally:
                served.end(signal.SIGKILL)
            inside.append(use_case(tmp_path / f"{turn}i", cluster, url and f"in{turn}") / raw)
            pen.log.store.close_all()
    print(f"\n{figures.machine()}; {on}; {COUNT} records, six kinds, 2,000 bags, HTTP by granian")
    figures.tell("push of 10,000 in 500s", pushes, "s")
    aim = "8 (at most 12)" if on == "sqlite" else "at most 4"
    figures.tell("push / raw insert of the same rows", ratios, "x", aim)
    figures.tell("push / raw insert, without HTTP and JSON of the body", inside, "x")
    figures.tell("pull of 10,000", pulls, "s")
    figures.tell("pull / SELECT and JSON of the same rows", pull_ratios, "x", "at most 5")
    figures.tell("re-offer of 10,000 known records", offers, "s", "under 1 s")


def use_case(folder: Path, cluster: pg.Cluster, name: str) -> float:
    """The same push without HTTP."""
    pen, records = prepared(folder, cluster.make_database(name) if name else "")
    _ = pen.log.live
    began = time.perf_counter()
    for i in range(0, len(records), PAGE):
        pen.push(records[i : i + PAGE])
    took = time.perf_counter() - began
    pen.log.close()
    return took


def pull_all(client: Client, pen: bigfarm.Pen) -> tuple[float, float]:
    """Pull the whole log; return the seconds, and those of SELECT plus JSON of the same rows."""
    began = time.perf_counter()
    cursor, more, count = "", True, 0
    while more:
        page = client.ask("GET", f"/api/sync/pull?c={cursor}")
        cursor, more = f"{page['epoch']}.{page['to']}.{page['h']}", page["more"]
        count += len(page["records"])
    took = time.perf_counter() - began
    assert count >= COUNT
    store = pen.log.store
    began = time.perf_counter()
    with store.reading():
        sql = (
            "SELECT text, mac, receipt, rmac, pos FROM event WHERE pos > ? ORDER BY pos LIMIT 1000"
        )
        for start in range(0, count, 1000):
            rows = store._all(sql, (start,))
            said = json.dumps([[bytes(t).decode(), m, bytes(r).decode(), k, p]
                               for t, m, r, k, p in rows])  # fmt: skip
            json.loads(said)  # the client reads it, too
    return took, time.perf_counter() - began


def offer_all(client: Client, pen: bigfarm.Pen, records: list[list[str]]) -> float:
    """Offer all records again, as after an epoch change, and return the seconds."""
    ids = [json.loads(text)["id"] for text, _ in records]
    began = time.perf_counter()
    for i in range(0, len(ids), 5_000):
        offer = {"farm": pen.log.identity.farm, "proof": "", "nonce": "n", "st": pen.st,
                 "ids": ids[i : i + 5_000]}  # fmt: skip
        assert client.ask("POST", "/api/sync/offer", json.dumps(offer).encode())["want"] == []
    return time.perf_counter() - began


def test_fifty_phones_with_200_records_each_at_once(tmp_path: Path) -> None:
    """Aim: no error, 99 % of the pushes under 2 s."""
    log = bigfarm.open_farm(tmp_path)
    pens = []
    for i in range(50):
        pen = bigfarm.Pen(log)
        pen.st = f"{i:016x}"
        pen._key = keys.stream_key(bytes.fromhex(pen.device["key"]), pen.st)
        pens.append(pen)
    sent = []
    for pen in pens:
        note = [pen.record("note.written", [pen.device["by"]], {"text": "x"}) for _ in range(200)]
        sent.append(list(bodies(pen, note, 50)))
    log.close()
    served = Served(tmp_path)
    took: list[float] = []
    try:
        served.wait()
        start = threading.Barrier(50)

        def work(n: int) -> None:
            client = Client(served.port, pens[n].device)
            start.wait()
            for body in sent[n]:
                began = time.perf_counter()
                client.ask("POST", "/api/sync/push", body)
                took.append(time.perf_counter() - began)
            client.close()

        threads = [threading.Thread(target=work, args=(n,)) for n in range(50)]
        began = time.perf_counter()
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        whole = time.perf_counter() - began
    finally:
        served.end(signal.SIGKILL)
    assert len(took) == 200
    took.sort()
    print(f"\n{figures.machine()}; 50 phones x 200 records in pushes of 50")
    figures.tell("all of it", [whole], "s")
    figures.tell("a push", took, "s")
    print(f"99 % of the pushes under {took[int(len(took) * 0.99) - 1]:.3g} s; aim under 2 s")


def flat(tmp_path: Path, sizes: list[int]) -> None:
    log = bigfarm.open_farm(tmp_path)
    pen = bigfarm.Pen(log)
    lives = bigfarm.life(pen, sizes[-1] // 8 + 2_000, 8)
    costs: list[float] = []
    count = 0
    for size in sizes:
        while count < size:
            pen.push([next(lives) for _ in range(PAGE)])
            count += PAGE
        few = []
        for _ in range(15):
            records = [next(lives) for _ in range(PAGE)]
            began = time.perf_counter()
            pen.push(records)
            few.append(time.perf_counter() - began)
            count += PAGE
        costs.append(statistics.median(few))
        spread = f"({min(few) * 1e3:.1f} to {max(few) * 1e3:.1f})"
        print(
            f"push of 500 at {size:>9} records: {costs[-1] * 1e3:.1f} ms {spread},"
            f" x{costs[-1] / costs[0]:.2f}"
        )
    log.close()


def test_push_costs_alike_from_10_000_to_100_000_records(tmp_path: Path) -> None:
    """Aim: flat within 20 %; the long one goes to a million."""
    print(f"\n{figures.machine()}")
    flat(tmp_path, [10_000, 30_000, 100_000])


@pytest.mark.long
def test_push_costs_alike_from_10_000_to_1_000_000_records(tmp_path: Path) -> None:
    """Aim: flat within 20 %."""
    print(f"\n{figures.machine()}")
    flat(tmp_path, [10_000, 100_000, 300_000, 1_000_000])
