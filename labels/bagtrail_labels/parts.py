"""What stands on a tag: its fields, which of them are printed, in which order and how large.

A farm chooses this for each type of tag; it is data, so that a screen can draw the choice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from .errors import LabelError, shown

# `word` is the type's word in the farm's language ("Shelf"), `title` the name of what carries
# the tag, `batch` ... `free` what a bag's label says.
FIELDS = ("word", "title", "batch", "number", "what", "day", "free")
# Half a number or a day would be another one: these shrink, and are never shortened.
WHOLE = frozenset({"number", "day"})

# Type sizes in mm at full scale, the wanted one first.
SIZES: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {
        "huge": (9.0, 7.5, 6.4, 5.4, 4.6, 3.9, 3.4, 2.9, 2.5),
        "large": (3.9, 3.4, 2.9, 2.5),
        "normal": (3.2, 2.8, 2.5, 2.2),
        "small": (2.6, 2.3),
    }
)
SMALLEST = 1.6  # mm of type size, read at arm's length; nothing is printed smaller
MOST_LINES = 4


@dataclass(frozen=True)
class Part:
    """One field of a tag: its size by name (SIZES) and how many lines it may take."""

    field: str
    size: str = "normal"
    lines: int = 1
    bold: bool = False

    def __post_init__(self) -> None:
        # From JSON, so anything may stand in any member.
        lines: object = self.lines
        if self.field not in FIELDS:
            known = ", ".join(FIELDS)
            raise _wrong(f"{shown(self.field)} is no field of a tag", f"Choose from {known}.")
        if not isinstance(self.size, str) or self.size not in SIZES:
            raise _wrong(f"{shown(self.size)} is no size", f"Choose from {', '.join(SIZES)}.")
        if type(lines) is not int or not 1 <= lines <= MOST_LINES:
            raise _wrong(f"{self.field} cannot have {shown(lines)} lines", "Give 1 to 4.")
        if self.field in WHOLE and lines != 1:
            raise _wrong(f"{self.field} stands on one line", "Give it 1 line.")
        if self.bold not in (True, False):
            raise _wrong(f"{self.field} cannot be {shown(self.bold)} bold", "Give true or false.")


@dataclass(frozen=True)
class Layout:
    """The parts of a tag from the top. An empty layout prints codes alone."""

    parts: tuple[Part, ...]

    def __post_init__(self) -> None:
        names = [part.field for part in self.parts]
        for name in names:
            if names.count(name) > 1:
                raise _wrong(f"{name} stands twice", "Name each field once.")

    def as_data(self) -> list[dict[str, Any]]:
        """The parts as JSON, as `layout_from` takes them."""
        return [
            {"field": p.field, "size": p.size, "lines": p.lines, "bold": p.bold} for p in self.parts
        ]

    def as_text(self) -> str:
        """The parts in words, "number large bold, what 2, day", as `layout_from` takes them."""
        return ", ".join(
            " ".join(
                [
                    part.field,
                    *([part.size] if part.size != "normal" else []),
                    *([str(part.lines)] if part.lines > 1 else []),
                    *(["bold"] if part.bold else []),
                ]
            )
            for part in self.parts
        )


def layout_from(data: object) -> Layout:
    """A layout from JSON: a list of field names, or of objects of a Part's members; or from
    words, "number large bold, what 2, day", where what is not said is normal, 1 line, not bold.

    Raises LabelError `label_layout`.
    """
    if isinstance(data, str):
        return Layout(tuple(_part_from(text) for text in data.split(",") if text.strip()))
    if not isinstance(data, (list, tuple)):
        raise _wrong(f"{shown(data)} is no list of parts", "Give a list of fields.")
    parts = []
    for item in data:
        if isinstance(item, str):
            parts.append(_USUAL.get(item) or Part(item))
        elif isinstance(item, Mapping) and "field" in item and item.keys() <= _MEMBERS:
            parts.append(Part(**item))
        else:
            members = ", ".join(sorted(_MEMBERS))
            raise _wrong(f"{shown(item)} is no part", f"Give a field's name, or {members}.")
    return Layout(tuple(parts))


def _part_from(text: str) -> Part:
    field, *words = text.split()
    said: dict[str, Any] = {}
    for word in words:
        # Digits of other scripts are no digits here.
        number = word.isascii() and word.isdigit()
        key = "bold" if word == "bold" else "lines" if number else "size"
        if key in said:
            raise _wrong(f"{shown(text.strip())} says {key} twice", "Say it once.")
        said[key] = True if key == "bold" else int(word[:4]) if key == "lines" else word
    return Part(field, **said)


def _wrong(what: str, todo: str) -> LabelError:
    return LabelError("label_layout", f"The layout is not right: {what}.", todo)


_MEMBERS = frozenset({"field", "size", "lines", "bold"})
_BAG = (
    Part("batch", "large", bold=True),
    Part("number", "large", bold=True),
    Part("what", lines=2),
    Part("day"),
    Part("free", "small"),
)
_USUAL = {part.field: part for part in _BAG} | {
    "word": Part("word", "small", bold=True), "title": Part("title", "large", bold=True)
}  # fmt: skip
_NAMED = (
    Part("word", "small", bold=True),
    Part("title", "huge", lines=3, bold=True),
    Part("number", "large", bold=True),
    Part("what", lines=2),
    Part("batch"),
    Part("day"),
    Part("free", "small"),
)
# A group says first how many bags it stands for, since that is what its tag alone says.
_GROUP = (Part("word", "small", bold=True), _BAG[1], _BAG[0], *_BAG[2:])

LAYOUTS: Mapping[str, Layout] = MappingProxyType(
    {"B": Layout(_BAG), "G": Layout(_GROUP)} | {letter: Layout(_NAMED) for letter in "PSHMKWX"}
)
