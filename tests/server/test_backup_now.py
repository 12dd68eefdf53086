"""A backup when the owner asks: made in a process of its own, verified, told with the state."""

from __future__ import annotations

from typing import Any

BOTH_STORES = True


def note(phone: Any) -> list[Any]:
    return phone.record("note.written", [phone.by], {"text": "x"})


def test_the_owner_has_a_backup_made_and_confirms_it_copied_away(server: Any, phone: Any) -> None:
    phone.push(*[note(phone) for _ in range(5)])
    before = server.http.get("/api/sync/state", headers=phone.headers).json
    assert before["backups"] == []
    for n in (1, 2):
        reply = server.http.post("/api/sync/backup", json={}, headers=phone.headers)
        assert reply.status_code == 200, reply.text
        state = reply.json
        assert len(state["backups"]) == n
        newest = state["backups"][0]
        assert newest["verified"]
        assert newest["fault"] == ""
        assert newest["pos"] == state["head"]
    for row in state["backups"]:
        body = {"name": row["name"]}
        state = server.http.post("/api/sync/away", json=body, headers=phone.headers).json
    assert all(row["counts"] for row in state["backups"])
    assert state["durable"] == state["backups"][-1]["pos"]


def test_a_backup_that_cannot_be_written_is_told(server: Any, phone: Any) -> None:
    settings = server.app.extensions["bagtrail.settings"]
    settings.backups.parent.mkdir(parents=True, exist_ok=True)
    settings.backups.write_text("a file where the folder should be")
    reply = server.http.post("/api/sync/backup", json={}, headers=phone.headers)
    assert (reply.status_code, reply.json["error"]["code"]) == (500, "bad_backup")
    assert str(settings.backups) in reply.json["error"]["message"]
    assert server.http.get("/api/sync/state", headers=phone.headers).json["backups"] == []


def test_only_one_is_made_at_a_time(server: Any, phone: Any) -> None:
    from bagtrail.backup_now import BackupNow

    now = BackupNow(server.log, server.app.extensions["bagtrail.settings"])
    assert now.make(0.0) is False
    assert now.make(60.0) is True
    reply = server.http.get("/api/sync/state", headers=phone.headers).json
    assert len(reply["backups"]) == 1
