"""Real processes behind a network that breaks: everything arrives, and once (P2, P3)."""

from __future__ import annotations

import json
import os
import random
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from tests import faults
from tests.faults import FaultProxy
from tests.model import ModelPhone
from tests.served import Served
from tests.wires import over_http

LONG = bool(os.environ.get("BAGTRAIL_LONG"))


def now() -> int:
    return time.time_ns() // 1_000_000


class Shed:
    """A served farm with a proxy before it, and phones that only know the proxy."""

    def __init__(self, folder: Path) -> None:
        from bagtrail import devices, open_log, settings

        log = open_log(settings.load({"BAGTRAIL_DATA": str(folder)}))
        self.pairings = []
        for i in range(200):
            code = devices.new_code(log, "owner" if not i else "worker")["code"]
            self.pairings.append(devices.pair(log, code, f"Phone {i}", "", f"{i}"))
        log.close()
        self.served = Served(folder)
        self.served.wait()
        self.proxy = FaultProxy(self.served.port)
        self._made = 0

    def phone(self) -> ModelPhone:
        """Return the next phone."""
        self._made += 1
        paired = self.pairings[self._made - 1]
        return ModelPhone(over_http(lambda: self.proxy.port), paired, self._made, now)

    def log(self) -> dict[str, list[int]]:
        """Return the positions of every text on the log."""
        reader = ModelPhone(over_http(lambda: self.served.port), self.pairings[0], "reader", now)
        assert reader.sync()
        found: dict[str, list[int]] = {}
        for kept in reader.kept.values():
            found.setdefault(kept.text, []).append(kept.pos)
        return found


@pytest.fixture(scope="module")
def shed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shed]:
    import signal

    made = Shed(tmp_path_factory.mktemp("shed") / "farm")
    with made.proxy:
        yield made
    made.served.end(signal.SIGKILL)


@pytest.fixture(autouse=True)
def calm(shed: Shed) -> Iterator[None]:
    yield
    shed.proxy.every = shed.proxy.by_size = lambda _: None
    shed.proxy._next.clear()


def write(phone: ModelPhone, n: int, text: str = "x") -> set[str]:
    return {phone.write("note.written", [phone.by], {"text": f"{text}{i}"}).text for i in range(n)}


def drain(phone: ModelPhone, tries: int = 60) -> int:
    """Sync until it comes to an end, waiting as told; return how often it had to begin again."""
    for n in range(tries):
        if phone.retry_s:
            time.sleep(phone.retry_s * phone.rng.uniform(1, 1.5))
            phone.retry_s = 0
        if phone.sync():
            return n
    raise AssertionError("it never drained")


def test_P2_B1_cut_reply_after_commit_is_counted_once(shed: Shed) -> None:
    rng = random.Random(3)
    phone = shed.phone()
    phone.batch = 7
    texts = write(phone, 60)
    shed.proxy.every = lambda n: rng.choice([None, faults.CUT, faults.HALF, faults.TWICE])
    assert drain(phone, 200) > 0
    shed.proxy.every = lambda _: None
    log = shed.log()
    assert all(len(log[text]) == 1 for text in texts)
    assert sorted(kept.sq for kept in phone.kept.values() if kept.own) == list(range(1, 61))


def test_P3_B8_what_a_portal_or_a_cache_says_marks_nothing(shed: Shed) -> None:
    phone = shed.phone()
    write(phone, 3)
    assert phone.sync()
    cursor, proof = phone.cursor, phone.proof
    texts = write(phone, 5, "later")
    for fault in (faults.PORTAL, faults.EMPTY, faults.REPLAY, faults.ERROR, faults.DROP):
        shed.proxy.next(fault)
        assert not phone.sync(rounds=1)
        assert {kept.text for kept in phone.waiting()} == texts
        assert (phone.cursor, phone.proof) == (cursor, proof)
    assert phone.sync()
    assert texts <= set(shed.log())


def test_P4_B11_refusals_of_a_pull_never_move_the_cursor(shed: Shed) -> None:
    phone = shed.phone()
    assert phone.sync()
    cursor, kept = phone.cursor, len(phone.kept)
    for status in (401, 403, 404, 500):
        phone.stopped = False
        body = b'{"error":{"code":"no_device","message":"","todo":"","details":{}}}'
        shed.proxy.next(faults.Fault(f"{status}", status=status, body=body))
        assert not phone.sync(rounds=1)
        assert (phone.cursor, len(phone.kept)) == (cursor, kept)
    false = {
        "k": "reset",
        "farm": phone.farm,
        "epoch": "e" + "1" * 11,
        "nonce": "x",
        "mac": "0" * 32,
    }
    shed.proxy.next(faults.Fault("false reset", status=409, body=json.dumps(false).encode()))
    phone.stopped = False
    assert not phone.sync(rounds=1)
    assert phone.cursor == cursor


def test_B6_a_proxy_of_8_kB_drains_by_halving(shed: Shed) -> None:
    phone = shed.phone()
    texts = write(phone, 120, "y" * 300)
    shed.proxy.by_size = faults.too_big(8_192)
    drain(phone)
    assert phone.batch < 20
    assert texts <= set(shed.log())


def test_B6_one_record_that_is_too_big_is_parked_and_the_rest_pass(shed: Shed) -> None:
    phone = shed.phone()
    before = write(phone, 3)
    big = phone.write("note.written", [phone.by], {"text": "z" * 20_000})
    after = write(phone, 3, "after")
    drain(phone)
    assert big.state == "parked"
    assert (before | after) <= set(shed.log())
    assert big.text not in shed.log()


def test_B7_a_storm_of_phones_drains_and_honours_retry_after(shed: Shed) -> None:
    """Two hundred in the long run: all at once, a third of them told to wait."""
    phones = [shed.phone() for _ in range(150 if LONG else 40)]
    texts = [write(phone, 5, phone.dev) for phone in phones]
    rng = random.Random(5)
    shed.proxy.every = lambda n: rng.choice([None, None, None, faults.STORM, faults.BUSY])
    began = time.monotonic()
    with ThreadPoolExecutor(len(phones)) as pool:
        took = list(pool.map(lambda p: (drain(p), time.monotonic() - began)[1], phones))
    shed.proxy.every = lambda _: None
    log = shed.log()
    assert all(len(log[text]) == 1 for mine in texts for text in mine)
    if LONG:  # the promise is of many phones, on a machine that has nothing else to do
        assert sorted(took)[int(len(took) * 0.95)] < 120
    assert any(fault in ("429", "503") for _, _, fault in shed.proxy.seen)


def test_P2_B3_a_cloned_phone_gets_its_own_stream_and_nothing_is_lost(shed: Shed) -> None:
    phone = shed.phone()
    texts = write(phone, 4)
    drain(phone)
    clone = phone.clone("clone")
    texts |= write(phone, 5, "one") | write(clone, 5, "two")
    drain(phone)
    drain(clone)
    assert clone.st != phone.st
    texts |= write(phone, 2, "one again") | write(clone, 2, "two again")
    drain(phone)
    drain(clone)
    log = shed.log()
    assert all(len(log[text]) == 1 for text in texts)


def test_P2_B3_a_phone_put_back_from_its_own_backup_reuses_no_number(shed: Shed) -> None:
    phone = shed.phone()
    write(phone, 4)
    drain(phone)
    image = phone.clone("image")
    write(phone, 6, "smashed with it")
    drain(phone)
    texts = write(image, 1, "after")
    drain(image)
    assert image.st != phone.st
    assert texts <= set(shed.log())


def test_P2_B2_same_id_other_content_is_kept_beside_it(shed: Shed) -> None:
    phone = shed.phone()
    first = phone.write("note.written", [phone.by], {"text": "one"})
    drain(phone)
    text = first.text.replace('"one"', '"two"')
    said = phone._ask("POST", "/api/sync/push", phone._body(
        now=now(), pending=1, oldest=0, records=[[text, phone._mac(text, phone.st)]]
    ))  # fmt: skip
    assert said["r"][0][1] == "differs"
    assert {first.text, text} <= set(shed.log())


def test_P5_B4_forged_macs_and_receipts_hurt_no_neighbour(shed: Shed) -> None:
    phone = shed.phone()
    texts = write(phone, 6)
    forged = phone.write("note.written", [phone.by], {"text": "forged"})
    forged.mac = "0" * 32
    believed = phone.write("note.written", [phone.by], {"text": "false receipt"})
    believed.receipt, believed.rmac = f'{{"id":"{believed.id}"}}', "0" * 32
    drain(phone)
    log = shed.log()
    assert texts <= set(log)
    assert forged.text not in log
    assert forged.state == "parked"
    assert json.loads(believed.receipt)["dev"] == phone.dev


@pytest.mark.parametrize("skew", [-365 * 86_400, -3_600, 3_600, 365 * 86_400])
def test_P5_B9_wrong_clocks_are_taken_in_order_and_do_not_spread(shed: Shed, skew: int) -> None:
    wrong, right = shed.phone(), shed.phone()
    wrong.skew, wrong.quality = skew * 1_000, "none"
    mine = [wrong.write("note.written", [wrong.by], {"text": f"{i}"}) for i in range(4)]
    wrong.skew += 7_200_000  # it jumps in the middle of the queue
    mine += [wrong.write("note.written", [wrong.by], {"text": f"{i}"}) for i in range(4, 6)]
    drain(wrong)
    drain(right)
    others = [right.write("note.written", [right.by], {"text": f"{i}"}) for i in range(2)]
    drain(right)
    effs = [json.loads(kept.receipt)["t"] for kept in mine]
    assert effs == sorted(effs)
    assert all(abs(eff - now()) < 3 * 3_600_000 for eff in effs)
    for kept in others:
        said = json.loads(kept.receipt)
        assert abs(said["t"] - now()) < 60_000
        assert said["f"] == ""


def test_P3_B5_exception_at_every_row_acknowledges_exactly_what_is_stored(
    server: Any, phone: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever breaks, wherever: the acked set is the stored set (2,000 pushes in the long run)."""
    rng = random.Random(8)
    store = server.log.store
    insert, set_top, advance = store.insert, store.set_top, store.advance
    refused: set[str] = set()
    fail_at = [""]

    def flaky_insert(rows: Any, subs: Any) -> None:
        insert(rows, subs)
        if any(row.id in refused for row in rows):
            raise RuntimeError("after the rows were written")

    def flaky(name: str, real: Any) -> Any:
        def call(*args: Any) -> Any:
            found = real(*args)
            if fail_at[0] == name:
                raise RuntimeError(f"after {name}")
            return found

        return call

    monkeypatch.setattr(store, "insert", flaky_insert)
    monkeypatch.setattr(store, "set_top", flaky("set_top", set_top))
    monkeypatch.setattr(store, "advance", flaky("advance", advance))
    for _ in range(2_000 if LONG else 120):
        records = [phone.record("note.written", [phone.by], {"text": "x"}) for _ in range(6)]
        ids = {r["id"] for r in records}
        refused.clear()
        refused.update(i for i in ids if rng.random() < 0.2)
        fail_at[0] = rng.choice(["", "", "", "set_top", "advance"])
        server.app.extensions["bagtrail.limits"]._left.clear()
        reply = phone.push(*records)
        with store.reading():
            there = set(store.by_id(ids))
        if reply.status_code == 200:
            acked = {row[0] for row in reply.json["r"] if row[1] in ("ok", "held")}
            later = {row[0] for row in reply.json["r"] if row[1] == "later"}
            assert acked == there == ids - refused
            assert later == refused
        else:
            assert there == set()
    fail_at[0] = ""
    refused.clear()
    assert server.log.live.refold()[1] == []
