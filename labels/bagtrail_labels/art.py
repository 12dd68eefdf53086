"""The drawing of a tag besides its code and words: sign, band and frame, as PDF operators in mm
from the tag's top left corner, y downwards."""

from __future__ import annotations

from functools import lru_cache

from .looks import LOOKS, SIGNS, bag, line, rounded
from .plan import Plan
from .stock import Stock

_BLACK, _WHITE = "0 g 0 G ", "1 g 1 G "
# The outline of a bag beside its number, in mm: 2.2 by 3.15 at scale 1.
BAG_LINE = 0.25
SIGN_SHARE = 0.8  # of the band's width
CAP_SHARE = 0.14  # of its height


@lru_cache(maxsize=256)
def backdrop(stock: Stock, plan: Plan, letter: str, sort: str) -> bytes:
    """Band with its sign, and frame: the same on all tags of a type and kind of place."""
    look = LOOKS[letter]
    sign = SIGNS[sort if letter == "P" and sort else look.sign]
    out = [_BLACK]
    if look.frame:
        half = stock.pad + look.line / 2
        wide, high = stock.label_width - 2 * half, stock.label_height - 2 * half
        corner = min(3.0, 0.08 * high) if letter == "W" else 0.0
        shape = rounded(half, half, wide, high, corner) if corner else _box(half, half, wide, high)
        out.append(f"{look.line:g} w 0 j {shape}S ")
    if plan.strip:
        out.append(_sign(sign, plan.words_x, plan.words_y, plan.words_height))
    elif plan.band_width:
        out.append(_band(plan, look.band, sign))
    return "".join(out).encode("ascii") if len(out) > 1 else b""


def strip_indent(plan: Plan) -> float:
    """Room that the sign takes at the left of a strip of words, in mm."""
    return plan.words_height + 0.8


@lru_cache(maxsize=256)
def bag_sign(x: float, y: float, scale: float) -> bytes:
    """The outline of a bag beside its number."""
    return f"{_BLACK}{BAG_LINE * scale:.3f} w 1 j {bag(x, y, scale)}".encode("ascii")


def _band(plan: Plan, kind: str, sign: str) -> str:
    x, y, wide, high = plan.band_x, plan.band_y, plan.band_width, plan.band_height
    share = 1.0 if kind == "bare" else SIGN_SHARE
    side = min(share * wide, 0.9 * high)
    left, top = x + (wide - side) / 2, y + (high - side) / 2
    thin = min(0.5, 0.05 * wide)
    inner = _box(x + thin / 2, y + thin / 2, wide - thin, high - thin)
    if kind == "black":
        return f"{_box(x, y, wide, high)}f {_WHITE}{_sign(sign, left, top, side)}{_BLACK}"
    if kind == "arrow":
        neck, middle = x + 0.4 * wide, y + high / 2
        points = ((x, y), (neck, y), (x + wide, middle), (neck, y + high), (x, y + high))
        small = 0.62 * side
        sign = _sign(sign, x + 0.08 * wide, middle - small / 2, small)
        return f"{line(*points)}h f {_WHITE}{sign}{_BLACK}"
    if kind == "dashed":
        edge = _dashes(x, y, wide, high, thin)
    elif kind == "striped":
        # Bars above and below the sign, as many as there is room for.
        step = 0.16 * wide
        bars = int(max(0.0, top - y - 0.3 * step) / step)
        edge = "".join(
            f"{_box(x, y + n * step, wide, step / 2)}f "
            f"{_box(x, y + high - n * step - step / 2, wide, step / 2)}f "
            for n in range(bars)
        )
    elif kind == "bare":
        edge = ""
    else:
        edge = f"{thin:.3f} w 0 j {inner}S "
        if kind == "capped":
            cap = CAP_SHARE * high
            edge += f"{_box(x, y, wide, cap)}{_box(x, y + high - cap, wide, cap)}f "
    return edge + _sign(sign, left, top, side)


def _dashes(x: float, y: float, wide: float, high: float, thin: float) -> str:
    """A box of dashes, whole ones at the corners. A dash pattern would end at a corner or not
    by the last digit of a sum."""
    out = []
    for length, across in ((wide, True), (high, False)):
        steps = max(1, round((length - 3 * thin) / (5 * thin)))
        for side in (0.0, (high if across else wide) - thin):
            for n in range(steps + 1):
                at = n * (length - 3 * thin) / steps
                out.append(
                    _box(x + at, y + side, 3 * thin, thin)
                    if across
                    else _box(x + side, y + at, thin, 3 * thin)
                )
    return "".join(out) + "f "


def _sign(sign: str, x: float, y: float, side: float) -> str:
    return f"q {side / 10:.5f} 0 0 {side / 10:.5f} {x:.4f} {y:.4f} cm {sign}Q "


def _box(x: float, y: float, wide: float, high: float) -> str:
    return f"{x:.4f} {y:.4f} {wide:.4f} {high:.4f} re "
