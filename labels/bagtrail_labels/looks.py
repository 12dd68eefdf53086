"""How the tags of each type look, so that they are told apart across a room without colour.

Signs are drawn as PDF operators in a box of ten by ten units, y downwards, with the colours
that are set: what is dark on paper is white on a black band. All are our own drawings; the
sign on a crate is no mark of fitness for food.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

_ROUND = 0.5523  # control points of a quarter circle, as a share of its radius


def circle(x: float, y: float, r: float) -> str:
    """A circle as a path of four curves."""
    k = r * _ROUND
    return (
        f"{x + r:g} {y:g} m "
        f"{x + r:g} {y + k:g} {x + k:g} {y + r:g} {x:g} {y + r:g} c "
        f"{x - k:g} {y + r:g} {x - r:g} {y + k:g} {x - r:g} {y:g} c "
        f"{x - r:g} {y - k:g} {x - k:g} {y - r:g} {x:g} {y - r:g} c "
        f"{x + k:g} {y - r:g} {x + r:g} {y - k:g} {x + r:g} {y:g} c h "
    )


def rounded(x: float, y: float, w: float, h: float, r: float) -> str:
    """A rectangle with round corners as a path."""
    k = r * (1 - _ROUND)
    return (
        f"{x + r:g} {y:g} m {x + w - r:g} {y:g} l "
        f"{x + w - k:g} {y:g} {x + w:g} {y + k:g} {x + w:g} {y + r:g} c {x + w:g} {y + h - r:g} l "
        f"{x + w:g} {y + h - k:g} {x + w - k:g} {y + h:g} {x + w - r:g} {y + h:g} c "
        f"{x + r:g} {y + h:g} l "
        f"{x + k:g} {y + h:g} {x:g} {y + h - k:g} {x:g} {y + h - r:g} c {x:g} {y + r:g} l "
        f"{x:g} {y + k:g} {x + k:g} {y:g} {x + r:g} {y:g} c h "
    )


def line(*points: tuple[float, float]) -> str:
    """A line through points as a path."""
    first, *rest = points
    return f"{first[0]:g} {first[1]:g} m " + "".join(f"{x:g} {y:g} l " for x, y in rest)


def bag(x: float, y: float, scale: float) -> str:
    """A filled bag, its seal across the top, and its filter patch: 2.2 by 3.15 units at scale 1."""

    def at(*points: tuple[float, float]) -> str:
        return line(*((x + px * scale, y + py * scale) for px, py in points))

    return (
        at((0.25, 3.15), (0, 2.9), (0, 0), (2.2, 0), (2.2, 2.9), (1.95, 3.15)) + "h S "
        + at((0, 0.7), (2.2, 0.7)) + "S "
        + f"{x + 0.75 * scale:g} {y + 1.35 * scale:g} {0.7 * scale:g} {0.7 * scale:g} re f "
    )  # fmt: skip


def _mushroom(x: float, y: float, r: float) -> str:
    """A cap and its stem, standing with its foot at y."""
    k = r * _ROUND
    top = y - 1.7 * r
    return (
        f"{x - r:g} {top + r:g} m {x - r:g} {top + r - k:g} {x - k:g} {top:g} {x:g} {top:g} c "
        f"{x + k:g} {top:g} {x + r:g} {top + r - k:g} {x + r:g} {top + r:g} c h f "
        f"{x - 0.3 * r:g} {top + r:g} {0.6 * r:g} {0.7 * r:g} re f "
    )


_HEAVY, _FINE = "1 w 1 j 1 J ", "0.5 w 1 j 1 J "

_ROOM = (
    _HEAVY + line((0.6, 9.4), (9.4, 9.4)) + "S " + line((2, 9.4), (2, 0.8), (8, 0.8), (8, 9.4))
    + "S " + circle(6.4, 5.4, 0.6) + "f "
)  # fmt: skip
_RACK = (
    _HEAVY + line((1, 0.5), (1, 9.5)) + "S " + line((9, 0.5), (9, 9.5)) + "S "
    + "".join(line((1, y), (9, y)) + "S " for y in (2.2, 5.2, 8.2))
)  # fmt: skip
_SHELF = (
    _HEAVY + line((0.5, 7), (9.5, 7)) + "S " + line((1.8, 9.3), (1.8, 7)) + "S "
    + line((8.2, 9.3), (8.2, 7)) + "S " + _FINE
    + bag(1.1, 2.8, 1.1) + bag(3.8, 2.8, 1.1) + bag(6.5, 2.8, 1.1)
)  # fmt: skip
_TROLLEY = (
    _HEAVY + line((0.5, 0.8), (2, 0.8), (2, 7.4), (9.3, 7.4)) + "S "
    + line((2, 4.1), (9.3, 4.1)) + "S " + line((9.3, 1.6), (9.3, 7.4)) + "S "
    + circle(3.3, 8.8, 1) + "f " + circle(8, 8.8, 1) + "f "
)  # fmt: skip
_COLD = _HEAVY + "".join(
    line((5 - dx, 5 - dy), (5 + dx, 5 + dy)) + "S "
    for dx, dy in ((0, 4.5), (3.9, 2.25), (3.9, -2.25))
) + "".join(
    line((5 - 1.3, y), (5, y + turn), (5 + 1.3, y)) + "S " for y, turn in ((0.9, 1.3), (9.1, -1.3))
)  # fmt: skip
_BAGS = _FINE + bag(0.6, 0.5, 1.45) + bag(6.2, 0.5, 1.45) + bag(3.4, 5, 1.45)
_JAR = (
    _HEAVY + rounded(1.6, 2.6, 6.8, 7, 1.4) + "S " + "2.4 0.4 5.2 1.6 re f "
    + "".join(circle(x, y, 0.62) + "f " for x, y in (
        (3.4, 8.1), (5, 8.1), (6.6, 8.1), (4.2, 6.6), (5.8, 6.6), (3.4, 5.1), (5, 5.1), (6.6, 5.1)
    ))
)  # fmt: skip
_STEAM = _HEAVY + "".join(
    f"{x:g} 6.4 m {x - 1.5:g} 4.8 {x + 1.5:g} 3 {x:g} 0.6 c S " for x in (2, 5, 8)
) + line((0.6, 7.6), (0.6, 9.3), (9.4, 9.3), (9.4, 7.6)) + "S "  # fmt: skip
_MIX = (
    _FINE
    + rounded(0.4, 0.4, 9.2, 9.2, 1)
    + "S "
    + "".join(bag(x, y, 1.05) for x in (1.9, 5.8) for y in (1.3, 5.4))
)
_CRATE = (
    _mushroom(2.6, 4.6, 1.5) + _mushroom(7.4, 4.6, 1.5) + _mushroom(5, 4.2, 2) + _HEAVY
    + "0.5 4.6 9 4.6 re S " + line((0.5, 6.9), (9.5, 6.9)) + "S "
)  # fmt: skip
_PERSON = (
    circle(5, 2.9, 2.3) + "f "
    + "0.7 9.6 m 0.7 7 2.2 5.9 5 5.9 c 7.8 5.9 9.3 7 9.3 9.6 c h f "
)  # fmt: skip
_COMMAND = "1.3 w 0 j 0 J " + "".join(
    line((x, 1.2), (x + 3.6, 5), (x, 8.8)) + "S " for x in (1.1, 5)
)

SIGNS: Mapping[str, str] = MappingProxyType(
    {
        "room": _ROOM, "rack": _RACK, "shelf": _SHELF, "trolley": _TROLLEY, "cold": _COLD,
        "bag": _FINE + bag(1.6, 0.3, 3), "bags": _BAGS, "jar": _JAR, "steam": _STEAM, "mix": _MIX,
        "crate": _CRATE, "person": _PERSON, "command": _COMMAND,
    }
)  # fmt: skip
PLACES = ("room", "rack", "shelf", "trolley", "cold")


@dataclass(frozen=True)
class Look:
    """One type of tag. `band`: none, black, arrow (black
    too), dashed, open, capped, striped, or bare (the sign alone); `frame`: mm that a frame
    takes at the edge, with `line` its width; `grows`: it fills large stock, to be read from
    afar."""

    sign: str
    band: str = ""
    frame: float = 0.0
    line: float = 0.0
    grows: bool = False


LOOKS: Mapping[str, Look] = MappingProxyType(
    {
        "B": Look("bag"),
        "G": Look("bags", "dashed"),
        "P": Look("room", "black", grows=True),
        "S": Look("jar", "open"),
        "H": Look("steam", "striped"),
        "M": Look("mix", "capped"),
        # The heavy frame is what tells a crate, that meets food, from all that meets substrate.
        "K": Look("crate", "bare", frame=1.9, line=1.3, grows=True),
        "W": Look("person", "bare", frame=1.2, line=0.4, grows=True),
        "X": Look("command", "arrow", grows=True),
    }
)
