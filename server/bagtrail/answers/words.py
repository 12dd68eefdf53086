"""What several answers share: the farm's batches, and names for people beside codes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from .. import ids
from ..errors import BadCode, NotFound
from ..fold import FARM, Farm
from ..line import Line


def ref(farm: Farm) -> dict[str, Any]:
    """Returns the farm's reference data: {collection: {code: {...}}}."""
    found: dict[str, Any] = farm.unit(FARM)["ref"]
    return found


def batches(farm: Farm) -> Iterator[dict[str, Any]]:
    """Yields every batch, folded, by its code."""
    for unit in farm.units():
        if ids.type_of(unit) == "M":
            yield farm.unit(unit)


def name_of(farm: Farm, code: str) -> str:
    """Returns what people call a code: a batch's, place's or strain's name, else the code."""
    kind = ids.type_of(code)
    if kind == "M":
        return str(farm.unit(code).get("name", code)) if code in farm.units() else code
    for collection in ("places", "strains", "people", "recipes", "materials", "vessels"):
        entry = ref(farm)[collection].get(code)
        if entry is not None:
            return str(entry.get("name", code))
    return code


def path_of(farm: Farm, place: str) -> list[dict[str, str]]:
    """Returns a place and what it stands in, the room first: [{"code", "name"}]."""
    path: list[dict[str, str]] = []
    here: str | None = place
    while here and all(step["code"] != here for step in path):
        path.insert(0, {"code": here, "name": name_of(farm, here)})
        here = farm.places.within(here)
    return path


def event(line: Line) -> dict[str, Any]:
    """Returns a line as history shows it: id, kind, time, who, subjects and data."""
    shown = {"id": line["id"], "k": line["k"], "t": line["t"], "by": line["by"], "s": line["s"]}
    for key in ("o", "f", "am"):
        if key in line:
            shown[key] = line[key]
    return {**shown, "d": line["d"]}


def code_from(text: str, letters: str) -> str:
    """Returns a code as typed or as a label says it (FARM.CODE), in written form.

    Raises:
        BadCode: it does not check, or names another type of thing than ``letters``; codes one
            slip away are told.
    """
    typed = text.rpartition(".")[2] if ids.type_of(text) == "" else text
    code = typed if ids.type_of(typed) else ids.normalise(typed)
    kind = ids.type_of(code)
    if kind == "":
        near = [guess._asdict() for guess in ids.guesses(code)][:5] if len(code) == 9 else []
        raise BadCode(f"{text[:60]!r} is no code of a tag.", details={"guesses": near})
    if kind not in letters:
        raise BadCode(
            f"{code} is the tag of something else than was asked for.",
            "Scan the tag of the right thing.",
            {"type": kind, "wanted": list(letters)},
        )
    return code


def missing(code: str) -> NotFound:
    """Returns the error for a code that checks but that no record ever named."""
    return NotFound(
        f"{code} is a right code, but nothing on this farm carries it yet.",
        "Give it a meaning first (label, name or fill), or look on the phone that holds it unsent.",
        {"code": code},
    )
