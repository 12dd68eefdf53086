"""Reads the vectors in fixtures/ (the format is in fixtures/README.md); twin of vectors.ts."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from bagtrail.fold import Farm
from bagtrail.line import Line, line_from

FIXTURES = Path(__file__).parents[2] / "fixtures"
ABSENT = "~absent"


def load(name: str) -> dict[str, Any]:
    """Return one file of vectors, e.g. "rules/efficiency.json"."""
    data: dict[str, Any] = json.loads((FIXTURES / name).read_text(encoding="utf-8"))
    return data


def fold_cases() -> list[tuple[str, dict[str, Any]]]:
    """Return all cases of fixtures/folds with a readable name."""
    found = []
    for path in sorted((FIXTURES / "folds").glob("*.json")):
        for case in json.loads(path.read_text(encoding="utf-8"))["cases"]:
            found.append((f"{path.stem}: {case['name']}", case))
    return found


def lines(case: dict[str, Any]) -> list[Line]:
    """Return the lines of a case's records, defaults filled in."""
    return [_line(record, i) for i, record in enumerate(case["records"], 1)]


def _line(short: dict[str, Any], i: int) -> Line:
    pos = short.get("p", i)
    stream = short.get("st", "a000000000000000")
    record = {
        "v": 1,
        "id": short.get("id", f"00000000-0000-7000-8000-{i:012d}"),
        "dev": "d" + stream,
        "gen": 1,
        "st": stream,
        "sq": short.get("sq", i),
        "at": short["at"],
        "ty": short["ty"],
        "tv": short.get("tv", 1),
        "sub": short.get("sub", []),
        "base": short.get("base", f"e1.{i - 1}"),
        "by": short.get("by", "W00000012"),
        "d": short.get("d", {}),
    }
    record |= {key: short[key] for key in ("on", "except", "act", "rnd") if key in short}
    if not pos:
        return line_from(record, None, 0, short.get("a", "o"))
    receipt = {"id": record["id"], "h": "", "e": short.get("ep", "e1"), "p": pos,
               "t": short.get("eff", short["at"]), "q": "sync", "f": short.get("f", ""),
               "a": short.get("a", "o"), "dev": record["dev"]}  # fmt: skip
    return line_from(record, receipt, short.get("pos", pos), "-")


def farm_of(case: dict[str, Any], some: Iterable[Line]) -> Farm:
    """Return a farm that took some lines in, one after the other."""
    farm = Farm()
    farm.index.epochs = case.get("epochs", ["e1"])
    for line in some:
        farm.add(line)
    return farm


def differences(expected: Any, actual: Any, path: str = "") -> list[str]:
    """List where a state is not what a case says: objects by named keys, the rest exactly."""
    if isinstance(expected, dict) and isinstance(actual, dict):
        found = []
        for key, value in expected.items():
            here = f"{path}/{key}"
            if value == ABSENT:
                if key in actual:
                    found.append(f"{here}: is there, {actual[key]!r}")
            elif key not in actual:
                found.append(f"{here}: is not there, expected {value!r}")
            else:
                found += differences(value, actual[key], here)
        return found
    same = expected == actual and isinstance(expected, bool) == isinstance(actual, bool)
    return [] if same else [f"{path}: {actual!r}, expected {expected!r}"]
