"""schemathesis against our own OpenAPI page: whatever it sends, no 5xx and no foreign shape."""

from __future__ import annotations

import os
from itertools import product
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode

from bagtrail import create_app, devices, errors, keys

LONG = bool(os.environ.get("BAGTRAIL_LONG"))
EXAMPLES = 400 if LONG else 25


@pytest.fixture(scope="module")
def farm(tmp_path_factory: pytest.TempPathFactory) -> Any:
    folder = tmp_path_factory.mktemp("fuzz")
    app = create_app({"BAGTRAIL_DATA": str(folder), "BAGTRAIL_ZONE": "UTC"})
    log = app.extensions["bagtrail"]
    code = devices.start_code(log)
    body = app.test_client().post("/api/devices/pair", json={"code": code, "name": "x"}).json
    tag = keys.bearer_tag(bytes.fromhex(body["key"]))
    app.fuzz_headers = {"Authorization": f"Bearer {body['dev']}.1.{tag}"}
    return app


def fuzz(operation: Any, mode: GenerationMode, headers: dict[str, str]) -> set[int]:
    """Sends made-up requests to one operation and returns the statuses it answered with."""
    statuses: set[int] = set()

    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        database=None,
        derandomize=not LONG,
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def send(case: Any) -> None:
        reply = case.call(headers=headers)
        statuses.add(reply.status_code)
        assert reply.status_code < 500, reply.text
        if reply.status_code >= 400:
            error = reply.json()["error"]
            assert error["code"] in errors.codes()
            assert set(error) == {"code", "message", "todo", "details"}

    try:
        send()
    except Unsatisfiable:
        # Nothing about a request without parameters and body can be wrong.
        assert mode is GenerationMode.NEGATIVE
        assert not operation.body
        assert not operation.query
    return statuses


def test_no_request_breaks_the_server(farm: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    # The limit on wrong codes would answer for everything behind it.
    monkeypatch.setattr(devices, "_limit", lambda *_: None)
    schema = schemathesis.openapi.from_wsgi("/api/openapi.json", farm)
    tried: dict[str, set[int]] = {}
    # Not by schemathesis's pytest plugin: 4.32 reads a private name that pytest 9.2 no longer has.
    for found, mode in product(schema.get_all_operations(), GenerationMode):
        operation = found.ok()
        statuses = fuzz(operation, mode, farm.fuzz_headers)
        tried[operation.label] = tried.get(operation.label, set()) | statuses
    assert len(tried) >= 11
    assert all(tried.values())
    assert {200, 422} <= tried["POST /api/devices/codes"]
    assert 422 in tried["POST /api/sync/push"]


def test_page_lists_every_route_and_kind(farm: Any) -> None:
    from bagtrail.catalogue import KINDS
    from bagtrail.schemas import schema_name

    page = farm.test_client().get("/api/openapi.json").json
    rules = {
        rule.rule.replace("<code>", "{code}")
        for rule in farm.url_map.iter_rules()
        if rule.rule.startswith("/api/") and rule.rule != "/api/openapi.json"
    }
    assert set(page["paths"]) == rules
    assert {schema_name(name) for name in KINDS} <= set(page["components"]["schemas"])
    assert Path(farm.root_path).exists()
