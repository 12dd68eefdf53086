"""PINs at a shared tablet: they tell people apart, cannot be guessed, and give no rights."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from bagtrail import pins
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


def test_a_pin_gives_the_tablet_no_rights(server: Any, people: dict[str, Any]) -> None:
    boss, tablet = people["owner"], people["worker"]
    put(server, boss, boss.by, "2580")
    assert enter(server, tablet, boss.by, "2580").status_code == 200
    assert tablet.get("/api/devices").status_code == 403
    record = tablet.record("batch.mixed", [tablet.code("M")], {"name": "25 Nov A1"})
    assert tablet.push(record).status_code == 200
    with server.log.store.reading():
        row = server.log.store.after(0)[-1]
    assert json.loads(row.receipt)["a"] == "w"


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
