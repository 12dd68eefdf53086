"""The catalogue: every kind of record stands here once, in the file of its family.

The marshmallow schema, both folds, the client's form, the API page and the table in DEVELOPERS.md
follow from an entry. Pure: only the standard library and `ids`.
"""

from . import (  # noqa: F401  (they fill KINDS)
    bags,
    batches,
    crop,
    farm,
    labels,
    loads,
    mixes,
    places,
    records,
    stock,
)
from .check import check, check_fields
from .model import KINDS, Field, Kind, as_data

STAGES = ("filled", "sterilised", "spawn_run", "colonised", "fruiting", "resting")
ENDS = ("spent", "dumped", "sold", "burst", "melted")

__all__ = ["ENDS", "KINDS", "STAGES", "Field", "Kind", "as_data", "check", "check_fields", "export"]


def export() -> dict[str, object]:
    """Return the whole catalogue as JSON data, kinds in the order of their names."""
    kinds = {name: as_data(KINDS[name]) for name in sorted(KINDS)}
    return {"stages": list(STAGES), "ends": list(ENDS), "kinds": kinds}
