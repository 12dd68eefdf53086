"""The first rows of a table as cells: to see what was guessed, or to choose columns by hand."""

from __future__ import annotations

import csv

from .csvlayout import DELIMITERS, Layout, encoding_of, lines_of

ROWS = 6
MOST_COLUMNS = 64
LONGEST_CELL = 60


def first_rows(head: bytes, layout: Layout) -> tuple[list[str], list[list[str]]]:
    """Return (names of the columns, the first rows of readings), cut to what a screen can show."""
    lines = lines_of(head, layout.encoding)
    table = [next(csv.reader([line], delimiter=layout.delimiter), []) for line in lines]
    rows = [_cut(row) for row in table[layout.skip :] if any(cell.strip() for cell in row)][:ROWS]
    width = max((len(row) for row in rows), default=0)
    above = [_cut(row) for row in table[: layout.skip] if len(row) >= width and any(row)]
    names = above[-1][:width] if above and width else [""] * width
    return names, rows


def bare_layout(head: bytes) -> Layout:
    """Return a layout without times and probes for a table whose columns could not be guessed.

    Raises:
        Unfit: as `csvlayout.guess`, for what is no text.
    """
    encoding = encoding_of(head)
    lines = lines_of(head, encoding)
    delimiter = max(DELIMITERS, key=lambda d: sum(line.count(d) for line in lines[:200]))
    counts = [line.count(delimiter) for line in lines]
    most = max(counts, default=0)
    named = next((i for i, n in enumerate(counts) if n == most), 0)
    decimal = "," if delimiter != "," and head.count(b",") > head.count(b".") else "."
    return Layout(
        encoding, delimiter, decimal, min(named + 1, max(0, len(lines) - 1)), "every", (), "ymd",
        60_000, (),
    )  # fmt: skip


def _cut(row: list[str]) -> list[str]:
    return [cell.strip()[:LONGEST_CELL] for cell in row[:MOST_COLUMNS]]
