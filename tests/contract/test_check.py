"""Which data may be folded, and why other data is held; client twin: core/check.vectors.test.ts."""

from __future__ import annotations

from typing import Any

import pytest

from bagtrail.catalogue import KINDS, check

from . import vectors as v

FILES = [v.load(f"check/{path.name}") for path in sorted((v.FIXTURES / "check").glob("*.json"))]


@pytest.mark.parametrize("file", [pytest.param(f, id=f["kind"]) for f in FILES])
def test_what_may_be_folded(file: dict[str, Any]) -> None:
    refused = []
    for case in file["valid"]:
        reason = check(file["kind"], 1, case["sub"], case["d"])
        if reason is not None:
            refused.append((case, reason))
    assert not refused


@pytest.mark.parametrize("file", [pytest.param(f, id=f["kind"]) for f in FILES])
def test_what_is_held_and_why(file: dict[str, Any]) -> None:
    wrong = []
    for case in file["invalid"]:
        reason = check(file["kind"], case.get("tv", 1), case["sub"], case["d"])
        if reason != case["reason"]:
            wrong.append((case, reason))
    assert not wrong


def test_every_kind_and_every_field_is_tried() -> None:
    tried = {f["kind"]: f for f in FILES}
    assert set(KINDS) <= set(tried)
    for kind in KINDS.values():
        invalid = {case["reason"] for case in tried[kind.name]["invalid"]}
        assert {f"field:{field.name}" for field in kind.fields} <= invalid
        valid = {name for case in tried[kind.name]["valid"] for name in case["d"]}
        assert {field.name for field in kind.fields} <= valid
        words = [(f, c) for f in kind.fields for c in f.choices]
        given = [case["d"] for case in tried[kind.name]["valid"]]
        assert all(any(d.get(f.name) == c for d in given) for f, c in words)
