"""Find: a typed or scanned code, or a word out of a name, leads to things and where they live."""

from __future__ import annotations

from typing import Any

from .. import ids, rules
from ..fold import Farm
from .words import batches, name_of, path_of, ref


def find(farm: Farm, text: str, limit: int = 100) -> dict[str, Any]:
    """Returns {"q", "guesses", "found", "more"}.

    ``found`` holds {"type", "code", "name", ...} of batches (with live bags, stages and places),
    parts, places, strains, spawn lots and people. A code finds just the thing that carries it; a
    word finds batches by name, strain or place, and bags by number ("A12"). ``guesses`` are codes
    of this farm one slip away from a mistyped one.
    """
    query = text.strip()
    code = _as_code(query)
    if code:
        found = _by_code(farm, code)
    else:
        found = _by_word(farm, query.casefold())
    return {
        "q": query,
        "guesses": [] if code else _guesses(farm, query),
        "found": found[:limit],
        "more": max(0, len(found) - limit),
    }


def _as_code(query: str) -> str:
    """Returns the code in what was typed or scanned (``7K3Q.B0000001K``), "" when there is none."""
    for text in (query, query.rpartition(".")[2]):
        for code in (text, ids.normalise(text)):
            if ids.type_of(code):
                return code
    return ""


def _guesses(farm: Farm, query: str) -> list[dict[str, Any]]:
    def known(code: str) -> bool:
        return bool(farm.index.all_naming(code) or farm.index.all_claimants(code))

    bare = ids.normalise(query.rpartition(".")[2])
    return [guess._asdict() for guess in ids.guesses(bare, known)][:5]


def _by_code(farm: Farm, code: str) -> list[dict[str, Any]]:
    kind = ids.type_of(code)
    if kind == "M":
        return [_batch(farm, farm.unit(code))] if code in farm.units() else []
    if kind in ("B", "G"):
        part = farm.part(code)
        return [_part(farm, farm.home(code) or "", code, part)] if part else []
    return [thing for thing in _things(farm) if thing["code"] == code]


def _by_word(farm: Farm, word: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    numbered: list[dict[str, Any]] = []
    for unit in batches(farm):
        shown = _batch(farm, unit)
        names = [shown["name"], *(s["name"] for s in shown["strains"])]
        names += [step["name"] for place in shown["places"] for step in place["path"]]
        if any(word in name.casefold() for name in names):
            found.append(shown)
        if word:
            numbered += [
                _part(farm, unit["unit"], code, part)
                for code, part in unit["parts"].items()
                if part.get("num", "").casefold() == word
            ]
    found.sort(key=lambda b: (-b["live"], b["name"], b["code"]))
    things = [t for t in _things(farm) if word and word in t["name"].casefold()]
    return [*numbered, *found, *things]


def _batch(farm: Farm, unit: dict[str, Any]) -> dict[str, Any]:
    summary = rules.summary(unit)
    sums = summary["all"]
    places = sorted(sums["places"].items(), key=lambda item: (-item[1], item[0]))
    return {
        "type": "batch",
        "code": unit["unit"],
        "name": unit.get("name", unit["unit"]),
        "live": sums["live"],
        "bags": sums["bags"],
        "stages": sums["stages"],
        "strains": [{"code": s, "name": name_of(farm, s)} for s in summary["strains"] if s],
        "places": [{"code": p, "path": path_of(farm, p) if p else [], "n": n} for p, n in places],
    }


def _part(farm: Farm, home: str, code: str, part: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "part",
        "code": code,
        "name": part.get("num", ""),
        "batch": home,
        "batch_name": name_of(farm, home),
        "n": part["n"],
        "stage": part.get("stage", ""),
        "end": part.get("end", ""),
        "place": path_of(farm, part["place"]) if part.get("place") else [],
    }


def _things(farm: Farm) -> list[dict[str, Any]]:
    """Returns places, strains, spawn lots, loads and people, each with its name."""
    types = {"places": "place", "strains": "strain", "spawn": "spawn", "loads": "load",
             "people": "person", "recipes": "recipe"}  # fmt: skip
    found = []
    for collection, kind in types.items():
        for code, entry in sorted(ref(farm)[collection].items()):
            thing = {"type": kind, "code": code, "name": str(entry.get("name", code))}
            if kind == "place":
                thing["path"] = path_of(farm, code)
            if kind == "spawn" and farm.strain_of(code):
                thing["strain"] = farm.strain_of(code)
                thing["name"] = name_of(farm, thing["strain"])
            found.append(thing)
    return found


def sentence(thing: dict[str, Any]) -> str:
    """Returns one found thing as a line for the terminal."""
    if thing["type"] == "batch":
        where = ", ".join(f"{p['n']} in {_path(p['path']) or 'no place'}" for p in thing["places"])
        live = f"{thing['live']} of {thing['bags']} live"
        return f"{thing['code']}  batch {thing['name']}: {live}; {where}"
    if thing["type"] == "part":
        state = thing["end"] or thing["stage"]
        where = _path(thing["place"]) or "no place"
        bag = f"{thing['batch_name']} {thing['name']}".strip()
        return f"{thing['code']}  {bag}: {thing['n']} × {state}; {where}"
    where = f"; {_path(thing['path'][:-1])}" if len(thing.get("path", ())) > 1 else ""
    return f"{thing['code']}  {thing['type']} {thing['name']}{where}"


def _path(path: list[dict[str, str]]) -> str:
    return " / ".join(step["name"] for step in path)
