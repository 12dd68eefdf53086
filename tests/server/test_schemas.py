"""The marshmallow schemas say what the catalogue's own check tests."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bagtrail import schemas
from bagtrail.catalogue import KINDS, check_fields

SCHEMAS = schemas.all_kinds()
CODE = "B0000001K"
VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(2**54), 2**54),
    st.integers(-3, 3),
    st.floats(allow_nan=False),
    st.text(max_size=5),
    st.sampled_from(
        ["5", 5.0, CODE, "P00000018", "S00000015", "M0000001A", "x" * 2_001, "a\x00", "\ud800",
         [CODE], [CODE, CODE], [], {}, {"ms": 5, "p": "m"}, {"ms": 5, "p": "x"},
         [["M0000001A", ""]],
         [{"name": "Bran", "share": 5}], "green_mould", "passed", "owner", "spent",
         "strain-00000000-0000-7000-8000-000000000001", "00000000-0000-7000-8000-000000000009"]
    ),
)  # fmt: skip


@pytest.mark.parametrize("name", sorted(KINDS))
def test_example_of_every_kind_passes(name: str) -> None:
    assert SCHEMAS[name]().validate(KINDS[name].example["d"]) == {}


@pytest.mark.parametrize("name", sorted(KINDS))
def test_schema_and_catalogue_agree(name: str) -> None:
    kind = KINDS[name]
    fields = [f.name for f in kind.fields] or ["x"]
    schema = SCHEMAS[name]()

    @settings(max_examples=150, deadline=None, database=None, derandomize=True)
    @given(
        changes=st.dictionaries(st.sampled_from([*fields, "unknown"]), VALUES, max_size=3),
        gone=st.sets(st.sampled_from(fields), max_size=1),
    )
    def agree(changes: dict[str, Any], gone: set[str]) -> None:
        d = {k: v for k, v in kind.example["d"].items() if k not in gone} | changes
        why = check_fields(name, d)
        wrong = schema.validate(d)
        if not wrong and why is not None:
            # Only what concerns several fields at once, or a name's meaning, is left to the fold.
            assert why == "carbide" or ("born" in kind.rules and why in ("field:n", "field:to"))
        else:
            assert bool(wrong) == (why is not None), (d, wrong, why)

    agree()


@pytest.mark.parametrize("value", [5.0, "5", True, None, 1.5])
def test_only_whole_numbers_are_whole_numbers(value: Any) -> None:
    assert SCHEMAS["bag.weighed"]().validate({"g": value, "when": "cooled"})
