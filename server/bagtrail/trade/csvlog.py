"""Reads a temperature log of any logger: guessed by `csvlayout`, confirmed by a person, read here.

1. The head of the file gives a layout, or the caller passes a confirmed one.
2. The file goes by in chunks of whole lines; `cells` reads each column of a chunk at once.
3. What cannot be read is counted and named with its first line; nothing is filled in.

Memory is bounded: one chunk, and eight bytes a reading up to MOST_READINGS.
"""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import partial
from io import BytesIO
from typing import BinaryIO

import numpy as np

from .cells import Chunk, Floats, Ints, column, numbers, shapes, split
from .csvlayout import HEAD, Layout, Probe, guess
from .findings import NOTE, WARN, Finding, Unfit
from .log_shapes import DAY_MS, NO_TIME, number_shape, time_shape

# How big a file is read, in bytes? A year of one reading a second and four probes is 1 GB and no
# load; ten hours of ten a second are 15 MB.
MOST_BYTES = 64 * 1024 * 1024
# How many readings (rows x probes) are held? Eight million are 64 MB.
MOST_READINGS = 8_000_000
# How long may one line be? A longer one is no row of readings.
LONGEST_LINE = 65_536
_CHUNK = 1024 * 1024  # Its columns stay in the processor's cache.

# Above what is a temperature given in °F, if nothing says so, °C? No steriliser of bags runs at
# 150 °C; 212 °F and more is where each of them does.
HOTTEST_C = 150.0


@dataclass(frozen=True)
class Log:
    """A log as it stands in the file, for `readings.tidy`.

    Attributes:
        layout: as used; the units of its probes are settled.
        ms: of each row: since 1970 by the logger's clock, or since its start.
        temps: °C [rows, probes]; NaN where nothing could be read.
        findings: what was guessed and what could not be read.
    """

    layout: Layout
    ms: Ints
    temps: Floats
    findings: tuple[Finding, ...]

    @property
    def probes(self) -> tuple[str, ...]:
        return tuple(probe.name for probe in self.layout.probes)


@dataclass
class _Tally:
    """Faults of one kind: how many, and the first line, from 1."""

    level: str
    count: int = 0
    line: int = 0

    def add(self, lines: Ints) -> None:
        if lines.size and not self.count:
            self.line = int(lines[0]) + 1
        self.count += int(lines.size)


@dataclass
class _Reading:
    """What has been read so far."""

    ms: list[Ints] = field(default_factory=list)
    temps: list[Floats] = field(default_factory=list)
    rows: int = 0
    faults: dict[tuple[str, str], _Tally] = field(default_factory=dict)

    def fault(self, code: str, about: str, lines: Ints, level: str = WARN) -> None:
        if lines.size:
            self.faults.setdefault((code, about), _Tally(level)).add(lines)

    def count(self, code: str) -> int:
        return sum(tally.count for (name, _), tally in self.faults.items() if name == code)


def read_log(source: bytes | BinaryIO, layout: Layout | None = None) -> Log:
    """Read a log.

    Args:
        source: the file's bytes, or a seekable binary file.
        layout: a confirmed one; guessed when left out.

    Returns:
        Findings, beside the layout's: "row_short", "time_unread", "reading_unread" (about a probe)
        with how many and the first `line`; "quotes_odd"; "midnight" (a clock without days went on
        to the next day); "unit_guessed" (about a probe); "mostly_unread".

    Raises:
        Unfit: as `csvlayout.guess`; "too_big", "too_many_readings", "one_row", "line_too_long".
    """
    file = BytesIO(source) if isinstance(source, bytes) else source
    file.seek(0)
    if layout is None:
        layout = guess(file.read(HEAD))
        got = _read(file, layout)
        if _order_unsure(layout) and (got.count("time_unread") or _days(got) > 20):
            other = replace(layout, order="mdy" if layout.order == "dmy" else "dmy")
            again = _read(file, other)
            key = (again.count("time_unread"), _days(again))
            if key < (got.count("time_unread"), _days(got)):
                layout, got = _with_order(other), again
    else:
        got = _read(file, layout)
    return _finish(layout, got)


def _order_unsure(layout: Layout) -> bool:
    return any(f.code == "guessed_date_order" and f.level == WARN for f in layout.findings)


def _with_order(layout: Layout) -> Layout:
    found = tuple(
        replace(f, values={"value": layout.order}) if f.code == "guessed_date_order" else f
        for f in layout.findings
    )
    return replace(layout, findings=found)


def _days(got: _Reading) -> int:
    """How many days a log spans; a day and a month the wrong way round make it weeks."""
    if not got.rows:
        return 0
    return int((max(m.max() for m in got.ms) - min(m.min() for m in got.ms)) // DAY_MS)


def _read(file: BinaryIO, layout: Layout) -> _Reading:
    got = _Reading()
    line = 0
    for text in _chunks(file, layout.encoding):
        chunk = split(text, layout.delimiter)
        lines = np.arange(chunk.starts.size)
        if line < layout.skip:
            lines = lines[layout.skip - line :]
        _rows(chunk, lines, line, layout, got)
        line += chunk.starts.size
        if got.rows * len(layout.probes) > MOST_READINGS:
            raise Unfit("too_many_readings", most=MOST_READINGS)
    return got


def _chunks(file: BinaryIO, encoding: str) -> Iterator[bytes]:
    """Whole lines in UTF-8 or an 8-bit code, each chunk ending in a line break."""
    file.seek(0)
    decoder = codecs.getincrementaldecoder(encoding)("replace") if "16" in encoding else None
    rest = b""
    size = 0
    first = True
    old_mac: bool | None = None
    while block := file.read(_CHUNK):
        size += len(block)
        if size > MOST_BYTES:
            raise Unfit("too_big", most=MOST_BYTES)
        if decoder:
            block = decoder.decode(block).encode("utf-8")
        if first:
            block = block.removeprefix(b"\xef\xbb\xbf")
            old_mac = b"\n" not in block and b"\r" in block
            first = False
        if old_mac:
            block = block.replace(b"\r", b"\n")
        if b"\0" in block:
            raise Unfit("binary")
        text = rest + block
        end = text.rfind(b"\n") + 1
        text, rest = text[:end], text[end:]
        if len(rest) > LONGEST_LINE:
            raise Unfit("line_too_long", most=LONGEST_LINE)
        if text:
            yield text
    if rest.strip():
        yield rest + b"\n"


def _rows(chunk: Chunk, lines: Ints, offset: int, layout: Layout, got: _Reading) -> None:
    last = max(*layout.columns, *(p.column for p in layout.probes), 0)
    filled = chunk.ends[lines] > chunk.starts[lines]
    lines = lines[filled]
    wide = chunk.counts[lines] >= last
    got.fault("row_short", "", lines[~wide] + offset)
    lines = lines[wide]
    if chunk.odd_quotes:
        got.fault("quotes_odd", "", lines[:1] + offset)
    if not lines.size:
        return
    ms = _times(chunk, lines, layout, got)
    read = ms != NO_TIME
    got.fault("time_unread", "", lines[~read] + offset)
    temps = np.empty((lines.size, len(layout.probes)))
    reader = partial(number_shape, decimal=layout.decimal)
    for i, probe in enumerate(layout.probes):
        starts, ends = column(chunk, lines, probe.column)
        temps[:, i] = numbers(chunk, starts, ends, reader)
        got.fault("reading_unread", probe.name, lines[np.isnan(temps[:, i]) & read] + offset)
    got.ms.append(ms[read])
    got.temps.append(temps[read])
    got.rows += int(np.count_nonzero(read))


def _times(chunk: Chunk, lines: Ints, layout: Layout, got: _Reading) -> Ints:
    if layout.kind == "every":
        every: Ints = np.rint((np.arange(lines.size) + got.rows) * layout.unit_ms).astype(np.int64)
        return every
    if layout.kind == "number":
        starts, ends = column(chunk, lines, layout.columns[0])
        reader = partial(number_shape, decimal=layout.decimal)
        values = numbers(chunk, starts, ends, reader) * layout.unit_ms
        fits = np.abs(values) < 1e15
        whole: Ints = np.rint(np.where(fits, values, 0.0)).astype(np.int64)
        whole[~fits] = NO_TIME
        return whole
    ms: Ints = np.zeros(lines.size, dtype=np.int64)
    fine = np.ones(lines.size, dtype=bool)
    for index in layout.columns:
        starts, ends = column(chunk, lines, index)
        part = np.full(lines.size, NO_TIME)
        for text, cells, matrix in shapes(chunk, starts, ends):
            shape = time_shape(text)
            # Two columns: the day from one, the clock from the other. One: all it has to have.
            if shape is not None and (
                len(layout.columns) == 2 or shape.has_day == (layout.kind == "moment")
            ):
                part[cells] = shape.read(matrix, layout.order)
        fine &= part != NO_TIME
        ms += np.where(fine, part, 0)
    ms[~fine] = NO_TIME
    return ms


def _finish(layout: Layout, got: _Reading) -> Log:
    if got.rows < 2:
        raise Unfit("one_row", rows=got.rows)
    ms = np.concatenate(got.ms)
    temps = np.concatenate(got.temps)
    findings = list(layout.findings)
    if layout.kind == "clock":
        over = np.diff(ms) < -DAY_MS // 2
        if over.any():
            ms[1:] += np.cumsum(over) * DAY_MS
            findings.append(Finding("midnight", NOTE, "", {"times": int(over.sum())}))
    probes = tuple(_units(p, temps[:, i], findings) for i, p in enumerate(layout.probes))
    for (code, about), tally in got.faults.items():
        values: dict[str, int | str] = {"rows": tally.count, "line": tally.line}
        findings.append(Finding(code, tally.level, about, values))
    lost = got.count("row_short") + got.count("time_unread")
    if lost > got.rows:
        findings.append(Finding("mostly_unread", WARN, "", {"rows": lost, "of": lost + got.rows}))
    return Log(replace(layout, probes=probes), ms, temps, tuple(findings))


def _units(probe: Probe, temps: Floats, findings: list[Finding]) -> Probe:
    """Settle a probe's unit, and turn its column to °C in place."""
    unit = probe.unit
    known = temps[~np.isnan(temps)]
    # Of every thousand readings the highest may be a spike: it decides nothing.
    top = float(np.quantile(known, 0.999)) if known.size else 0.0
    if unit == "?":
        unit = "F" if top > HOTTEST_C else "C"
        findings.append(Finding("unit_guessed", WARN, probe.name, {"value": unit}))
    elif unit == "C" and top > HOTTEST_C:
        findings.append(Finding("unit_unlikely", WARN, probe.name, {"value": "C"}))
    if unit == "F":
        temps -= 32.0
        temps /= 1.8
    return replace(probe, unit=unit)
