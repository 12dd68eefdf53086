"""The words on screen, by message id: tests name a button as the app does."""

from __future__ import annotations

import json
import re
from functools import cache

from .harness import ROOT

I18N = ROOT / "client" / "src" / "i18n"


@cache
def _messages() -> dict[str, str]:
    found: dict[str, str] = {}
    for file in sorted(I18N.glob("en-GB*.json")):
        found |= json.loads(file.read_text(encoding="utf-8"))
    return found


def words(message: str) -> str:
    """Return a message without parameters."""
    text = _messages()[message]
    assert "{" not in text, f"{message} has parameters: use saying()"
    return text


def saying(message: str) -> re.Pattern[str]:
    """Return a pattern for a message with whatever parameters, matched as a whole."""
    return re.compile(rf"^\s*{_pattern(_messages()[message])}\s*$")


def within(message: str) -> re.Pattern[str]:
    """Return a pattern for a message with whatever parameters, anywhere in a text."""
    return re.compile(_pattern(_messages()[message]))


def _pattern(text: str) -> str:
    out, depth = "", 0
    for symbol in text:
        if symbol == "{":
            depth += 1
            out += ".*" if depth == 1 else ""
        elif symbol == "}":
            depth -= 1
        elif depth == 0:
            out += re.escape(symbol)
    return out
