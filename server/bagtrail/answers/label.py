"""What a label or tag says beside its code."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from ..fold import FARM, Farm
from .tagwords import words_of
from .words import code_from, name_of, ref

SORTS = {**{sort: sort for sort in ("room", "rack", "shelf", "trolley")}, "cold_store": "cold"}
# Common practice, no source: a month in Roman figures is read in any language, and taken for a
# day in none.
ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII")
MOST_NAMED = 3  # batches named on a load's tag


def label_of(farm: Farm, text: str, language: str = "") -> dict[str, str]:
    """Returns what is known of a code, under the names that bagtrail_labels.Label takes.

    A bag or group: batch, number, what (strain, else recipe), day (filled, in the farm's zone,
    "12 Jun"). Other tags: title (their own name), word (their type) and what tells them apart.

    Args:
        language: of the label; where it is none of `tagwords` the type's word is left out.

    Raises:
        BadCode: it does not check.
    """
    code = code_from(text, "BGPSHMKW")
    said = {"code": code}
    part, home = farm.part(code), farm.home(code)
    if part is not None and home is not None:
        said |= _part(farm, code, part, farm.unit(home), language)
    elif code[0] not in "BG":
        said |= _TAGS[code[0]](farm, code, language)
    if code[0] != "B":
        words = words_of(language)
        if words is not None:
            said.setdefault("word", words.types[code[0]])
    return said


def _part(
    farm: Farm, code: str, part: dict[str, Any], unit: dict[str, Any], language: str
) -> dict[str, str]:
    birth = farm.index.lines[part["id"]]
    was: dict[str, Any] = birth["d"].get("was") or unit["mixed"].get("was") or {"ms": birth["t"]}
    strain = name_of(farm, part["strain"]) if "strain" in part else ""
    number = str(part.get("num", ""))
    if code[0] == "G":
        words = words_of(language)
        number = words.count(part["n"]) if words else f"\N{MULTIPLICATION SIGN} {part['n']}"
    return {
        "batch": str(unit.get("name", "")),
        "number": number,
        "what": strain or str(unit["mixed"].get("recipe_name", "")),
        "day": short_day(farm, was["ms"], language),
    }


def _place(farm: Farm, code: str, language: str) -> dict[str, str]:
    place = ref(farm)["places"].get(code)
    if place is None:
        return {}
    kind = str(place.get("type", ""))
    within = place.get("within")
    words = words_of(language)
    return {
        "title": str(place.get("name", "")),
        **({"word": words.places.get(kind, words.types["P"])} if words else {}),
        "sort": SORTS.get(kind, ""),
        "what": name_of(farm, within) if within else "",
    }


def _spawn(farm: Farm, code: str, language: str) -> dict[str, str]:
    lot = ref(farm)["spawn"].get(code)
    if lot is None:
        return {}
    strain = farm.strain_of(code)
    was = lot.get("was") or {"ms": lot["made"]}
    words, carrier = words_of(language), str(lot.get("carrier", ""))
    said = {
        "title": name_of(farm, strain) if strain else "",
        "what": words.carriers.get(carrier, carrier) if words else "",
        "day": short_day(farm, was["ms"], language),
    }
    return said | ({"number": f"G{lot['generation']}"} if "generation" in lot else {})


def _load(farm: Farm, code: str, language: str) -> dict[str, str]:
    load = ref(farm)["loads"].get(code)
    if load is None:
        return {}
    homes = dict.fromkeys(farm.home(held) or held for held in load.get("holds", ()))
    names = [name_of(farm, home) for home in homes]
    more = [f"+ {len(names) - MOST_NAMED}"] if len(names) > MOST_NAMED else []
    return {
        "title": str(load.get("vessel", "")),
        "what": ", ".join([*names[:MOST_NAMED], *more]),
        "day": short_day(farm, load["made"], language),
    }


def _batch(farm: Farm, code: str, language: str) -> dict[str, str]:
    if code not in farm.units():
        return {}
    unit = farm.unit(code)
    was = unit["mixed"].get("was")
    return {
        "title": str(unit.get("name", "")),
        "what": str(unit["mixed"].get("recipe_name", "")),
        "day": short_day(farm, was["ms"], language) if was else "",
    }


def _crate(farm: Farm, code: str, language: str) -> dict[str, str]:
    return {}  # a crate is filled and emptied: what is in it does not stand on it


def _person(farm: Farm, code: str, language: str) -> dict[str, str]:
    return {"title": str(ref(farm)["people"].get(code, {}).get("name", ""))}


_TAGS: dict[str, Callable[[Farm, str, str], dict[str, str]]] = {
    "P": _place, "S": _spawn, "H": _load, "M": _batch, "K": _crate, "W": _person,
}  # fmt: skip


def short_day(farm: Farm, ms: int, language: str = "") -> str:
    """Returns a time as a label's date in the farm's zone: "12 Jun", "6月12日", "12 VI"."""
    zone = farm.unit(FARM)["ref"]["settings"].get("farm", {}).get("zone", "UTC")
    day = datetime.fromtimestamp(ms / 1000, ZoneInfo(zone))
    if words := words_of(language):
        return words.day(day)
    match language.lower().partition("-")[0]:
        case "ja" | "zh":
            return f"{day.month}月{day.day}日"
        case "ko":
            return f"{day.month}월 {day.day}일"
    return f"{day.day} {ROMAN[day.month - 1]}"
