"""The marshmallow schema of a kind (what OpenAPI shows) says what the catalogue's check says."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bagtrail.catalogue import KINDS, Field, Kind, check_fields
from bagtrail.ids import WORDS
from bagtrail.schemas import all_kinds

from . import vectors as v

SCHEMAS = all_kinds()
ACROSS = {"bag.filled", "stock.opened", "group.split"}  # fields that must fit each other: no schema
CODES = ["B0000001K", "G0000001E", "M0000001A", "P00000018", "S00000015", "H0000001D", "K0000001B",
         "W00000012", "g-00000000-0000-7000-8000-000000000009", "B0000001L", "b0000001k",
         *(f"{word}-00000000-0000-7000-8000-000000000001" for word in WORDS)]  # fmt: skip

json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=5,
)
texts = st.text(max_size=8) | st.sampled_from(["", "\0", "x" * 40, "x" * 61, "x" * 201, "🍄" * 12])
codes = st.sampled_from(CODES)
shares = st.sampled_from([0, 1, 10_000, 10_001])


def values(field: Field) -> st.SearchStrategy[Any]:
    """Return values for a field, most of them near the edge of what it takes."""
    edges = [field.min - 1, field.min, field.max, field.max + 1, 0, 1]
    near: dict[str, st.SearchStrategy[Any]] = {
        "int": st.sampled_from(edges) | st.integers(field.min, field.max),
        "time": st.sampled_from([*edges, 9_999_999_999_999, 10_000_000_000_000]),
        "text": texts | st.sampled_from(["x" * field.max, "🍄" * field.max, "x" * (field.max + 1)])
        if field.type == "text"
        else texts,
        "code": codes,
        "codes": st.lists(codes, max_size=4),
        "choice": st.sampled_from([*field.choices, "none of them"]),
        "flag": st.booleans(),
        "id": st.sampled_from(["00000000-0000-7000-8000-000000000009", "x", CODES[0]]),
        "was": st.fixed_dictionaries({"ms": st.sampled_from([-1, 0]), "p": st.sampled_from("mdx")}),
        "parts": st.lists(st.fixed_dictionaries({"name": texts, "share": shares}), max_size=3),
        "of": st.lists(st.lists(codes | st.just(""), min_size=1, max_size=3), max_size=3),
        "fields": st.dictionaries(st.text(max_size=3), st.integers(), max_size=22),
        "rows": st.lists(
            st.fixed_dictionaries({}, optional={x.name: values(x) for x in field.rows}), max_size=3
        ),
    }
    return st.one_of(near[field.type], near[field.type], near[field.type], json_values)


def data_for(kind: Kind) -> st.SearchStrategy[dict[str, Any]]:
    required = {f.name: values(f) for f in kind.fields if f.required}
    optional = {f.name: values(f) for f in kind.fields if not f.required}
    optional["mood"] = st.just("fine")
    whole = st.fixed_dictionaries(required, optional=optional)
    gaps = st.fixed_dictionaries({}, optional=required | optional)
    return whole | whole | gaps


def compare(kind: Kind, data: dict[str, Any]) -> None:
    errors = SCHEMAS[kind.name]().validate(data)
    reason = check_fields(kind.name, data)
    if reason is None:
        assert not errors, f"only the schema refuses {data}: {errors}"
    elif not errors:
        across = kind.name in ACROSS and reason in ("field:n", "field:to")
        assert across or reason == "carbide", f"only the check refuses {data}: {reason}"
    elif reason == "field:?":
        assert set(errors) - {f.name for f in kind.fields}
    elif reason != "carbide" and not (kind.name in ACROSS and reason in ("field:n", "field:to")):
        assert reason.removeprefix("field:") in errors


@pytest.mark.parametrize("name", sorted(KINDS))
def test_schema_and_check_agree(name: str) -> None:
    kind = KINDS[name]

    @settings(max_examples=60, deadline=None, derandomize=True)
    @given(data_for(kind))
    def agree(data: dict[str, Any]) -> None:
        compare(kind, data)

    agree()


@pytest.mark.parametrize("name", sorted(KINDS))
def test_schema_and_check_agree_on_the_vectors(name: str) -> None:
    file = v.load(f"check/{name}.json")
    for case in file["valid"]:
        assert not SCHEMAS[name]().validate(case["d"])
    for case in file["invalid"]:
        compare(KINDS[name], case["d"])
