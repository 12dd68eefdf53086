"""The short codes on tags: nine symbols, of which the last catches a wrong one.

A code is a type letter, seven symbols of Crockford's base 32 and a check symbol (Luhn mod 32 over
the letter and the seven). Codes say nothing of the thing, so labels may be printed before anything
is known of it. Entities without a tag are named by a word and the record that first wrote them.
"""

from __future__ import annotations

import functools
import re
import secrets
from collections.abc import Callable
from typing import NamedTuple

from stdnum import luhn

# Source: Crockford's base 32 (no I, L, O, U); https://www.crockford.com/base32.html
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
TYPES = "BGPSHMKWX"
WORDS = ("strain", "material", "recipe", "plan", "vessel")

_CODE = re.compile(rf"[{TYPES}][{ALPHABET}]{{8}}")
_UUID = r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}"
_RECORD_ID = re.compile(_UUID)
_NAMED = re.compile(rf"(?:{'|'.join(WORDS)})-{_UUID}")
_UNTAGGED = re.compile(rf"g-{_UUID}(?:\.[0-9]{{1,4}})?")
_FARM_TAG = re.compile(rf"[{ALPHABET}]{{4}}")


class Guess(NamedTuple):
    """A code that one slip would turn into what was typed; `position` counts from 1."""

    code: str
    position: int


def check_symbol(body: str) -> str:
    """Return the check symbol of a type letter and seven symbols, e.g. B0000001 -> K.

    Source: Luhn mod N (ISO/IEC 7812-1 Annex B widened to 32 symbols), computed by python-stdnum.
    """
    return luhn.calc_check_digit(body, alphabet=ALPHABET)


def is_code(text: str) -> bool:
    """Tell whether `text` is a written code: right form and right check symbol."""
    return len(text) == 9 and _checks(text)


@functools.lru_cache(maxsize=1 << 16)
def _checks(text: str) -> bool:
    return bool(_CODE.fullmatch(text)) and luhn.is_valid(text, alphabet=ALPHABET)


def is_record_id(text: str) -> bool:
    """Tell whether `text` is a record id: a UUID in lower case."""
    return bool(_RECORD_ID.fullmatch(text))


def is_farm_tag(text: str) -> bool:
    """Tell whether `text` is a farm's tag: four symbols of the alphabet."""
    return bool(_FARM_TAG.fullmatch(text))


def type_of(code: str) -> str:
    """Return what a code names: a type letter (an untagged part is G), a word, or ""."""
    # The longest name has 46 symbols; a cache must not hold what anybody may send.
    return _type_of(code) if len(code) <= 64 else ""


@functools.lru_cache(maxsize=1 << 16)
def _type_of(code: str) -> str:
    if is_code(code):
        return code[0]
    if _UNTAGGED.fullmatch(code):
        return "G"
    if _NAMED.fullmatch(code):
        return code.split("-", 1)[0]
    return ""


def new_code(letter: str) -> str:
    """Mint a random code of one type; 35 random bits, so ask the log whether it is free."""
    body = letter + "".join(secrets.choice(ALPHABET) for _ in range(7))
    return body + check_symbol(body)


def normalise(text: str) -> str:
    """Bring typed text to written form: upper case, no spaces or hyphens, O is 0, I and L are 1."""
    bare = re.sub(r"[\s\-]", "", text).upper()
    return bare.translate(str.maketrans("OIL", "011"))


def guesses(text: str, known: Callable[[str], bool] | None = None) -> list[Guess]:
    """List the codes one wrong symbol or one swap of neighbours away from a mistyped one.

    Args:
        text: nine symbols in written form whose check symbol does not fit.
        known: tells whether a code was ever issued; None takes every code that checks.
    """
    found: list[Guess] = []
    if len(text) != 9:
        return found
    for i in range(9):
        for symbol in TYPES if i == 0 else ALPHABET:
            code = text[:i] + symbol + text[i + 1 :]
            if symbol != text[i] and is_code(code) and (known is None or known(code)):
                found.append(Guess(code, i + 1))
    for i in range(8):
        code = text[:i] + text[i + 1] + text[i] + text[i + 2 :]
        if text[i] != text[i + 1] and is_code(code) and (known is None or known(code)):
            found.append(Guess(code, i + 1))
    return found
