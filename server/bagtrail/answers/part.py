"""What one bag or group is, where it stands, and what happened to it."""

from __future__ import annotations

from typing import Any

from ..fold import Farm
from .words import code_from, event, missing, name_of, path_of


def part(farm: Farm, text: str) -> dict[str, Any]:
    """Returns {"code", "part", "batch", "strain", "place", "history", "questions"}.

    History is newest first and holds what happened to its group before it was split off.

    Raises:
        BadCode, NotFound: no code, or one that nothing carries.
    """
    code = code_from(text, "BG")
    state = farm.part(code)
    if state is None:
        raise missing(code)
    home = farm.home(code) or ""
    unit = farm.unit(home)
    found: dict[str, Any] = {
        "code": code,
        "part": state,
        "batch": {"code": home, "name": unit.get("name", home)},
        "history": [event(line) for line in reversed(farm.history(code))],
        "questions": [q for q in unit["questions"] if code in q["sub"]],
    }
    if "strain" in state:
        found["strain"] = {"code": state["strain"], "name": name_of(farm, state["strain"])}
    if state.get("place"):
        found["place"] = path_of(farm, state["place"])
    return found
