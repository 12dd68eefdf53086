"""What a cell of a log can be: the shapes of numbers, dates and times of day.

Shapes are written with 0 for each digit (see `cells`), so "31.12.2026 23:59" is "00.00.0000 00:00".
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from .cells import Bytes, Ints, NumberShape, digits

_NUMBER = re.compile(
    r"([+-]?)(0*)(?:([.,])(0+))?(?:[eE]([+-]?)(0{1,3}))?"
    # A unit in the cell: "85.3 °C", with the degree sign in UTF-8 or Latin-1 bytes, or none.
    r"\s?(?:(?:\xc2?[\xb0\xba])?\s?([CF]))?"
)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_DATE = (
    r"(?P<a>0{1,4})(?P<sep>[-/. ])(?P<b>0{1,2}|[A-Za-z]{3,9})(?P=sep)(?P<c>0{4}|0{1,2})"
    r"|(?P<packed>0{8})"
)
_CLOCK = (
    r"(?P<h>0{1,4}):(?P<mi>00)(?::(?P<s>00)(?:[.,:](?P<f>0{1,6}))?)?"
    r"(?:\s?(?P<half>[AaPp])\.?[Mm]\.?)?"
)
_ZONE = r"(?:\s?(?:Z|UTC|(?P<zs>[+-])(?P<zh>00):?(?P<zm>00)))?"
_MOMENT = re.compile(rf"(?:{_DATE})(?:[T ]|,\s?|\s{{2}}){_CLOCK}{_ZONE}")
_DAY = re.compile(_DATE)
_TIME = re.compile(_CLOCK)

# What does a time that cannot be read become? A number no clock shows.
NO_TIME = int(np.iinfo(np.int64).min)

DAY_MS = 86_400_000
_CUMULATIVE = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], dtype=np.int64)


@lru_cache(maxsize=512)
def number_shape(text: str, decimal: str) -> NumberShape | None:
    """Understand the shape of a number with this decimal sign; None when it is none."""
    match = _NUMBER.fullmatch(text)
    if not match or not (match[2] or match[4]) or (match[3] and match[3] != decimal):
        return None
    if len(match[2]) + len(match[4] or "") > 15:
        return None
    return NumberShape(
        sign=-1 if match[1] == "-" else 1,
        whole=match.span(2),
        part=match.span(4) if match[4] else (0, 0),
        power=match.span(6) if match[6] else (0, 0),
        power_sign=-1 if match[5] == "-" else 1,
    )


def number_unit(text: str) -> str:
    """Return "C" or "F" when a cell itself says so, else ""."""
    match = _NUMBER.fullmatch(text)
    return (match[7] or "") if match else ""


@dataclass(frozen=True)
class TimeShape:
    """Spans of a date's and a clock's digits; only what stands in the shape has one."""

    spans: tuple[tuple[str, int, int], ...]
    month: int | None
    afternoon: bool | None
    zone_sign: int
    year_first: bool
    short_year: bool

    @property
    def has_day(self) -> bool:
        return any(name in ("a", "packed") for name, _, _ in self.spans)

    @property
    def has_clock(self) -> bool:
        return any(name == "h" for name, _, _ in self.spans)

    @property
    def needs_order(self) -> bool:
        """Whether day and month could be either way round."""
        return self.has_day and not self.year_first and self.month is None

    def read(self, matrix: Bytes, order: str) -> Ints:
        """Return milliseconds (since 1970 with a day, else since midnight); NO_TIME where none."""
        at = {name: digits(matrix, begin, end) for name, begin, end in self.spans}
        zero = np.zeros(len(matrix), dtype=np.int64)
        fine = np.ones(len(matrix), dtype=bool)
        ms: Ints = zero
        if self.has_day:
            year, month, day = self._day(at, order)
            month_fine = (month >= 1) & (month <= 12)
            index = np.where(month_fine, month - 1, 0)
            leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
            longest = _CUMULATIVE[index] + (leap & (index == 1))
            fine &= month_fine & (day >= 1) & (day <= longest) & (year >= 1970) & (year < 2200)
            ms = _days(year, index + 1, day) * DAY_MS
        if self.has_clock:
            hour, minute, second = at["h"], at["mi"], at.get("s", zero)
            if self.afternoon is not None:
                fine &= (hour >= 1) & (hour <= 12)
                hour = hour % 12 + (12 if self.afternoon else 0)
            elif self.has_day:
                fine &= hour <= 24
            fine &= (minute < 60) & (second < 60)
            part = zero
            for name, begin, end in self.spans:
                if name == "f":
                    part = at["f"] * 1_000 // 10 ** (end - begin)
            ms = ms + ((hour * 60 + minute) * 60 + second) * 1_000 + part
        if "zh" in at:
            ms = ms - self.zone_sign * (at["zh"] * 60 + at["zm"]) * 60_000
        out: Ints = np.where(fine, ms, np.int64(NO_TIME))
        return out

    def _day(self, at: dict[str, Ints], order: str) -> tuple[Ints, Ints, Ints]:
        if "packed" in at:
            packed = at["packed"]
            return packed // 10_000, packed // 100 % 100, packed % 100
        middle = at.get("b")
        if self.month is not None:
            middle = np.full(len(at["a"]), self.month, dtype=np.int64)
        assert middle is not None
        if self.year_first:
            return at["a"], middle, at["c"]
        year = at["c"] + 2_000 if self.short_year else at["c"]
        if order == "mdy" and self.month is None:
            return year, at["a"], middle
        return year, middle, at["a"]


@lru_cache(maxsize=512)
def time_shape(text: str) -> TimeShape | None:
    """Understand the shape of a moment, a day or a time of day; None when it is none."""
    match = _MOMENT.fullmatch(text) or _TIME.fullmatch(text) or _DAY.fullmatch(text)
    if not match:
        return None
    found = {name: value for name, value in match.groupdict().items() if value}
    spans = [
        (name, *match.span(name))
        for name in ("a", "b", "c", "packed", "h", "mi", "s", "f", "zh", "zm")
        if name in found and found[name][0] == "0"
    ]
    month = None
    if "b" in found and found["b"][0] != "0":
        word = found["b"][:3].lower()
        if word not in _MONTHS:
            return None
        month = _MONTHS.index(word) + 1
    year_first = len(found.get("a", "")) == 4 or "packed" in found
    if "a" in found and not year_first and len(found["a"]) > 2:
        return None
    if year_first and "c" in found and len(found["c"]) > 2:
        return None
    if len(found.get("h", "")) > 2 and "a" in found:
        return None
    return TimeShape(
        spans=tuple(spans),
        month=month,
        afternoon=None if "half" not in found else found["half"] in "pP",
        zone_sign=-1 if found.get("zs") == "-" else 1,
        year_first=year_first,
        short_year=len(found.get("c", "")) <= 2,
    )


def _days(year: Ints, month: Ints, day: Ints) -> Ints:
    """Days since 1970-01-01 of the Gregorian calendar, counted in years that begin in March."""
    y = year - (month <= 2)
    era = y // 400
    of_era = y - era * 400
    of_year = (153 * ((month + 9) % 12) + 2) // 5 + day - 1
    days: Ints = era * 146_097 + of_era * 365 + of_era // 4 - of_era // 100 + of_year - 719_468
    return days
