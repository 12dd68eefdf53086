"""Calcium carbide is refused as an ingredient, however it is written.

With water or damp air it gives acetylene, which burns and explodes; about 375 L a kilogram.
Source: ICSC 0406 (2017); NJ RTK fact sheet 0312 (2009). It is a spell-alike of calcium carbonate.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

# Names of the substance in languages of growers, other than spellings near "carbide"; without
# accents, in lower case. The English trade names are old ones.
_WORDS = frozenset((
    "acetylenogen", "acetylide", "ethynediide",
    "carburo", "carbure", "carbureto", "carburi", "karpit", "karbit", "kalburo",
    "карбид", "карбід",
))  # fmt: skip
# Scripts without spaces between words: any place in the text counts.
_PIECES = (
    "电石", "電石", "碳化钙", "碳化鈣", "カーバイド", "炭化カルシウム", "카바이드", "탄화칼슘",
)  # fmt: skip

# CAS number, EC number, UN number, formula.
_NUMBERS = re.compile(r" (75 ?20 ?7|200 ?848 ?3|un ?1402|ca ?c ?2|c ?2 ?ca) ")

# One slip from these is refused too; "carbamide" (urea) and "carbonate" are two and more away.
_NEAR = ("carbide", "karbide")


@dataclass(frozen=True)
class Refusal:
    """Why an ingredient is refused, and what was likely meant, the likeliest first."""

    code: str
    name: str
    meant: tuple[str, ...]


def refuse(name: str) -> Refusal | None:
    """Refuse a name that means calcium carbide: by name, formula, number or misspelling.

    Returns:
        None for anything else. `meant` holds "calcium_carbonate" and "gypsum"; the one whose words
        stand in the name comes first.
        Example: "Calcium carbyde", "CaC₂", "75-20-7" are refused; "calcium carbonate" is not.
    """
    text = plain(name)
    if not _is_carbide(text):
        return None
    meant = ("calcium_carbonate", "gypsum")
    if re.search(r"gyps|sul[fp]", text):
        meant = ("gypsum", "calcium_carbonate")
    return Refusal("carbide", name, meant)


def plain(name: str) -> str:
    """Return a name in lower case without accents, signs and subscripts, words by one space."""
    text = unicodedata.normalize("NFKD", name).lower()
    text = "".join(c for c in text if not "\u0300" <= c <= "\u036f")
    text = unicodedata.normalize("NFC", text)  # Kana and Hangul are whole letters again.
    return " ".join(re.findall(r"[^\W_]+", text))


def _is_carbide(text: str) -> bool:
    words = text.split(" ")
    joined = "".join(words)
    if re.search(r"carb[iy]d|karb[iy]d|carbite", joined):
        return True
    if _NUMBERS.search(f" {text} ") or any(piece in joined for piece in _PIECES):
        return True
    return any(word in _WORDS or any(_one_slip(word, near) for near in _NEAR) for word in words)


def _one_slip(word: str, other: str) -> bool:
    """Whether two words differ by one letter more, less, other, or by two neighbours swapped."""
    if abs(len(word) - len(other)) > 1:
        return False
    i = 0
    while i < len(word) and i < len(other) and word[i] == other[i]:
        i += 1
    a, b = word[i:], other[i:]
    return (
        a[1:] == b[1:]
        or a[1:] == b
        or a == b[1:]
        or (len(a) > 1 and len(b) > 1 and a[0] == b[1] and a[1] == b[0] and a[2:] == b[2:])
    )
