"""PINs at a shared tablet: who stands there, with whose rights, and that none can be guessed."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from bagtrail import devices, passes, pins
from bagtrail.intake import Caller

BOTH_STORES = True


@pytest.fixture
def people(server: Any) -> dict[str, Any]:
    return {role: server.pair(role, f"The {role}'s") for role in ("owner", "manager", "worker")}


def enter(server: Any, phone: Any, person: str, pin: str) -> Any:
    return server.http.post(
        "/api/people/enter", json={"person": person, "pin": pin}, headers=phone.headers
    )


def put(server: Any, phone: Any, person: str, pin: str) -> Any:
    return server.http.post(
        "/api/people/pin", json={"person": person, "pin": pin}, headers=phone.headers
    )


def test_the_right_pin_says_who_stands_there(server: Any, people: dict[str, Any]) -> None:
    boss, tablet = people["owner"], people["worker"]
    assert put(server, boss, boss.by, "2580").json["pins"] == [boss.by]
    reply = enter(server, tablet, boss.by, "2580")
    assert (reply.status_code, reply.json["person"]) == (200, boss.by)
    wrong = enter(server, tablet, boss.by, "2581")
    assert (wrong.status_code, wrong.json["error"]["code"]) == (403, "pin_refused")


def written(server: Any, phone: Any, record: Any, more: dict[str, str] | None = None) -> Any:
    """Push a record with headers beside the token; returns its receipt."""
    body = phone.body(phone.sign(record), now=server.log.clock())
    headers = {**phone.headers, **(more or {})}
    assert server.http.post("/api/sync/push", json=body, headers=headers).status_code == 200
    with server.log.store.reading():
        return json.loads(server.log.store.after(0)[-1].receipt)


def mixed(phone: Any, by: str, at: int) -> Any:
    return phone.record("batch.mixed", [phone.code("M")], {"name": "25 Nov A1"}, by=by, at=at)


def standing(server: Any, phone: Any, person: str, pin: str) -> dict[str, str]:
    """The header of the pass that a right PIN gives."""
    return {"X-Bagtrail-Pass": enter(server, phone, person, pin).json["pass"]}


def asks(server: Any, phone: Any, held: dict[str, str]) -> int:
    reply = server.http.get("/api/devices", headers={**phone.headers, **held})
    return int(reply.status_code)


def test_a_pin_gives_that_persons_rights_at_that_tablet_for_minutes(
    server: Any, people: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    boss, tablet = people["owner"], people["worker"]
    put(server, boss, boss.by, "2580")
    began = server.log.clock()
    monkeypatch.setattr(server.log, "clock", lambda: began)
    held = standing(server, tablet, boss.by, "2580")
    assert asks(server, tablet, {}) == 403
    assert asks(server, tablet, held) == 200
    # Bound to the tablet and to its text.
    other = server.pair("worker", "Another tablet")
    assert asks(server, other, held) == 403
    text = held["X-Bagtrail-Pass"]
    for bad in (text[:-1] + ("0" if text[-1] != "0" else "1"), text.replace(boss.by, tablet.by),
                text.replace(str(began), str(began + 1)), "x", text + ".0"):  # fmt: skip
        assert asks(server, tablet, {"X-Bagtrail-Pass": bad}) == 403, bad
    # Minutes; made anew while somebody works, an hour at most.
    monkeypatch.setattr(server.log, "clock", lambda: began + passes.IDLE_MS - 1)
    assert asks(server, tablet, held) == 200
    monkeypatch.setattr(server.log, "clock", lambda: began + passes.IDLE_MS)
    assert asks(server, tablet, held) == 403
    for minute in range(4, 60, 4):
        now = began + minute * 60_000
        monkeypatch.setattr(server.log, "clock", lambda now=now: now)
        headers = {**tablet.headers, **held}
        fresh = server.http.post("/api/people/stay", json={}, headers=headers).json["pass"]
        if minute == 4:
            assert server.http.post("/api/people/stay", json={}, headers=tablet.headers).json == {
                "pass": ""
            }
        held = {"X-Bagtrail-Pass": fresh}
        assert asks(server, tablet, held) == 200
    monkeypatch.setattr(server.log, "clock", lambda: began + passes.MOST_MS)
    assert asks(server, tablet, held) == 403


def test_a_pass_falls_with_the_tablets_key_and_with_the_persons_role(
    server: Any, people: dict[str, Any]
) -> None:
    owner, manager, tablet = people["owner"], people["manager"], people["worker"]
    put(server, owner, manager.by, "2580")
    held = standing(server, tablet, manager.by, "2580")
    assert asks(server, tablet, held) == 200
    revoke = {**tablet.headers, **held}
    reply = server.http.post(
        "/api/devices/revoke", json={"dev": owner.dev, "why": "lost"}, headers=revoke
    )
    assert reply.status_code == 403  # a manager's rights, not an owner's
    devices.revoke(server.log, manager.dev, "replaced", owner.by)
    assert asks(server, tablet, held) == 403  # no device of a manager's is left to say so
    put(server, owner, owner.by, "2580")
    other = standing(server, tablet, owner.by, "2580")
    assert asks(server, tablet, other) == 200
    devices.revoke(server.log, tablet.dev, "lost", owner.by)
    assert asks(server, tablet, other) == 403


def test_nobody_becomes_an_owner_by_a_record(server: Any, people: dict[str, Any]) -> None:
    """Any device may write that a person is an owner; a pass asks the paired devices."""
    owner, manager, tablet = people["owner"], people["manager"], people["worker"]
    put(server, tablet, tablet.by, "2580")
    told = {"name": "Me", "role": "owner"}
    now = server.log.clock() + 1_000
    written(server, tablet, tablet.record("person.named", [tablet.by], told, at=now))
    server.log.live.catch_up()
    assert server.log.live.ref("people")[tablet.by]["role"] == "owner"
    assert asks(server, tablet, standing(server, tablet, tablet.by, "2580")) == 403
    told = {"name": "Owner", "role": "worker"}
    written(server, manager, manager.record("person.named", [owner.by], told, at=now))
    server.log.live.catch_up()
    assert server.log.live.ref("people")[owner.by]["role"] == "worker"
    assert put(server, manager, owner.by, "8642").status_code == 403


def test_who_wrote_is_a_mere_word_without_pin(server: Any, people: dict[str, Any]) -> None:
    boss, tablet = people["owner"], people["worker"]
    now = server.log.clock()
    own = written(server, tablet, mixed(tablet, tablet.by, now))
    assert (own["a"], own["f"]) == ("w", "")
    for name in (boss.by, "W00000000", ""):
        said = written(server, tablet, mixed(tablet, name, now))
        assert (said["a"], said["f"]) == ("w", "by"), name
    # A device of the owner's that names a worker keeps its own authority, and says so.
    said = written(server, boss, mixed(boss, tablet.by, now))
    assert (said["a"], said["f"]) == ("o", "by")


def test_with_a_pin_the_record_has_that_persons_authority(
    server: Any, people: dict[str, Any]
) -> None:
    boss, tablet = people["owner"], people["worker"]
    put(server, boss, boss.by, "2580")
    before = mixed(tablet, boss.by, server.log.clock() - 60_000)
    held = standing(server, tablet, boss.by, "2580")
    after = mixed(tablet, boss.by, server.log.clock() + 1)
    other = mixed(tablet, people["manager"].by, server.log.clock() + 1)
    # What was written in this name before the PIN was shown stays a mere word.
    said = written(server, tablet, before, held)
    assert (said["a"], said["f"]) == ("w", "by")
    said = written(server, tablet, after, held)
    assert (said["a"], said["f"]) == ("o", "")
    said = written(server, tablet, other, held)
    assert (said["a"], said["f"]) == ("w", "by")
    own = written(server, tablet, mixed(tablet, tablet.by, server.log.clock() + 1), held)
    assert (own["a"], own["f"]) == ("w", "")


def test_a_void_in_another_persons_name_counts_for_nothing(
    server: Any, people: dict[str, Any]
) -> None:
    boss, worker = people["owner"], people["worker"]
    now = server.log.clock()
    batch = mixed(boss, boss.by, now)
    written(server, boss, batch)
    void = worker.record(
        "record.voided", batch["sub"], {"target": batch["id"]}, by=boss.by, at=now + 1
    )
    written(server, worker, void)
    server.log.live.catch_up()
    with server.log.live.now() as farm:
        assert farm.index.held(void["id"]) == "authority"
        assert farm.index.counts(batch["id"])


def test_who_may_set_whose(server: Any, people: dict[str, Any]) -> None:
    owner, manager, worker = people["owner"], people["manager"], people["worker"]
    assert put(server, worker, worker.by, "2580").status_code == 200
    assert put(server, worker, manager.by, "2580").status_code == 403
    assert put(server, manager, worker.by, "2581").status_code == 200
    assert put(server, manager, owner.by, "2580").status_code == 403
    assert put(server, owner, manager.by, "2580").status_code == 200
    assert put(server, owner, "W00000000", "2580").status_code == 422


@pytest.mark.parametrize("pin", ["", "123", "123456789", "12a4", "1111", "1234", "9876", "٢٥٨٠"])
def test_pins_that_are_none(server: Any, people: dict[str, Any], pin: str) -> None:
    owner = people["owner"]
    assert put(server, owner, owner.by, pin).status_code == 422


def test_guessing_is_stopped_also_by_a_new_start(
    server: Any, people: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    owner, tablet = people["owner"], people["worker"]
    put(server, owner, owner.by, "2580")
    now = server.log.clock()
    monkeypatch.setattr(server.log, "clock", lambda: now)
    seen = [enter(server, tablet, owner.by, "0000") for _ in range(5)]
    assert [r.status_code for r in seen] == [403, 403, 403, 429, 429]
    assert int(seen[-1].headers["Retry-After"]) == 30
    # The right one waits too: else a guesser would know.
    assert enter(server, tablet, owner.by, "2580").status_code == 429
    # From another device as well: it is the person who is guessed.
    assert enter(server, people["manager"], owner.by, "2580").status_code == 429
    server.log.close()
    server.open()
    monkeypatch.setattr(server.log, "clock", lambda: now + 29_000)
    assert enter(server, tablet, owner.by, "2580").status_code == 429
    waits = []
    for _ in range(10):
        now += 3_700_000
        monkeypatch.setattr(server.log, "clock", lambda now=now: now)
        assert enter(server, people["manager"], owner.by, "0000").status_code in (403, 429)
        waits.append(int(enter(server, tablet, owner.by, "0000").headers["Retry-After"]))
    assert waits[:3] == [60, 120, 240]
    assert waits[-1] == 3600
    # The owner gives a new PIN, and the person may come in at once.
    put(server, owner, owner.by, "8642")
    assert enter(server, tablet, owner.by, "8642").status_code == 200


def test_one_device_cannot_walk_through_the_people(server: Any, people: dict[str, Any]) -> None:
    tablet = people["worker"]
    mine = tablet.by
    put(server, tablet, mine, "2580")
    codes = []
    for i in range(14):
        codes.append(enter(server, tablet, f"W0000{i:04d}", "2580").status_code)
        if codes[-1] == 403:  # knowing one PIN buys no further tries at others
            assert enter(server, tablet, mine, "2580").status_code in (200, 429)
    assert codes == [403] * 10 + [429] * 4


def test_guesses_side_by_side_all_count(server: Any, people: dict[str, Any]) -> None:
    owner, tablet = people["owner"], people["worker"]
    put(server, owner, owner.by, "2580")
    client = server.app.test_client

    def guess(i: int) -> int:
        body = {"person": owner.by, "pin": f"{i:04d}"}
        reply = client().post("/api/people/enter", json=body, headers=tablet.headers)
        return int(reply.status_code)

    with ThreadPoolExecutor(8) as pool:
        seen = sorted(pool.map(guess, range(16)))
    assert seen == [403] * 3 + [429] * 13


def test_the_database_alone_does_not_tell_a_pin(server: Any, people: dict[str, Any]) -> None:
    """Argon2id (RFC 9106), over a MAC with the farm's secret: ten thousand tries are few."""
    from argon2 import PasswordHasher, extract_parameters
    from argon2.exceptions import VerifyMismatchError
    from argon2.low_level import Type

    owner = people["owner"]
    pins.set_pin(server.log, Caller(owner.dev, 1, "owner", owner.by, "paired"), owner.by, "2580")
    with server.log.store.reading():
        kept = server.log.store.pin(owner.by)
    found = extract_parameters(kept)
    assert found.type is Type.ID
    assert found.memory_cost >= 19_456
    with pytest.raises(VerifyMismatchError):
        PasswordHasher().verify(kept, "2580")
