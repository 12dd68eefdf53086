"""DEVELOPERS.md's table of security names tests; each of them is there."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_every_named_test_exists() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.partition("## Security")[2].partition("\n## ")[0]
    named = re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", table)
    assert len(named) == len(re.findall(r"^\| [\d]", table, re.M)) > 20
    for file, name in named:
        tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
        there = {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}
        assert name in there, f"{file} has no {name}"
