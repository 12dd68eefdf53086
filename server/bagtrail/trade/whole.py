"""From exact fractions to whole grams, so that the parts always make the whole."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import floor, isfinite

from ..rules import round_half_up


def half_up(x: Fraction) -> int:
    """Round to the nearest whole number, a half going up (towards plus infinity)."""
    return round_half_up(x.numerator, x.denominator)


def nearest(x: float) -> int:
    """Round a float to the nearest whole number, a half going up, alike in both languages.

    Raises:
        ValueError, OverflowError: not a number, or infinite.
    """
    return floor(x + 0.5)


def in_words(x: float) -> int | str:
    """Return `nearest`, or the word for what is no number, for a message."""
    return nearest(x) if isfinite(x) else str(x)


def ceiling(x: Fraction) -> int:
    """Return the least whole number that is not below x."""
    return -(-x.numerator // x.denominator)


def largest_remainder(exact: Sequence[Fraction], total: int) -> list[int]:
    """Round fractions to whole numbers that add up to `total`, each less than one from its own.

    Every number is cut, then the units that are missing go to the largest remainders; of equal
    ones the first is served first.

    Args:
        exact: numbers of 0 and more.
        total: their sum, rounded to the nearest whole number.

    Source: method of Hamilton for the apportionment of seats.
    Example: [1/3, 1/3, 1/3] of 1 is [1, 0, 0]; [2.5, 2.5, 1] of 6 is [3, 2, 1].
    """
    cut = [x.numerator // x.denominator for x in exact]
    missing = total - sum(cut)
    if missing < 0 or missing > len(exact):
        raise ValueError(f"{total} is not the rounded sum of {[str(x) for x in exact]}")
    order = sorted(range(len(exact)), key=lambda i: (cut[i] - exact[i], i))
    for i in order[:missing]:
        cut[i] += 1
    return cut


def spread(amounts: Sequence[int], ways: int) -> list[list[int]]:
    """Deal whole amounts out over equal portions.

    The grams left over by one amount go on where those of the amount before it ended: rows differ
    by at most a gram in every amount and by at most a gram in their sum.

    Returns:
        One row a portion, one number an amount; the columns add up to `amounts`.
        Example: [10, 5] over 3 is [[4, 1], [3, 2], [3, 2]].
    """
    rows = [[amount // ways for amount in amounts] for _ in range(ways)]
    at = 0
    for column, amount in enumerate(amounts):
        for _ in range(amount % ways):
            rows[at % ways][column] += 1
            at += 1
    return rows
