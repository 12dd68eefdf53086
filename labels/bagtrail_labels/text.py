"""Words for a label: made safe, measured roughly, fitted to a width.

Measuring is an upper estimate from the advance widths of DejaVu Sans, the widest of the
usual faces, so that a fitted line stays inside its box in any of them; the box clips
besides (templates.py).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import lru_cache

from .errors import LabelError

FIRST_UNSPACED = 0x2E80  # Han, kana and the like begin here
LONGEST = 20_000  # characters looked at; more is no name but an accident
MOST_MARKS = 4
BOLD = 1.14
ELLIPSIS = "\N{HORIZONTAL ELLIPSIS}"

# Advance in em of DejaVu Sans, rounded up, by character.
_ADVANCE = {
    char: width
    for width, chars in (
        (0.33, "ijl I.,'|J!:;/\\"), (0.42, "ftr()[]-\"`"), (0.56, "csz?LF"),
        (0.62, "aeokvxyZYTPE_*"), (0.65, "bdghnpqu0123456789S{}$"), (0.72, "ABCKRVXZ"),
        (0.80, "DGHNOQUw&#+=<>~^"), (1.01, "mMW%@"), (1.1, "ЖШЩЮЫФжшщюыф"),
    )
    for char in chars
}  # fmt: skip
_OTHER, _WIDE, _SYMBOL = 0.85, 1.05, 1.4


def cleaned(value: object, field: str, where: str) -> str:
    """The text on one line: runs of white space become one space, forms are composed (NFC).

    Raises LabelError `label_text` for what is no text, for characters that have no printed
    form (NUL, escape, halves of surrogate pairs, ...), naming the label and the field.
    """
    if not isinstance(value, str):
        raise LabelError(
            "label_text",
            f"{where}: {field} is {type(value).__name__}, not text.",
            "Send text, empty if there is none.",
            field=field,
        )
    if len(value) > LONGEST:
        raise LabelError(
            "label_text",
            f"{where}: {field} is {len(value)} characters long.",
            f"Send {LONGEST} characters at most; a label shows about forty.",
            field=field,
        )
    text = _plain(" ".join(value.split()))
    for char in text:
        if unicodedata.category(char) in ("Cc", "Cs") or ord(char) & 0xFFFE == 0xFFFE:
            raise LabelError(
                "label_text",
                f"{where}: {field} holds U+{ord(char):04X}, which cannot be printed.",
                "Remove that character from the name.",
                field=field,
            )
    return unicodedata.normalize("NFC", text)


def _plain(text: str) -> str:
    """Without invisible controls of direction, and without towers of combining marks.

    The two joiners stay, Persian and the Indic scripts need them. More than four marks on a
    letter is no writing; such a tower would climb out of its line.
    """
    out: list[str] = []
    marks = 0
    for char in text:
        category = unicodedata.category(char)
        if category == "Cf" and char not in "\u200c\u200d":
            continue
        marks = marks + 1 if category in ("Mn", "Me", "Cf") else 0
        if marks <= MOST_MARKS:
            out.append(char)
    return "".join(out).strip()


def width(text: str, bold: bool = False) -> float:
    """Upper estimate of the advance in em."""
    return sum(map(_advance, text)) * (BOLD if bold else 1.0)


@lru_cache(maxsize=8192)
def _advance(char: str) -> float:
    known = _ADVANCE.get(char)
    if known is not None:
        return known
    category = unicodedata.category(char)
    if category in ("Mn", "Me", "Cf"):
        return 0.0
    if category in ("So", "Co", "Cn"):
        return _SYMBOL
    return _WIDE if unicodedata.east_asian_width(char) in "WF" else _OTHER


def shortened(text: str, ems: float) -> str:
    """The text, or its beginning with an ellipsis, at most `ems` wide.

    The meaning is kept as far as a machine can: a number at the end stays ("Grey oyster on
    straw, trial 12" is another bag than trial 13), and words are kept whole unless that would
    lose a third of the room. Never cuts between a letter and its combining marks.
    """
    if width(text) <= ems:
        return text
    tail = _tail(text)
    if tail and width(tail) <= ems / 2:
        head = _cut(text[: -len(tail)].rstrip(), ems - width(ELLIPSIS) - width(" " + tail))
        if head:
            return f"{head}{ELLIPSIS} {tail}"
    return _cut(text, ems - width(ELLIPSIS)) + ELLIPSIS


def _tail(text: str) -> str:
    """The last word where it tells likes apart: short, and with a figure in it."""
    word = text.rsplit(" ", 1)[-1] if " " in text else ""
    return word if len(word) <= 8 and any(char.isdecimal() for char in word) else ""


def _cut(text: str, room: float) -> str:
    used, end = 0.0, len(text)
    for index, char in enumerate(text):
        used += _advance(char)
        if used > room:
            end = index
            break
    if end < len(text):
        space = text.rfind(" ", 0, end + 1)
        if space > 0 and width(text[:space]) >= room * 2 / 3:
            end = space
    while 0 < end < len(text) and unicodedata.category(text[end])[0] == "M":
        end -= 1
    return text[:end].rstrip(" ,;:-\N{EN DASH}")


def one_line(text: str, mm: float, sizes: Sequence[float], bold: bool) -> float | None:
    """The first of the type sizes (mm) at which the text fits on one line, or None."""
    ems = width(text, bold)
    return next((size for size in sizes if ems * size <= mm), None)


def wrapped(text: str, ems: float, lines: int) -> list[str] | None:
    """The text on at most so many lines broken at spaces (long words anywhere), or None."""
    out: list[str] = []
    rest = text
    while rest:
        if len(out) == lines:
            return None
        used, space, end = 0.0, 0, len(rest)
        for index, char in enumerate(rest):
            used += _advance(char)
            if char == " ":
                space = index
            elif used > ems:
                end = space or _whole_letters(rest, max(1, index))
                break
        out.append(rest[:end].rstrip())
        rest = rest[end:].lstrip()
    return out


def _whole_letters(text: str, end: int) -> int:
    """Where to cut at or before `end` so that a letter keeps its marks."""
    cut = end
    while cut > 1 and cut < len(text) and unicodedata.category(text[cut])[0] == "M":
        cut -= 1
    return cut if cut > 0 else end


def _handsome(text: str, rows: list[str]) -> bool:
    """Whether no word is broken and no line is left with a letter or two. Scripts without
    spaces break anywhere."""
    if len(rows) == 1:
        return True
    if len(rows[-1]) <= 2:
        return False
    return " ".join(rows) == text or max(map(ord, text)) >= FIRST_UNSPACED


@lru_cache(maxsize=2048)
def paragraph(
    text: str, mm: float, sizes: tuple[float, ...], lines: int, bold: bool = False
) -> tuple[float, list[str]]:
    """Largest size (mm) and fewest lines at which the text fits a width of `mm` without a word
    broken; where the smallest size does not do, words are broken or the text is shortened."""
    weight = BOLD if bold else 1.0
    text = shortened(text, mm / weight / sizes[-1] * lines + 1)
    for size in sizes:
        for count in range(1, lines + 1):
            found = wrapped(text, mm / weight / size, count)
            if found is not None and _handsome(text, found):
                return size, found
    ems = room = mm / weight / sizes[-1]
    room *= lines
    while True:
        # Breaking at spaces wastes room at line ends: shorten a little more until it fits.
        found = wrapped(shortened(text, room), ems, lines)
        if found is not None:
            return sizes[-1], found
        room -= 0.5
