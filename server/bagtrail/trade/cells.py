"""Cells of a chunk of separated text, read a column at a time.

A logger writes a million cells in a handful of shapes ("00.0", "000.0", "00:00:00"). So cells are
grouped by shape, every digit standing as 0; a shape is understood once, and the numbers in all its
cells are read from the same places by numpy.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Bytes = npt.NDArray[np.uint8]
Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

# How long is the longest cell with a time or a temperature in it? "Wednesday, 30.09.2026
# 12:00:00.000 PM" has 39 bytes; whatever is longer is words.
LONGEST = 40

# How many shapes may one column of one chunk have? A log has fewer than ten.
SHAPES = 64

_NEWLINE, _QUOTE, _RETURN = 10, 34, 13
# Odd 64-bit numbers that stir the words of a cell into one key; any would do.
_STIR = np.array(
    [0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9, 0xD6E8FEB86659FD93,
     0xA0761D6478BD642F], dtype=np.uint64,
)  # fmt: skip


@dataclass(frozen=True)
class Chunk:
    """Whole lines of a file, and where their cells begin.

    Attributes:
        data: the bytes, ending in a line break and LONGEST noughts.
        starts, ends: of each line, without its break.
        marks: places of all delimiters; those of line i begin at `first[i]`, `counts[i]` of them.
        odd_quotes: whether quotes did not pair, and so were read as letters.
    """

    data: Bytes
    starts: Ints
    ends: Ints
    marks: Ints
    first: Ints
    counts: Ints
    odd_quotes: bool


def split(text: bytes, delimiter: str) -> Chunk:
    """Find the lines and cells of a text that ends in a line break; quotes hide what is in them."""
    data = np.frombuffer(text + b"\0" * LONGEST, dtype=np.uint8)
    breaks = np.flatnonzero(data == _NEWLINE)
    marks = np.flatnonzero(data == ord(delimiter))
    quotes = np.flatnonzero(data == _QUOTE)
    odd = bool(quotes.size % 2)
    if quotes.size and not odd:
        breaks = breaks[np.searchsorted(quotes, breaks) % 2 == 0]
        marks = marks[np.searchsorted(quotes, marks) % 2 == 0]
    starts = np.concatenate(([0], breaks[:-1] + 1)).astype(np.int64)
    ends = breaks.astype(np.int64)
    ends = ends - ((ends > starts) & (data[np.maximum(ends - 1, 0)] == _RETURN))
    first = np.searchsorted(marks, starts)
    counts = np.searchsorted(marks, ends) - first
    return Chunk(data, starts, ends, marks, first, counts, odd)


def column(chunk: Chunk, lines: Ints, index: int) -> tuple[Ints, Ints]:
    """Return where the cell `index` of each of these lines begins and ends, trimmed and unquoted.

    Every line must have that many cells.
    """
    first, counts = chunk.first[lines], chunk.counts[lines]
    last = max(chunk.marks.size - 1, 0)
    marks = chunk.marks if chunk.marks.size else np.zeros(1, dtype=np.int64)
    starts = chunk.starts[lines] if index == 0 else marks[first + index - 1] + 1
    ends = np.where(
        counts > index, marks[np.minimum(first + index, last)], chunk.ends[lines]
    ).astype(np.int64)
    starts, ends = _trim(chunk.data, starts.astype(np.int64), ends)
    quoted = (ends - starts >= 2) & (chunk.data[starts.clip(max=chunk.data.size - 1)] == _QUOTE)
    quoted &= chunk.data[np.maximum(ends - 1, 0)] == _QUOTE
    if quoted.any():
        starts, ends = _trim(chunk.data, starts + quoted, ends - quoted)
    return starts, ends


def shapes(chunk: Chunk, starts: Ints, ends: Ints) -> Iterator[tuple[str, Ints, Bytes]]:
    """Group cells by shape.

    Yields:
        (the shape with 0 for each digit, the indices of its cells, their bytes as a matrix). Cells
        that are empty, too long, or of a shape beyond the first 64 are in no group.
    """
    lengths = ends - starts
    usable = np.flatnonzero((lengths > 0) & (lengths <= LONGEST))
    if not usable.size:
        return
    width = int(lengths[usable].max())
    wide = -(-width // 8) * 8
    # Copies a run of bytes a cell; the data ends in enough noughts for the last one.
    matrix = np.lib.stride_tricks.sliding_window_view(chunk.data, wide)[starts[usable]]
    if int(lengths[usable].min()) == width:
        matrix[:, width:] = 0
    else:
        matrix *= np.arange(wide) < lengths[usable, None]
    digit = (matrix >= 48) & (matrix <= 57)
    shape = np.where(digit, np.uint8(48), matrix)
    words = shape.view(np.uint64)
    keys = words[:, 0] * _STIR[0]
    for i in range(1, words.shape[1]):
        keys ^= (words[:, i] + np.uint64(i)) * _STIR[i]
    left = np.arange(usable.size)
    for _ in range(SHAPES):
        if not left.size:
            return
        alike = keys[left] == keys[left[0]]
        rows = left if alike.all() else left[alike]
        # Two shapes with one key would be read alike: whoever builds such a file gets no reading.
        same = (words[rows] == words[rows[0]]).all(axis=1)
        rows_same = rows if same.all() else rows[same]
        length = int(lengths[usable[rows[0]]])
        text = shape[rows[0], :length].tobytes().decode("latin-1")
        whole = rows_same.size == usable.size
        yield text, usable[rows_same], matrix if whole else matrix[rows_same]
        left = left[~alike]


def digits(matrix: Bytes, begin: int, end: int) -> Ints:
    """Read the digits of a span of columns as whole numbers; up to 15 are exact."""
    value = np.zeros(len(matrix), dtype=np.int64)
    for place in range(begin, end):
        value *= 10
        value += matrix[:, place] - np.int64(48)
    return value


def numbers(
    chunk: Chunk, starts: Ints, ends: Ints, reader: Callable[[str], NumberShape | None]
) -> Floats:
    """Read a column of numbers; NaN where the shape is none."""
    out = np.full(starts.size, np.nan)
    for text, cells, matrix in shapes(chunk, starts, ends):
        shape = reader(text)
        if shape is not None:
            out[cells] = shape.read(matrix)
    return out


@dataclass(frozen=True)
class NumberShape:
    """Where a number's digits stand: [begin, end) of its whole part, its fraction, its exponent."""

    sign: int
    whole: tuple[int, int]
    part: tuple[int, int]
    power: tuple[int, int] = (0, 0)
    power_sign: int = 1

    def read(self, matrix: Bytes) -> Floats:
        """Return the numbers in cells of this shape, correct to the last bit up to 15 digits."""
        places = self.part[1] - self.part[0]
        value = digits(matrix, *self.whole).astype(np.float64)
        if places:
            value = (value * 10.0**places + digits(matrix, *self.part)) / 10.0**places
        if self.power[1] > self.power[0]:
            power = np.minimum(digits(matrix, *self.power), 300) * self.power_sign
            value = value * 10.0 ** power.astype(np.float64)
        return value * self.sign


def _trim(data: Bytes, starts: Ints, ends: Ints) -> tuple[Ints, Ints]:
    """Move past blanks; a cell of many blanks is cut at sixteen a side, and then is no number."""
    last = data.size - 1
    for _ in range(16):
        blank = (data[np.minimum(starts, last)] == 32) & (starts < ends)
        if not blank.any():
            break
        starts = starts + blank
    for _ in range(16):
        blank = (data[np.maximum(ends - 1, 0)] == 32) & (starts < ends)
        if not blank.any():
            break
        ends = ends - blank
    return starts, ends
