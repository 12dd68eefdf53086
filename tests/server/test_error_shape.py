"""Every error of every route leaves in the one shape, with a code that the table knows."""

from __future__ import annotations

from typing import Any

import pytest

from bagtrail import errors

METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")


def assert_shape(reply: Any) -> None:
    assert reply.status_code >= 400
    assert reply.mimetype == "application/json", reply.text
    error = reply.json["error"]
    assert set(error) == {"code", "message", "todo", "details"}
    assert error["code"] in errors.codes()
    assert error["message"].strip()
    assert error["todo"].strip()
    assert isinstance(error["details"], dict)


def routes(server: Any) -> list[str]:
    return sorted({
        rule.rule.replace("<code>", "B123").replace("<path:path>", "nowhere.txt")
        for rule in server.app.url_map.iter_rules()
        if rule.rule not in ("/", "/api/openapi.json")
    })  # fmt: skip


def test_every_route_answers_strangers_and_wrong_methods_alike(server: Any, phone: Any) -> None:
    seen: set[int] = set()
    assert len(routes(server)) >= 11
    for path in [*routes(server), "/api/", "/api/nowhere", "/api/answers/part/%00"]:
        for method in METHODS:
            for headers in ({}, phone.headers):
                for more in (
                    {},
                    {"json": {}},
                    {"json": []},
                    {"data": b"\xff", "content_type": "application/json"},
                ):
                    reply = server.http.open(path, method=method, headers=headers, **more)
                    if reply.status_code >= 400:
                        assert_shape(reply)
                        seen.add(reply.status_code)
                    assert reply.status_code < 500, (method, path, reply.text)
    assert {400, 401, 404, 405, 415, 422} <= seen


def test_wrong_method_names_the_right_ones(server: Any) -> None:
    reply = server.http.delete("/api/sync/push")
    assert reply.json["error"]["code"] == "method_refused"
    assert "POST" in reply.json["error"]["details"]["methods"]
    assert "POST" in reply.headers["Allow"]


def test_bug_in_a_view_leaves_in_the_same_shape(
    server: Any, phone: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: Any) -> None:
        raise RuntimeError("boom with a secret")

    monkeypatch.setattr(server.log, "snapshot", broken)
    reply = phone.get("/api/sync/snapshot")
    assert reply.status_code == 500
    assert_shape(reply)
    assert "secret" not in reply.text


def test_codes_are_one_tree_without_twins() -> None:
    table = errors.codes()
    assert len(table) == len(errors._tree(errors.AppError)) + 1
    for code, kind in table.items():
        assert code == kind.code
        assert 400 <= kind.status < 600
        assert kind.doc.endswith(".")
        assert kind.todo.endswith(".")


def test_mistyped_code_tells_what_may_be_meant(server: Any, phone: Any) -> None:
    _, bags = phone.batch(1, 1)
    wrong = bags[0][:4] + ("0" if bags[0][4] != "0" else "1") + bags[0][5:]
    reply = phone.get(f"/api/answers/part/{wrong}")
    assert reply.status_code == 422
    assert reply.json["error"]["code"] == "bad_code"
    found = phone.get("/api/answers/find", q=wrong).json
    assert {"code": bags[0], "position": 5} in found["guesses"]


def test_code_never_issued_and_tag_of_the_wrong_type(server: Any, phone: Any) -> None:
    never = phone.get(f"/api/answers/part/{phone.code('B')}")
    assert never.json["error"]["code"] == "not_found"
    wrong = phone.get(f"/api/answers/part/{phone.code('P')}")
    assert wrong.json["error"]["code"] == "bad_code"
    assert wrong.json["error"]["details"]["type"] == "P"
