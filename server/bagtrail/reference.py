"""Reference data (places, strains, lots, people): the later record wins, field by field.

The twin of reference.ts. Where one writer had not seen the other, a question is asked.
"""

from __future__ import annotations

from typing import Any

from . import rules
from .catalogue import KINDS
from .line import Line

COLLECTIONS = ("places", "strains", "materials", "spawn", "recipes", "loads", "people", "devices",
               "settings", "plans", "vessels")  # fmt: skip


def _collection(kind: str) -> str | None:
    for effect in KINDS[kind].effects:
        if effect[0] == "ref":
            return str(effect[1])
    if "store" in KINDS[kind].rules:
        return "materials"
    return "devices" if "device" in KINDS[kind].rules else None


REFERENCES = {name: found for name in KINDS if (found := _collection(name))}


def reference(lines: list[Line], epochs: list[str]) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Fold reference lines, given in order.

    Returns:
        ({collection: {code: {field: value, ...}}}, questions). Settings have the one key "farm".
    """
    ref: dict[str, Any] = {name: {} for name in COLLECTIONS}
    last: dict[tuple[str, str], Line] = {}
    questions = []
    taken: dict[str, int] = {}
    for line in lines:
        if line["k"] == "material.taken":
            taken[line["s"][0]] = taken.get(line["s"][0], 0) + line["d"]["g"]
            continue
        name = REFERENCES[line["k"]]
        code = line["s"][0] if line["s"] else "farm"
        if name == "devices":
            code = line["d"]["dev"]
            if line["k"] == "device.revoked":
                ref[name].setdefault(code, {})["revoked"] = line["t"]
                continue
            ref[name].get(code, {}).pop("revoked", None)
            line = {**line, "d": {**line["d"], "person": line["s"][0]}}
        entry = ref[name].setdefault(code, {"made": line["t"]})
        for field, value in line["d"].items():
            before = last.get((code, field))
            changed = before is not None and entry.get(field) != value
            if before is not None and changed and not rules.seen(line, before, epochs):
                ids = [before["id"], line["id"]]
                question = {"id": ":".join(["reference", *ids]), "rule": "reference"}
                questions.append({**question, "recs": ids, "sub": line["s"]})
            entry[field] = value
            last[(code, field)] = line
        if "load" in KINDS[line["k"]].rules:
            entry["holds"] = list(dict.fromkeys([*entry.get("holds", ()), *line["s"][1:]]))
            if "result" in line["d"]:
                entry.setdefault("ran", line["t"])
    # What is left of a lot may go below 0: the count is then to be corrected, never hidden.
    for code, entry in ref["materials"].items():
        if "mass_g" in entry:
            entry["left_g"] = entry["mass_g"] - taken.get(code, 0)
    return ref, list({q["id"]: q for q in questions}.values())
