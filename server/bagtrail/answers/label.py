"""What a label says beside its code."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from ..fold import FARM, Farm
from .words import code_from, name_of


def label_of(farm: Farm, text: str) -> dict[str, str]:
    """Returns {"code", "batch", "number", "what", "day"} as far as they are known.

    ``what`` is the strain, else the recipe; ``day`` the filling date in the farm's zone, "12 Jun".

    Raises:
        BadCode: it does not check.
    """
    code = code_from(text, "BGPSHMKW")
    home = farm.home(code)
    part = farm.part(code)
    if part is None or home is None:
        name = name_of(farm, code)
        return {"code": code, "batch": name if name != code else ""}
    unit = farm.unit(home)
    birth = farm.index.lines[part["id"]]
    said: dict[str, Any] = birth["d"].get("was") or unit["mixed"].get("was") or {"ms": birth["t"]}
    strain = name_of(farm, part["strain"]) if "strain" in part else ""
    return {
        "code": code,
        "batch": str(unit.get("name", "")),
        "number": str(part.get("num", "")),
        "what": strain or str(unit["mixed"].get("recipe_name", "")),
        "day": short_day(farm, said["ms"]),
    }


def short_day(farm: Farm, ms: int) -> str:
    """Returns a time as a label's date in the farm's zone, "12 Jun"."""
    zone = farm.unit(FARM)["ref"]["settings"].get("farm", {}).get("zone", "UTC")
    day = datetime.fromtimestamp(ms / 1000, ZoneInfo(zone))
    months = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
    return f"{day.day} {months[day.month - 1]}"
