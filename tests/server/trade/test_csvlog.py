"""Logs of many loggers: what is guessed is said, what is wrong is named, nothing takes long."""

from __future__ import annotations

import io
import tracemalloc
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bagtrail.trade.csvlayout import HEAD, Layout, Probe, guess
from bagtrail.trade.csvlog import Log, read_log
from bagtrail.trade.curve import curve
from bagtrail.trade.findings import Unfit
from bagtrail.trade.hold import hold
from bagtrail.trade.lethality import lethality
from bagtrail.trade.readings import tidy

MIN = 60_000
START = datetime(2026, 1, 30, 23, 50)


def table(header: str, row: str, n: int = 30, end: str = "\n", step: int = 60) -> bytes:
    """A log of n rows; `row` is formatted with t (a datetime), i and c (100.0 rising by 0.5)."""
    lines = [header] if header else []
    lines += [
        row.format(t=START + timedelta(seconds=step * i), i=i, c=100 + i / 2) for i in range(n)
    ]
    return (end.join(lines) + end).encode()


def found(log: Log | Layout, code: str, about: str | None = None) -> Any:
    return next((f for f in log.findings if f.code == code and about in (None, f.about)), None)


SHAPES = {
    "iso": ("Time,Temperature (°C)", "{t:%Y-%m-%d %H:%M:%S},{c:.1f}"),
    "iso with T and Z": ("time;core C", "{t:%Y-%m-%dT%H:%M:%S}Z;{c:.2f}"),
    "fractions of a second": ("time\ttemp °C", "{t:%Y-%m-%d %H:%M:%S}.250\t{c:.2f}"),
    "German": ("Datum/Uhrzeit;Kern [°C]", "{t:%d.%m.%Y %H:%M:%S};{c:.1f}"),
    "American, 12 hours": ("Date Time,Temp (°C)", "{t:%m/%d/%Y %I:%M:%S %p},{c:.1f}"),
    "day and clock apart": ("Date,Time,Probe 1 °C", "{t:%Y/%m/%d},{t:%H:%M:%S},{c:.1f}"),
    "month as a word": ("When,Core °C", "{t:%d-%b-%Y %H:%M},{c:.1f}"),
    "packed day": ("d;Core °C", "{t:%Y%m%d} {t:%H:%M:%S};{c:.1f}"),
    "quotes": ('"Time","Core °C"', '"{t:%Y-%m-%d %H:%M}","{c:.1f}"'),
    "a unit in the cell": ("Time;Core", "{t:%Y-%m-%d %H:%M};{c:.1f} °C"),
    "short year": ("Time;Core °C", "{t:%d/%m/%y %H:%M};{c:.1f}"),
    "bars and blanks": ("Time | Core °C", "{t:%Y-%m-%d %H:%M} | {c:.1f} "),
    "no header": ("", "{t:%Y-%m-%d %H:%M:%S},{c:.1f}"),
    "a number, damp and a battery": (
        "No.;Time;Core °C;RH %;Battery V", "{i};{t:%Y-%m-%d %H:%M};{c:.1f};55.0;3.6"
    ),
    "exponents": ("Time;Core °C", "{t:%Y-%m-%d %H:%M};{c:.4E}"),
}  # fmt: skip


@pytest.mark.parametrize("name", SHAPES)
def test_loggers(name: str) -> None:
    log = read_log(table(*SHAPES[name]))
    assert len(log.ms) == 30
    assert np.diff(log.ms).tolist() == [MIN] * 29
    assert log.temps[:, 0] == pytest.approx(np.arange(100, 115, 0.5), abs=1e-9)
    start = datetime.fromtimestamp(log.ms[0] / 1000, tz=__import__("datetime").timezone.utc)
    assert (start.day, start.month, start.hour, start.minute) == (30, 1, 23, 50)
    assert len(log.layout.probes) == 1
    assert not [f for f in log.findings if f.code.endswith("unread")]


def test_what_was_guessed_is_said() -> None:
    rows = table("Serial;123\nDate;Time;Core (°C);Room", "{t:%d.%m.%Y};{t:%H:%M};{c:.1f};21,5")
    log = read_log(rows.replace(b".5;", b",5;").replace(b".0;", b",0;"))
    assert found(log, "guessed_delimiter").values == {"value": ";"}
    assert found(log, "guessed_decimal").values == {"value": ","}
    assert found(log, "guessed_time").values == {"value": "Date + Time"}
    assert found(log, "guessed_date_order").values == {"value": "dmy"}
    assert found(log, "guessed_probe", "Core (°C)").values == {"value": "C"}
    assert found(log, "unit_guessed", "Room").level == "warn"
    assert log.probes == ("Core (°C)", "Room")
    assert log.temps[1].tolist() == [100.5, 21.5]


def test_a_decimal_comma_in_quotes_beside_separating_commas() -> None:
    log = read_log(table("Time,Core °C", '"{t:%Y-%m-%d %H:%M}","{c:.1f}"').replace(b".", b","))
    assert log.temps[:3, 0].tolist() == [100.0, 100.5, 101.0]


def test_a_decimal_comma_without_quotes_beside_separating_commas_is_refused() -> None:
    with pytest.raises(Unfit, match="comma_clash"):
        read_log(table("Time,Core °C", "{t:%Y-%m-%d %H:%M},{c:.1f}").replace(b".", b","))


@pytest.mark.parametrize(
    "header", ["Time,Temp (°F)", "Time,Temp degF", "Time,Temp_F", "Time,T Fahrenheit"]
)
def test_fahrenheit_by_its_header(header: str) -> None:
    rows = table(header, "{t:%Y-%m-%d %H:%M},212.0")
    assert read_log(rows).temps[:, 0] == pytest.approx(np.full(30, 100.0))


def test_fahrenheit_by_its_heat_is_guessed_and_said() -> None:
    log = read_log(table("Time,Core", "{t:%Y-%m-%d %H:%M},250.0"))
    assert log.temps[0, 0] == pytest.approx(121.111, abs=1e-3)
    assert found(log, "unit_guessed").values == {"value": "F"}
    assert log.layout.probes[0].unit == "F"


def test_celsius_that_cannot_be() -> None:
    assert found(read_log(table("Time,Core °C", "{t:%Y-%m-%d %H:%M},250.0")), "unit_unlikely")


@pytest.mark.parametrize(
    ("header", "unit_ms"),
    [("Elapsed (s)", 1_000), ("Time [min]", MIN), ("hours", 3_600_000), ("time ms", 1)],
)
def test_elapsed_numbers(header: str, unit_ms: int) -> None:
    log = read_log(table(f"{header};Core °C", "{i};{c:.1f}"))
    assert log.ms[:3].tolist() == [0, unit_ms, 2 * unit_ms]


def test_elapsed_time_of_no_said_unit_is_not_sure() -> None:
    log = read_log(table("Time;Core °C", "{i};{c:.1f}"))
    assert (found(log, "guessed_time_unit").level, log.ms[1]) == ("warn", 1_000)


def test_epoch_and_spreadsheet_days() -> None:
    seconds = read_log(
        table("stamp;Core °C", "{t:%s};{c:.1f}".replace("{t:%s}", "17697306{i:02d}"))
    )
    assert seconds.ms[1] - seconds.ms[0] == 1_000
    days = read_log(table("when time;Core °C", "46052.{i:02d};{c:.1f}"))
    assert days.ms[1] - days.ms[0] == 864_000


def test_elapsed_clock_goes_past_a_day() -> None:
    rows = "\n".join(f"{i // 2:02d}:{i % 2 * 30:02d}:00;121.1" for i in range(60))
    log = read_log(f"Elapsed;Core °C\n{rows}\n".encode())
    assert (np.diff(log.ms) == 30 * MIN).all()


def test_a_clock_without_days_goes_on_past_midnight() -> None:
    log = read_log(table("Clock;Core °C", "{t:%H:%M};{c:.1f}"))
    assert (np.diff(log.ms) == MIN).all()
    assert found(log, "midnight")


@pytest.mark.parametrize("order", ["dmy", "mdy"])
def test_an_unsure_order_of_day_and_month(order: str) -> None:
    """5 to 6 June, past midnight: the other way round the log would span a month."""
    pattern = "%d/%m/%Y %H:%M" if order == "dmy" else "%m/%d/%Y %H:%M"
    times = [datetime(2026, 6, 5, 20, 0) + timedelta(minutes=i) for i in range(3_000)]
    rows = "\n".join(f"{t:{pattern}};121.1" for t in times)
    log = read_log(f"Time;Core °C\n{rows}\n".encode())
    assert (np.diff(log.ms) == MIN).all()
    assert found(log, "guessed_date_order").level == "warn"
    assert log.layout.order == order


def test_lines_of_other_systems() -> None:
    for end in ("\r\n", "\r"):
        assert len(read_log(table("Time,Core °C", "{t:%Y-%m-%d %H:%M},{c:.1f}", end=end)).ms) == 30


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"])
def test_encodings(encoding: str) -> None:
    text = table("Time;Core °C", "{t:%Y-%m-%d %H:%M};{c:.1f}").decode()
    raw = text.encode(encoding)
    if encoding == "utf-16-be":
        raw = b"\xfe\xff" + raw
    log = read_log(raw)
    assert log.layout.probes[0].name == "Core °C"
    assert len(log.ms) == 30


def test_no_line_break_at_the_end() -> None:
    rows = table("Time,Core °C", "{t:%Y-%m-%d %H:%M},{c:.1f}")
    assert len(read_log(rows.rstrip()).ms) == 30


def test_a_confirmed_layout_rules() -> None:
    rows = table("Time,Core °C,Room °C", "{t:%Y-%m-%d %H:%M},{c:.1f},21.5")
    layout = Layout("utf-8", ",", ".", 1, "every", (), "ymd", 30_000, (Probe(2, "room", "C"),))
    log = read_log(rows, layout)
    assert log.ms[:2].tolist() == [0, 30_000]
    assert set(log.temps[:, 0]) == {21.5}


# --- Faults


def test_what_cannot_be_read_is_counted_with_its_line() -> None:
    lines = table("Time,Core °C,Top °C", "{t:%Y-%m-%d %H:%M},{c:.1f},{c:.1f}").decode().split("\n")
    lines[5] = lines[5].rsplit(",", 2)[0] + ",---,99.5"
    lines[8] = "Logger restarted,,"
    lines[12] = "2026-13-31 00:01,100.0,100.0"
    lines[15] = "2026-02-30 00:01,100.0,100.0"
    lines[20] = "end"
    log = read_log("\n".join(lines).encode())
    assert len(log.ms) == 26
    assert found(log, "reading_unread", "Core °C").values == {"rows": 1, "line": 6}
    assert found(log, "time_unread").values == {"rows": 3, "line": 9}
    assert found(log, "row_short").values == {"rows": 1, "line": 21}


def test_more_rubbish_than_rows_is_said() -> None:
    rows = table("Time,Core °C", "{t:%Y-%m-%d %H:%M},{c:.1f}") + b"x,y\n" * 40
    assert found(read_log(rows), "mostly_unread").values == {"rows": 40, "of": 70}


def test_odd_quotes() -> None:
    rows = table("Time,Core °C", "{t:%Y-%m-%d %H:%M},{c:.1f}").replace(b"100.5", b'100.5"')
    log = read_log(rows)
    assert found(log, "quotes_odd")
    assert len(log.ms) == 30


def test_three_faults_from_file_to_lethality() -> None:
    """A gap of ten minutes, a doubled row and a clock set back, all in one file: all named."""
    lines = table("Time;Core °C", "{t:%Y-%m-%d %H:%M};121.1", n=60).decode().split("\n")
    del lines[20:30]
    lines.insert(10, lines[10])
    again = table("", "{t:%Y-%m-%d %H:%M};118.0", n=5).decode()
    log = read_log(("\n".join(lines) + again).encode())
    found_ = lethality(tidy(log.ms, log.temps, log.probes), 121.1)
    codes = {f.code for f in found_.findings}
    assert {"gap", "time_double", "clock_restarted", "runs_not_added"} <= codes
    assert found_.f0 == pytest.approx(59 - 11)


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "empty"), (b" \r\n\n", "empty"), (b"PK\x03\x04 xlsx", "spreadsheet"),
        (b"%PDF-1.7", "pdf"), (b"\x1f\x8b\x08", "compressed"), (bytes(range(256)) * 99, "binary"),
        (b"\x89PNG\r\n", "binary"), (b"hello", "one_row"),
        (b"hello\nworld\nagain\n", "not_a_table"),
        (b"Time,Core\n", "not_a_table"), (b"Time;Core C\n2026-01-01 10:00;99.0\n", "one_row"),
        (b"a,b\n1,2\n1,2\n1,2\n", "no_time"),
        (b"Time;Note\n2026-01-01 10:00;on\n2026-01-01 10:01;off\n", "not_a_table"),
        (b"Time;RH %\n2026-01-01 10:00;50.0\n2026-01-01 10:01;51.0\n", "no_temperature"),
    ],
)  # fmt: skip
def test_what_is_no_log_is_refused_by_name(data: bytes, code: str) -> None:
    with pytest.raises(Unfit) as error:
        read_log(data)
    assert error.value.code == code


def test_binary_after_a_good_head() -> None:
    rows = table("Time,Core °C", "{t:%Y-%m-%d %H:%M},{c:.1f}", n=4_000)
    with pytest.raises(Unfit, match="binary"):
        read_log(rows + b"\0" * 100_000)


def test_too_many_probes() -> None:
    header = "Time," + ",".join(f"T{i} °C" for i in range(20))
    with pytest.raises(Unfit, match="too_many_probes"):
        read_log(table(header, "{t:%Y-%m-%d %H:%M}" + ",{c:.1f}" * 20))


class Endless(io.RawIOBase):
    """A file of one text over and over, that is never held in memory."""

    def __init__(self, head: bytes, again: bytes, size: int) -> None:
        self.head, self.again, self.size, self.at = head, again, size, 0

    def seek(self, offset: int, whence: int = 0) -> int:
        self.at = offset
        return offset

    def read(self, n: int = -1) -> bytes:
        n = min(n, self.size - self.at)
        first = self.head[self.at : self.at + n]
        rest = n - len(first)
        start = max(0, self.at - len(self.head)) % len(self.again)
        text = (self.again * (rest // len(self.again) + 2))[start : start + rest]
        self.at += n
        return first + text


HEADER = b"Time;Core \xc2\xb0C\n"
ROW = b"2026-01-30 23:50:00;121.1\n"


@pytest.mark.parametrize(
    ("head", "again", "code"),
    [
        (HEADER, ROW, ""),
        (HEADER + ROW * 3_000, b"x", "line_too_long"),
        (HEADER + ROW * 3_000, b"\0", "binary"),
        (b"x", b"x", "one_row"),
        (HEADER + ROW * 3_000, b"\n", ""),
        (HEADER + ROW * 3_000, b'"', "line_too_long"),
        (HEADER + ROW * 3_000, b"rubbish;rubbish\n", ""),
        (HEADER + ROW * 3_000, b";\n", ""),
        (b"Time;A C;B C;C C;D C\n", b"2026-01-30 23:50:00;1;1;1;1\n", ""),
        (b"Time [s];A C\n", b"9;1\n8;1\n", None),
    ],
)
def test_fifty_megabytes_of_anything_in_bounded_memory(
    head: bytes, again: bytes, code: str | None
) -> None:
    file = Endless(head, again, 50_000_000)
    tracemalloc.start()
    try:
        read_log(file)  # type: ignore[arg-type]
        said = ""
    except Unfit as error:
        said = error.code
    finally:
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert code is None or said == code
    # Twice the readings (while they are joined) and a chunk's columns.
    assert most < 400 * 1024 * 1024


def test_a_bigger_file_than_any_log_is_refused() -> None:
    with pytest.raises(Unfit, match="too_big"):
        read_log(Endless(HEADER, ROW, 70_000_000))  # type: ignore[arg-type]


def test_more_readings_than_are_held_are_refused() -> None:
    probes = tuple(Probe(0, f"T{i}", "C") for i in range(16))
    layout = Layout("utf-8", ";", ".", 0, "every", (), "ymd", 1_000, probes)
    with pytest.raises(Unfit, match="too_many_readings"):
        read_log(Endless(b"", b"9\n", 2_000_000), layout)  # type: ignore[arg-type]


def million() -> bytes:
    """A million rows of three probes with decimal commas, ten a second, 48 MB."""
    temps = np.minimum(121.1, 20 + np.arange(1_000_000) / 8_000)
    days = [f"{START + timedelta(seconds=i):%d.%m.%Y;%H:%M:%S}" for i in range(100_000)]
    return (
        b"Date;Time;Core 1 \xc2\xb0C;Core 2 \xc2\xb0C;Top \xc2\xb0C;RH %\r\n"
        + "".join(
            f"{days[i // 10]}.{i % 10};{t:.2f};{t - 0.5:.2f};{t + 0.3:.2f};50.1\r\n"
            for i, t in enumerate(temps.tolist())
        )
        .replace(".", ",")
        .replace(",01,2026", ".01.2026")
        .replace(",02,2026", ".02.2026")
        .encode()
    )


def test_a_million_rows_are_answered() -> None:
    """How quickly is a figure of tests/bench/test_load_log.py: under 2 s is the aim."""
    log = read_log(million())
    one = tidy(log.ms, log.temps, log.probes)
    dead = lethality(one, 121.1)
    held = hold(one, 120.0)
    assert len(curve(one, 121.1, 10).ms) <= 1_000
    assert len(log.ms) == 1_000_000
    # Core 2 stays at 120.6 from row 808,800 on: 19,120 s; 120 is reached 4,800 rows before,
    # or a few more, as it is written with two digits.
    assert dead.coldest == 1
    assert held.held_ms == pytest.approx(19_120_000 + 480_000, abs=5_000)
    plateau = 19_120 / 60 * 10 ** ((120.6 - 121.1) / 10)
    assert plateau < (dead.f0 or 0) < plateau * 1.3


# --- Anything


cells = st.one_of(
    st.sampled_from(["121.1", "99,5", "-", "", "2026-01-30 23:50", "31.12.2026", "10:00:00", "NaN",
                     "1e5", '"', '"a,b"', "°C", "9" * 30, "12:61", "24:00:00", "0", "-40", "١٢"]),
    st.text(max_size=6),
)  # fmt: skip


@given(
    st.lists(st.lists(cells, min_size=1, max_size=5), min_size=1, max_size=14),
    st.sampled_from([",", ";", "\t", "|"]), st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from(["utf-8", "utf-16"]),
)  # fmt: skip
def test_any_table_gives_an_answer_or_a_named_refusal(
    rows: list[list[str]], delimiter: str, end: str, encoding: str
) -> None:
    data = end.join(delimiter.join(row) for row in rows).encode(encoding, "replace")
    try:
        log = read_log(data)
        one = tidy(log.ms, log.temps, log.probes)
    except Unfit:
        return
    assert len(log.ms) == len(log.temps)
    lethality(one, 121.1)
    hold(one, 121)
    curve(one, 121.1, 10)


@given(st.binary(max_size=3_000))
def test_any_bytes_give_an_answer_or_a_named_refusal(data: bytes) -> None:
    try:
        read_log(data)
    except Unfit:
        return


@given(st.integers(-400, 20_000), st.integers(0, 3), st.sampled_from([".", ","]))
def test_numbers_are_read_to_the_last_digit(value: int, places: int, decimal: str) -> None:
    text = f"{value / 10**places:.{places}f}".replace(".", decimal)
    rows = "".join(f"2026-01-30 23:{i:02d};{text};20{decimal}5\n" for i in range(10))
    layout = Layout("utf-8", ";", decimal, 0, "moment", (0,), "ymd", 1.0, (Probe(1, "p", "C"),))
    got = read_log(rows.encode(), layout).temps[0, 0]
    assert got == float(text.replace(",", "."))


@given(st.datetimes(datetime(1971, 1, 1), datetime(2199, 12, 31)))
def test_times_are_the_calendars(moment: datetime) -> None:
    moment = moment.replace(microsecond=0)
    rows = "".join(f"{moment + timedelta(seconds=i):%d.%m.%Y %H:%M:%S};1.0\n" for i in range(3))
    layout = Layout("utf-8", ";", ".", 0, "moment", (0,), "dmy", 1.0, (Probe(1, "p", "C"),))
    got = read_log(rows.encode(), layout).ms
    want = round((moment - datetime(1970, 1, 1)).total_seconds()) * 1000
    assert got.tolist() == [want, want + 1000, want + 2000]


def test_the_head_is_enough_to_guess() -> None:
    rows = table("Time;Core °C", "{t:%Y-%m-%d %H:%M:%S};{c:.1f}", n=9_000)
    assert len(rows) > HEAD
    assert guess(rows[:HEAD]).probes == guess(rows).probes
