"""Guesses how a logger wrote its table, and says what it guessed, for a person to confirm."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from .findings import NOTE, WARN, Finding, Unfit
from .log_shapes import number_shape, number_unit, time_shape

# How much of a file is looked at to guess, in bytes? Room for a page of preamble and 1,000 rows.
HEAD = 65_536
# How many probes may a log have? The chunk's memory grows with them; loggers have up to 16.
MOST_PROBES = 16

DELIMITERS = (";", "\t", ",", "|")
ORDERS = ("ymd", "dmy", "mdy")

_MAGIC = (
    (b"PK\x03\x04", "spreadsheet"), (b"\xd0\xcf\x11\xe0", "spreadsheet"), (b"%PDF", "pdf"),
    (b"\x1f\x8b", "compressed"), (b"\x89PNG", "binary"), (b"\xff\xd8\xff", "binary"),
)  # fmt: skip

# What is no temperature, whatever it is called besides?
_OTHER = re.compile(
    r"humid|\brh\b|%|press|\bbar\b|psi|kpa|volt|batt|\bmv\b|dew|event|alarm|flow|\bf0\b|\bno\b|#|"
    r"index|sample|serial|record|count|\bid\b|signal|rssi",
    re.IGNORECASE,
)
_ELAPSED = re.compile(r"elapsed|duration|run ?time|since|\bt\+", re.IGNORECASE)
_TIMELY = re.compile(r"time|date|elapsed|min|sec|hour|\bs\b|\bh\b|\bms\b|duration", re.IGNORECASE)
_FAHRENHEIT = re.compile(r"fahrenheit|[°º\ufffd]\s?F\b|\(F\)|\[F\]|_F$|\bdeg\.?\s?F\b|\sF$")
_CELSIUS = re.compile(r"celsius|[°º\ufffd]\s?C\b|\(C\)|\[C\]|_C$|\bdeg\.?\s?C\b|\sC$")


@dataclass(frozen=True)
class Probe:
    """A column of temperatures; `unit` "C", "F", or "?" until the whole log was seen."""

    column: int
    name: str
    unit: str


@dataclass(frozen=True)
class Layout:
    """How a log is written; a person may change any of it.

    Attributes:
        encoding: "utf-8", "latin-1", "utf-16-le" or "utf-16-be".
        delimiter: one of DELIMITERS. decimal: "." or ",".
        skip: lines before the first reading.
        kind: "moment" (a day and a time), "clock" (a time of day), "elapsed" (h:mm:ss since the
            start), "number" (of `unit_ms`), "every" (no time column: a row each `unit_ms`).
        columns: of the time, from 0: one, or the day's and the clock's.
        order: of day, month and year, one of ORDERS.
        unit_ms: what one of a "number" or "every" is worth.
        probes: what is read as temperatures.
        findings: what was guessed; WARN where it could as well be otherwise.
    """

    encoding: str
    delimiter: str
    decimal: str
    skip: int
    kind: str
    columns: tuple[int, ...]
    order: str
    unit_ms: float
    probes: tuple[Probe, ...]
    findings: tuple[Finding, ...] = ()


def guess(head: bytes) -> Layout:
    """Guess a log's layout from its first 64 KiB.

    Raises:
        Unfit: "empty", "binary", "spreadsheet", "pdf", "compressed", "not_a_table", "one_row",
            "comma_clash" (a decimal comma beside a separating one), "no_time", "no_temperature".
    """
    encoding = encoding_of(head)
    lines = lines_of(head, encoding)
    delimiter, rows = _delimiter(lines)
    width = Counter(len(r) for _, r in rows if len(r) > 1).most_common(1)[0][0]
    decimal = _decimal(rows, delimiter)
    start = next((i for i, (_, r) in enumerate(rows) if _is_data(r, width, decimal)), None)
    if start is None:
        raise Unfit("not_a_table")
    header = _header(rows[:start], width, delimiter)
    data = [r for _, r in rows[start:] if _is_data(r, width, decimal)]
    if len(data) < 2:
        raise Unfit("one_row", rows=len(data))
    columns = [[r[i].strip() for r in data] for i in range(width)]
    shapes = [[_shape(cell) for cell in column if cell] for column in columns]

    findings = [_guessed("delimiter", {"\t": "tab"}.get(delimiter, delimiter))]
    findings.append(_guessed("decimal", decimal))
    kind, where, unit_ms = _time(columns, shapes, header, decimal, findings)
    order = _order([columns[i] for i in where], kind, findings)
    probes = _probes(columns, shapes, header, decimal, set(where), findings)
    return Layout(
        encoding, delimiter, decimal, rows[start][0], kind, where, order, unit_ms,
        probes, tuple(findings),
    )  # fmt: skip


def _guessed(what: str, value: str, level: str = NOTE, about: str = "") -> Finding:
    return Finding(f"guessed_{what}", level, about, {"value": value})


def encoding_of(head: bytes) -> str:
    """Return the encoding of a text; `Unfit` "empty", "binary" and the kinds of other files."""
    if not head.strip():
        raise Unfit("empty")
    for magic, code in _MAGIC:
        if head.startswith(magic):
            raise Unfit(code)
    if head.startswith(b"\xff\xfe"):
        return "utf-16-le"
    if head.startswith(b"\xfe\xff"):
        return "utf-16-be"
    zeros = head.count(0)
    if zeros:
        # Text in two-byte letters without its mark: every other byte is nought.
        if zeros * 3 > len(head) and head[1::2].count(0) * 10 > len(head[1::2]) * 9:
            return "utf-16-le"
        raise Unfit("binary")
    if sum(head.count(c) for c in range(1, 9)) + sum(head.count(c) for c in range(14, 32)) > 8:
        raise Unfit("binary")
    try:
        head.decode("utf-8")
    except UnicodeDecodeError as error:
        # A letter cut by the end of the head is no fault of the file.
        return "utf-8" if error.start > len(head) - 4 and len(head) >= HEAD else "latin-1"
    return "utf-8"


def lines_of(head: bytes, encoding: str) -> list[str]:
    """Return the whole lines of a head."""
    text = head.decode(encoding, errors="replace").lstrip("\ufeff")
    whole = len(head) < HEAD
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    # The last line may be cut by the end of the head.
    return lines if whole or len(lines) < 2 else lines[:-1]


def _delimiter(lines: Sequence[str]) -> tuple[str, list[tuple[int, list[str]]]]:
    """The delimiter that cuts most lines into equally many cells, and the lines so cut."""
    best: tuple[float, str, list[tuple[int, list[str]]]] | None = None
    for delimiter in DELIMITERS:
        rows = []
        for number, line in enumerate(lines):
            if not line.strip():
                continue
            cells = next(csv.reader([line], delimiter=delimiter), [])
            rows.append((number, cells))
        widths = Counter(len(cells) for _, cells in rows if len(cells) > 1)
        if not widths:
            continue
        score = widths.most_common(1)[0][1] / len(rows)
        if best is None or score > best[0] + 0.05:
            best = (score, delimiter, rows)
    if best is None:
        filled = sum(1 for line in lines if line.strip())
        raise Unfit("one_row", rows=filled) if filled < 2 else Unfit("not_a_table")
    return best[1], best[2]


def _decimal(rows: Sequence[tuple[int, list[str]]], delimiter: str) -> str:
    commas = points = 0
    for _, cells in rows:
        for cell in cells:
            shape = _shape(cell.strip())
            commas += "," in shape and number_shape(shape, ",") is not None
            points += "." in shape and number_shape(shape, ".") is not None
    return "," if commas > points else "."


def _shape(cell: str) -> str:
    """As `cells.shapes` sees it: bytes as Latin-1, 0 for each digit."""
    return re.sub("[0-9]", "0", cell.encode("utf-8").decode("latin-1"))


def _is_data(row: Sequence[str], width: int, decimal: str) -> bool:
    """Whether a row holds readings: as wide as most, more numbers and times than words."""
    if len(row) < width:
        return False
    shapes = [_shape(cell.strip()) for cell in row if cell.strip()]
    fit = sum(1 for s in shapes if number_shape(s, decimal) or time_shape(s))
    return fit >= 1 and fit * 2 > len(shapes)


def _header(before: Sequence[tuple[int, list[str]]], width: int, delimiter: str) -> list[str]:
    """The row above the readings that names the columns; empty names where there is none."""
    for _, row in reversed(before):
        names = [cell.strip() for cell in row]
        # "Time,Probe" above "12:00,85,3": the comma both parts cells and marks decimals.
        if delimiter == "," and len(names) > 1 and width == 2 * len(names) - 1 and all(names):
            raise Unfit("comma_clash")
        if len(names) >= width and any(names):
            return names[:width]
    return [""] * width


def _most(shapes: Sequence[str], fits: Sequence[bool]) -> bool:
    return bool(shapes) and sum(fits) * 10 >= len(shapes) * 6


def _time(
    columns: Sequence[Sequence[str]],
    shapes: Sequence[Sequence[str]],
    header: Sequence[str],
    decimal: str,
    findings: list[Finding],
) -> tuple[str, tuple[int, ...], float]:
    days, clocks = [], []
    for i, column in enumerate(shapes):
        times = [time_shape(s) for s in column]
        if _most(column, [t is not None and t.has_day and t.has_clock for t in times]):
            findings.append(_guessed("time", header[i] or str(i + 1)))
            return "moment", (i,), 1.0
        if _most(column, [t is not None and t.has_day for t in times]):
            days.append(i)
        elif _most(column, [t is not None and t.has_clock for t in times]):
            clocks.append(i)
    if days and clocks:
        where = (days[0], clocks[0])
        findings.append(_guessed("time", " + ".join(header[i] or str(i + 1) for i in where)))
        return "moment", where, 1.0
    if clocks:
        i = clocks[0]
        findings.append(_guessed("time", header[i] or str(i + 1)))
        first = next(cell for cell in columns[i] if cell)
        elapsed = bool(_ELAPSED.search(header[i])) or bool(re.match(r"0{1,4}:0[0-5]", first))
        if elapsed and not _ELAPSED.search(header[i]):
            findings.append(_guessed("elapsed", header[i], WARN))
        return ("elapsed" if elapsed else "clock"), (i,), 1.0
    return _number_time(columns, shapes, header, decimal, findings)


def _number_time(
    columns: Sequence[Sequence[str]],
    shapes: Sequence[Sequence[str]],
    header: Sequence[str],
    decimal: str,
    findings: list[Finding],
) -> tuple[str, tuple[int, ...], float]:
    """A rising column of numbers: seconds, minutes, epoch or spreadsheet days."""
    rising = []
    for i, column in enumerate(shapes):
        if not _most(column, [number_shape(s, decimal) is not None for s in column]):
            continue
        values = [v for v in map(lambda c: _value(c, decimal), columns[i]) if v is not None]
        ups = sum(b > a for a, b in pairwise(values))
        if len(values) > 1 and ups * 10 >= (len(values) - 1) * 8:
            # Days of a spreadsheet have a fraction, but the first of them may be midnight.
            first = next((v for v in values if v % 1), values[0])
            rising.append((bool(_TIMELY.search(header[i])), -i, first))
    named = [r for r in rising if r[0]]
    picked = max(named or [r for r in rising if _epoch(r[2])], default=None)
    if picked is None:
        raise Unfit("no_time")
    i, first = -picked[1], picked[2]
    findings.append(_guessed("time", header[i] or str(i + 1)))
    unit_ms, sure = _epoch(first), True
    if unit_ms is None:
        unit_ms, sure = _unit_ms(header[i])
    names = {1.0: "ms", 1_000.0: "s", 60_000.0: "min", 3_600_000.0: "h", 86_400_000.0: "d"}
    findings.append(_guessed("time_unit", names[unit_ms], NOTE if sure else WARN))
    return "number", (i,), unit_ms


def _epoch(first: float) -> float | None:
    """What one is worth, if the first value of a column is a date in itself."""
    if 1e12 <= first < 7.3e12:
        return 1.0
    if 1e9 <= first < 7.3e9:
        return 1_000.0
    # Days of a spreadsheet: 30,000 is 1982, 73,000 is 2099.
    return 86_400_000.0 if 30_000 <= first < 73_000 and first % 1 else None


def _unit_ms(header: str) -> tuple[float, bool]:
    for pattern, unit in (
        (r"\bms\b|millis", 1.0), (r"\bs\b|\bsec|second|_s$", 1_000.0),
        (r"\bmin|minute|_min$", 60_000.0), (r"\bh\b|hour|\bhrs?\b", 3_600_000.0),
    ):  # fmt: skip
        if re.search(pattern, header, re.IGNORECASE):
            return unit, True
    return 1_000.0, False


def _value(cell: str, decimal: str) -> float | None:
    shape = number_shape(_shape(cell), decimal)
    if shape is None:
        return None
    raw = np.frombuffer(cell.encode("utf-8"), dtype=np.uint8)[None, :]
    return float(shape.read(raw)[0])


def _order(columns: Sequence[Sequence[str]], kind: str, findings: list[Finding]) -> str:
    """Which of day and month comes first: what cannot be a month tells, else it is not sure."""
    if kind != "moment":
        return "ymd"
    first, second = set(), set()
    open_ = False
    for cell in columns[0]:
        shape = time_shape(_shape(cell))
        if shape is None or not shape.needs_order:
            continue
        open_ = True
        a, b = re.findall("[0-9]+", cell)[:2]
        first.add(int(a))
        second.add(int(b))
    if not open_:
        return "ymd"
    if max(first) > 12 or max(second) > 12:
        order = "dmy" if max(first) > 12 else "mdy"
        findings.append(_guessed("date_order", order))
        return order
    # Within a log the days change and the month hardly does.
    order = "mdy" if len(second) > len(first) else "dmy"
    findings.append(_guessed("date_order", order, WARN))
    return order


def _probes(
    columns: Sequence[Sequence[str]],
    shapes: Sequence[Sequence[str]],
    header: Sequence[str],
    decimal: str,
    times: set[int],
    findings: list[Finding],
) -> tuple[Probe, ...]:
    probes = []
    for i, column in enumerate(shapes):
        numeric = [number_shape(s, decimal) is not None for s in column]
        # An open probe writes "---" for long: a quarter of numbers makes a column of readings.
        if i in times or not column or sum(numeric) * 4 < len(column) or not any(numeric):
            continue
        name = header[i] or f"{i + 1}"
        if _OTHER.search(name) or (not header[i] and _counts(columns[i], decimal)):
            continue
        if len(times) and _TIMELY.search(name) and not _is_temperature(name):
            continue
        units = {number_unit(s) for s in column} - {""}
        unit = "F" if _FAHRENHEIT.search(name) or units == {"F"} else ""
        unit = unit or ("C" if _CELSIUS.search(name) or units == {"C"} else "?")
        probes.append(Probe(i, name, unit))
        findings.append(_guessed("probe", unit, NOTE, name))
    if not probes:
        raise Unfit("no_temperature")
    if len(probes) > MOST_PROBES:
        raise Unfit("too_many_probes", probes=len(probes), most=MOST_PROBES)
    return tuple(probes)


def _is_temperature(name: str) -> bool:
    return bool(re.search("temp", name, re.I) or _FAHRENHEIT.search(name) or _CELSIUS.search(name))


def _counts(column: Sequence[str], decimal: str) -> bool:
    """Whether a nameless column only numbers the rows."""
    values = [_value(cell, decimal) for cell in column if cell]
    return all(b is not None and a is not None and b - a == 1 for a, b in pairwise(values))
