"""Named formulas that the data effects of the catalogue cannot say; the twin of rules.ts."""

from __future__ import annotations

import re
from typing import Any

from .catalogue import ENDS, STAGES
from .line import Line

DAY_MS = 86_400_000
REPEAT_MS = 3_000  # two harvests of the same from one phone within this are asked about
APART_MS = 600_000  # two unseen moves further apart than this are asked about
_POSITION = re.compile("[0-9]{1,15}")  # `base` is any text: other digits or 5,000 of them are none


def seen(writer: Line, other: Line, epochs: list[str]) -> bool:
    """Tell whether the person who wrote `writer` had `other` on the phone.

    Same stream and lower sq; or the same epoch as the writer's base at or below its position; or
    an earlier epoch of this log.
    """
    if writer["st"] == other["st"]:
        return bool(other["sq"] < writer["sq"])
    epoch, _, pos = writer["b"].partition(".")
    if not other["ep"] or not _POSITION.fullmatch(pos):
        return False
    if epoch == other["ep"]:
        return bool(other["p"] <= int(pos))
    return (
        other["ep"] in epochs
        and epoch in epochs
        and epochs.index(other["ep"]) < epochs.index(epoch)
    )


def may_correct(actor: Line, target: Line) -> bool:
    """Tell whether a void or an amendment counts: own and of the last 24 h, or a manager's.

    Own is what the same person wrote; who is only said to stand at a device (the flag "by") owns
    there what that device wrote. Decided from the two records and their receipts alone, so any
    machine decides alike in any order of arrival.
    """
    if actor["a"] in ("o", "m"):
        return True
    own = bool(actor["by"] == target["by"])
    if "by" in actor.get("f", ()):
        own = own and bool(actor["dev"] == target["dev"])
    return actor["a"] == "w" and own and bool(actor["e"] - target["e"] <= DAY_MS)


def born(line: Line) -> list[tuple[str, int, str]]:
    """List the parts a birth makes: (label or "", count, suffix of the untagged name).

    Each B label is one bag; a G label, or no label, takes what is left of `n`.
    """
    to = line["d"].get("to", [])
    bags = sum(1 for code in to if code[0] == "B")
    rest = line["d"].get("n", bags) - bags
    parts = [(code, 1 if code[0] == "B" else rest, f".{i}") for i, code in enumerate(to)]
    if rest and bags == len(to):
        parts.append(("", rest, ""))
    return parts


def number_of(first: str, index: int) -> str:
    """Return a bag's number in words for people: "A12" and 3 give "A15", "A09" and 1 "A10".

    Leading zeros stay, for the first bag is called what was said. "" where it ends in no digit.
    """
    digits = len(first) - len(first.rstrip("0123456789"))
    if not digits:
        return ""
    head, tail = first[:-digits], first[-digits:]
    return f"{head}{int(tail) + index:0{digits}d}"


def reach_stage(part: dict[str, Any], stage: str, at: int, stated: bool = False) -> None:
    """Bring a part to a stage; steps that were skipped are inferred and marked, none is undone.

    Fruiting and resting take turns; otherwise a stage lower than the present one only fills in.
    """
    rank = _rank(stage)
    have = _rank(part["stage"]) if "stage" in part else -1
    inferred = part.setdefault("inferred", [])
    if stage in inferred:
        inferred.remove(stage)
    if rank < have:
        return
    if not stated:
        inferred.extend(STAGES[have + 1 : rank])
    if part.get("stage") != stage:
        part["stage"] = stage
        part["since"] = at


def _rank(stage: str) -> int:
    return 4 if stage == "resting" else STAGES.index(stage)


def dry_share_g(bags: int, fill_g: int, moisture: int) -> int:
    """Return ten-thousandths of a gram of oven-dry mass: exact, so that sums round only once.

    `moisture` is in 0.01 % wet basis: dry = bags x fill x (1 - moisture).
    """
    return bags * fill_g * (10_000 - moisture)


def efficiency(fresh_g: int, dry: int, per_g: int = 1) -> int | None:
    """Return biological efficiency in 0.01 %: fresh / oven-dry substrate at spawning x 100.

    Args:
        fresh_g: grams picked.
        dry: oven-dry mass at spawning, spawn not counted, in 1/per_g of a gram.

    Returns:
        0.01 %, half up; it may exceed 100 %. None without dry mass.
        Source: usage of Diehle & Royse 1986, Mycologia 78:929-933; Pettipher 1988.
        Example: 1350 g on 1000 g is 13,500 (135 %).
    """
    return round_half_up(fresh_g * 10_000 * per_g, dry) if dry > 0 else None


def round_half_up(a: int, b: int) -> int:
    """Divide whole numbers (b > 0) to the nearest, a half going up; both languages round alike."""
    return (2 * a + b) // (2 * b)


def summary(unit: dict[str, Any]) -> dict[str, Any]:
    """Sum up a batch: per strain and for the whole, from its parts and its harvest lines.

    Returns:
        {"all": S, "strains": {strain or "": S}, "shared": [{"of", "g"}]}; S holds bags (all ever
        counted), live, spawned, stages {stage: n}, places {place or "": n} of live bags, bad and
        odd (bags), ends {cause: n}, dry_g (of spawned bags, absent when a weight or the moisture is
        unknown), flushes {"1": g}, g and be (0.01 %, absent without dry_g). Flushes as named.
    """
    out: dict[str, Any] = {"all": _blank(), "strains": {}, "shared": []}
    moisture = unit.get("moisture")
    for code in sorted(unit["parts"]):
        part = unit["parts"][code]
        for sums in (out["all"], out["strains"].setdefault(part.get("strain", ""), _blank())):
            _count(sums, part, moisture)
    for pick in unit["picks"]:
        here = [pair for pair in pick["of"] if pair[0] == unit["unit"]]
        if len(here) == len(pick["of"]):
            _pick(out["all"], pick)
        if len(pick["of"]) == 1:
            _pick(out["strains"].setdefault(here[0][1], _blank()), pick)
        else:
            out["shared"].append({"of": pick["of"], "g": pick["g"], "flush": pick["flush"]})
    for sums in (out["all"], *out["strains"].values()):
        _close(sums)
    return out


def _blank() -> dict[str, Any]:
    return {"bags": 0, "live": 0, "spawned": 0, "stages": {}, "places": {}, "bad": 0, "odd": 0,
            "ends": {}, "dry_g": 0, "flushes": {}, "g": 0, "unknown_dry": 0}  # fmt: skip


def _count(sums: dict[str, Any], part: dict[str, Any], moisture: int | None) -> None:
    n = part["n"]
    sums["bags"] += n
    if "bad" in part:
        sums["bad"] += n
    if "odd" in part:
        sums["odd"] += n
    if "end" in part:
        _more(sums["ends"], part["end"], n)
    else:
        sums["live"] += n
        _more(sums["stages"], part["stage"], n)
        _more(sums["places"], part.get("place", ""), n)
    if part.get("strain") or _rank(part["stage"]) >= _rank("spawn_run"):
        sums["spawned"] += n
        if "fill_g" in part and moisture is not None:
            sums["dry_g"] += dry_share_g(n, part["fill_g"], moisture)
        else:
            sums["unknown_dry"] += n


def _pick(sums: dict[str, Any], pick: dict[str, Any]) -> None:
    sums["g"] += pick["g"]
    _more(sums["flushes"], str(pick["flush"]), pick["g"])


def _close(sums: dict[str, Any]) -> None:
    unknown = sums.pop("unknown_dry")
    if unknown or not sums["spawned"]:
        del sums["dry_g"]
        return
    be = efficiency(sums["g"], sums["dry_g"], 10_000)
    sums["dry_g"] = round_half_up(sums["dry_g"], 10_000)
    if be is not None:
        sums["be"] = be


def _more(counts: dict[str, int], key: str, n: int) -> None:
    if n:
        counts[key] = counts.get(key, 0) + n


def is_end(cause: str) -> bool:
    """Tell whether a word is one of the ends of a part's life."""
    return cause in ENDS
