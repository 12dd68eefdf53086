"""What the owner and a monitor are told, and when there is something to do."""

from __future__ import annotations

import json
from typing import Any

import pytest
from tests.conftest import NOW

from bagtrail.network import health, lan, phones
from bagtrail.network.health import Chain

DAY = 86_400_000
FINE: dict[str, Any] = {
    "certificate": {"days": 200, "mdns": {"fault": ""}, "authority": {"code": "A"}},
    "addresses": ["192.168.1.9"],
    "phones": [],
    "backups": [{"fault": ""}],
    "durable": 10,
    "head": 10,
    "disk": {"free": 50 << 30},
    "chain": {"verified": 10, "head": 10, "broken": 0},
}
PHONE: dict[str, Any] = {
    "state": "paired", "name": "Shed phone", "dev": "d1", "waiting": 0, "seen": NOW,
    "app": "0.1.0", "clock_ms": 0,
}  # fmt: skip


def with_phone(**more: Any) -> dict[str, Any]:
    return {"phones": [{**PHONE, **more}]}


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({}, ""),
        ({"certificate": None, "addresses": []}, ""),
        ({"certificate": {**FINE["certificate"], "days": 30}}, ""),
        ({"certificate": {**FINE["certificate"], "days": 29}}, "ends in 29 days"),
        ({"certificate": {**FINE["certificate"], "days": -1}}, "is over"),
        ({"certificate": {**FINE["certificate"], "days": None}}, "cannot be read"),
        ({"certificate": {**FINE["certificate"], "mdns": {"fault": "no"}}}, "by its name: no."),
        ({"addresses": []}, "no private address"),
        (with_phone(), ""),
        (with_phone(waiting=7, seen=NOW - DAY), ""),
        (with_phone(waiting=7, seen=NOW - 4 * DAY), "7 records wait on it, not heard for 4 days"),
        (with_phone(waiting=7, seen=NOW - 4 * DAY, state="revoked"), ""),
        (with_phone(clock_ms=240_000), ""),
        (with_phone(clock_ms=660_000), "11 minutes fast"),
        (with_phone(clock_ms=-3_600_000), "60 minutes slow"),
        (with_phone(clock_ms=None, app=None), ""),
        ({"durable": 0}, "the phones are the backup"),
        ({"durable": 0, "head": 0}, ""),
        ({"backups": [{"fault": "cut off"}, {"fault": ""}]}, "not sound: cut off"),
        ({"backups": [{"fault": ""}, {"fault": "old"}]}, ""),
        ({"disk": {"free": 100 << 20}}, "Only 100 MiB"),
        ({"chain": {"verified": 4, "head": 10, "broken": 5}}, "damaged at record 5"),
    ],
)
def test_what_there_is_to_do(changed: dict[str, Any], told: str) -> None:
    said = health.sentences({**FINE, **changed}, NOW)
    assert (len(said) == 1 and told in said[0]) if told else said == []


def test_health_of_a_farm_without_phones(server: Any, phone: Any) -> None:
    said = phone.get("/api/health").json
    assert said["k"] == "health1"
    assert said["certificate"] is None
    assert said["head"] == said["chain"]["verified"] > 0
    assert said["phones"][0]["dev"] == phone.dev
    assert said["phones"][0]["app"] is None
    assert said["backups"] == []
    assert said["ok"] is (said["sentences"] == [])


def test_a_phone_tells_its_version_and_its_clock(server: Any, phone: Any) -> None:
    def push(app: str, now: int) -> dict[str, Any]:
        body = {**phone.body(), "now": now}
        headers = {**phone.headers, "X-Bagtrail-App": app}
        assert server.http.post("/api/sync/push", json=body, headers=headers).status_code == 200
        [found] = [p for p in phone.get("/api/health").json["phones"] if p["dev"] == phone.dev]
        return found

    clock = server.log.clock
    found = push("0.1.0", clock() + 600_000)
    assert found["app"] == "0.1.0"
    assert 590_000 < found["clock_ms"] < 610_000
    assert push("0.2.0", clock())["app"] == "0.2.0"
    # What is no version is not kept, and breaks nothing.
    assert push("<script>alert(1)</script>", clock())["app"] is None


def test_what_is_no_news_is_not_written(server: Any, phone: Any) -> None:
    known: dict[str, tuple[str, int]] = {}
    now = server.log.clock()
    phones.note(server.log, known, phone.dev, "0.1.0", now)
    with server.log.store.reading():
        before = server.log.store.notice(f"phone.{phone.dev}")
    for off in (0, 10_000, -10_000):
        phones.note(server.log, known, phone.dev, "0.1.0", now + off)
    with server.log.store.reading():
        assert server.log.store.notice(f"phone.{phone.dev}") == before
    phones.note(server.log, known, phone.dev, "0.1.0", now + 90_000)
    with server.log.store.reading():
        assert server.log.store.notice(f"phone.{phone.dev}") != before


def test_the_chain_is_checked_to_its_head_and_a_changed_record_is_found(
    server: Any, phone: Any
) -> None:
    phone.batch(3, 2)
    chain = Chain()
    good = chain.look(server.log)
    assert good["broken"] == 0
    assert good["verified"] == good["head"] >= 5
    # Checked links are not read again; new ones are.
    phone.batch(1)
    assert chain.look(server.log)["verified"] == good["head"] + 2
    store = server.log.store
    with store.writing():
        store.db.execute_sql("UPDATE event SET text = ? WHERE pos = 3", (b'{"changed": true}',))
    assert Chain().look(server.log)["broken"] == 3
    assert "damaged at record 3" in " ".join(phone.get("/api/health").json["sentences"])


def test_a_long_log_is_checked_a_little_at_a_time(
    server: Any, phone: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone.batch(1)
    chain = Chain()
    assert chain.look(server.log, seconds=0)["verified"] == 0
    assert chain.look(server.log)["verified"] > 0


def test_health_of_a_farm_that_serves_phones(
    each_farm: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BAGTRAIL_LAN", "on")
    farm = each_farm()
    owner = farm.pair("owner")
    before = owner.get("/api/health").json
    # The certificate is made by the process beside the server, which does not run here.
    assert before["certificate"]["days"] is None
    settings = farm.app.extensions["bagtrail.settings"]
    stands = lan.standing(settings, farm.log.identity.tag)
    assert stands is not None
    assert stands.authority is not None
    from bagtrail.network import leaf

    leaf.ensure(settings.data, stands.authority, ["192.168.1.9"], lan.now())
    (settings.data / lan.STATE).write_text(
        json.dumps({"addresses": [], "mdns": {"host": "x", "addresses": [], "fault": "taken"}})
    )
    cert = owner.get("/api/health").json["certificate"]
    assert 390 <= cert["days"] <= 397
    assert cert["hosts"] == [stands.host]
    assert cert["addresses"] == ["192.168.1.9"]
    assert cert["mdns"]["fault"] == "taken"
    assert cert["authority"]["constrained"] is True
    farm.log.close()


def test_the_command_says_it_and_ends_with_its_verdict(server: Any, phone: Any) -> None:
    from click.testing import CliRunner

    from bagtrail.cli import main

    done = CliRunner().invoke(main, ["--data", str(server.folder), "health"])
    assert done.exit_code == 1
    assert "the phones are the backup" in done.output
    done = CliRunner().invoke(main, ["--data", str(server.folder), "health", "--json"])
    assert json.loads(done.output)["k"] == "health1"


def test_the_command_about_the_network_draws_the_sheet(server: Any, tmp_path: Any) -> None:
    from click.testing import CliRunner

    from bagtrail.cli import main

    path = tmp_path / "sheet.pdf"
    done = CliRunner().invoke(main, ["--data", str(server.folder), "network", "--sheet", str(path)])
    assert done.exit_code == 0, done.output
    assert f"farm-{server.log.identity.tag.lower()}.local:8443" in done.output
    assert path.read_bytes().startswith(b"%PDF")
