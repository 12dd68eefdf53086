"""Temperature logs of loads: in by pieces, guessed, corrected, scored, kept, in backups."""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import subprocess
import sys
import threading
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from bagtrail import backup, restore
from bagtrail.errors import BadBackup
from bagtrail.trade.csvlog import MOST_BYTES

LOGS = Path(__file__).parents[2] / "fixtures/logs"
ASKED = {"ref": 12_110, "z": 1_000, "limit": 12_100}
PIECE = 300 * 1024


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def send(phone: Any, data: bytes, name: str = "") -> Any:
    """Send a whole log by pieces; the last reply."""
    name = name or sha(data)
    reply = None
    for at in range(0, max(1, len(data)), PIECE):
        body = {
            "sha256": name, "bytes": len(data), "offset": at,
            "data": base64.b64encode(data[at : at + PIECE]).decode(),
        }  # fmt: skip
        reply = phone.server.http.post("/api/loads/log", json=body, headers=phone.headers)
        if reply.status_code != 200:
            break
    return reply


def score(phone: Any, data: bytes, **asked: Any) -> Any:
    assert send(phone, data).json["whole"]
    body = {"sha256": sha(data), **ASKED, **asked}
    return phone.server.http.post("/api/loads/log/score", json=body, headers=phone.headers)


def log_of(name: str) -> bytes:
    return (LOGS / f"{name}.csv").read_bytes()


def codes(answer: Any) -> list[str]:
    return [f["code"] for f in answer["score"]["findings"]]


def finding(answer: Any, code: str) -> Any:
    return next(f for f in answer["score"]["findings"] if f["code"] == code)


NAN = float("nan")


def by_small_steps(rows: list[tuple[float, float]], gaps: set[float]) -> float:
    """F0 at 121.1 and z 10 by 1 s steps over straight lines, gaps left out: another way to it."""
    total = 0.0
    for (t0, a), (t1, b) in zip(rows, rows[1:], strict=False):
        if t0 in gaps or a != a or b != b:
            continue
        steps = round((t1 - t0) * 60)
        for i in range(steps):
            total += 10 ** ((a + (b - a) * (i + 0.5) / steps - 121.1) / 10) / 60
    return total


def test_three_faults_are_named_and_never_bridged(phone: Any) -> None:
    data = log_of("three-faults")
    got = score(phone, data)
    assert got.status_code == 200, got.text
    answer = got.json
    assert [p["name"] for p in answer["layout"]["probes"]] == ["Top °C", "Core 1 °C", "Core 2 °C"]
    assert (answer["layout"]["delimiter"], answer["layout"]["decimal"]) == (";", ",")
    assert answer["names"][0] == "Datum/Uhrzeit"
    assert answer["rows"][0] == ["25.11.2026 06:00:00", "22,0", "21,0", "20,5"]
    assert {"time_conflict", "gap", "reading_unread", "reading_missing"} <= set(codes(answer))
    gap = finding(answer, "gap")["values"]
    assert (gap["ms"], gap["bridged"]) == (9 * 60_000, 0)
    assert finding(answer, "time_conflict")["values"]["times"] == 2
    assert finding(answer, "reading_unread")["about"] == "Core 2 °C"
    # The same by hand: the lower of two readings of one time, no line over the gap.
    rows: dict[float, float] = {}
    for row in list(csv.reader(io.StringIO(data.decode()), delimiter=";"))[2:]:
        at = (datetime.strptime(row[0], "%d.%m.%Y %H:%M:%S") - datetime(2026, 11, 25, 6)).seconds
        temp = NAN if row[3] == "---" else float(row[3].replace(",", "."))
        rows[at / 60] = min(temp, rows.get(at / 60, temp))
    want = by_small_steps(sorted(rows.items()), {100.0})
    found = answer["score"]
    assert found["coldest"] == 2
    assert found["f0"] / 100 == pytest.approx(want, abs=0.011)
    # The coldest probe arrives at minute 88, not when the steam was switched on.
    assert found["arrived_ms"] - found["from_ms"] == pytest.approx(88 * 60_000, abs=60_000)
    assert found["stretches"] == 2
    assert found["probes"][2]["uncounted_ms"] == (9 + 3) * 60_000
    assert not all(found["curve"]["joined"])
    bridged = score(phone, data, accept=[1]).json["score"]
    assert bridged["f0"] > found["f0"]
    assert bridged["stretches"] == 1


def test_fahrenheit_and_a_logger_that_restarted(phone: Any) -> None:
    answer = score(phone, log_of("fahrenheit-restarted")).json
    assert answer["layout"]["probes"][0]["unit"] == "F"
    assert {"clock_restarted", "runs_not_added", "one_probe"} <= set(codes(answer))
    assert answer["score"]["runs"] == 2
    assert answer["score"]["highest"] == 12_133  # 250.4 °F
    # Read as °C it would be a kiln: a person's word counts, and the doubt is said.
    layout = answer["layout"]
    layout["probes"][0]["unit"] = "C"
    wrong = score(phone, log_of("fahrenheit-restarted"), layout=layout).json
    assert {"unit_unlikely", "reading_range"} <= set(codes(wrong))


def test_atmospheric_steaming_is_called_what_it_is(phone: Any) -> None:
    answer = score(phone, log_of("steamed-twelve-hours"), limit=9_500).json
    assert "atmospheric" in codes(answer)
    assert {"time_stray", "gap"} <= set(codes(answer))
    assert 200 < answer["score"]["f0"] < 700


def test_columns_chosen_by_hand_where_none_were_found(phone: Any) -> None:
    data = log_of("no-times")
    refused = score(phone, data)
    assert refused.status_code == 422
    details = refused.json["error"]["details"]
    assert details["unfit"] == "no_time"
    assert details["rows"][0] == ["21.0", "22.0"]
    layout = details["layout"] | {
        "kind": "every", "unit_ms": 120_000,
        "probes": [{"column": 0, "name": "Core", "unit": "C"}],
    }  # fmt: skip
    answer = score(phone, data, layout=layout).json
    assert answer["score"]["to_ms"] - answer["score"]["from_ms"] == 190 * 60_000
    assert answer["score"]["f0"] > 3_000
    layout["kind"] = "clock"
    assert score(phone, data, layout=layout).json["error"]["details"]["unfit"] == "no_time"


@pytest.mark.parametrize(
    ("data", "unfit"),
    [
        (b"\0\1\2\3" * 500, "binary"),
        (b"PK\x03\x04" + b"x" * 500, "spreadsheet"),
        (b"   \n \n", "empty"),
        (b"Time;Core\n2026-01-01 10:00;20\n", "one_row"),
        (b"one line and nothing else", "one_row"),
        (b"x" * 100_000, "one_row"),
        (b"Time;Core C\n" + b"2026-01-01 10:00;20\n2026-01-01 10:01;21\n" * 900 + b"y" * 99_999,
         "line_too_long"),
    ],
    ids=["binary", "spreadsheet", "blank", "one row", "one line", "one long line", "late line"],
)  # fmt: skip
def test_what_is_no_log_is_refused_with_the_reason(phone: Any, data: bytes, unfit: str) -> None:
    reply = score(phone, data)
    assert reply.status_code == 422
    error = reply.json["error"]
    assert (error["code"], error["details"]["unfit"]) == ("bad_log", unfit)
    assert error["todo"]


def test_it_comes_by_pieces_and_is_what_its_name_says(server: Any, phone: Any) -> None:
    data = log_of("three-faults")
    first = {
        "sha256": sha(data), "bytes": len(data), "offset": 0,
        "data": base64.b64encode(data[:100]).decode(),
    }  # fmt: skip
    assert server.http.post("/api/loads/log", json=first, headers=phone.headers).json["have"] == 100
    early = server.http.post(
        "/api/loads/log/score", json={"sha256": sha(data), **ASKED}, headers=phone.headers
    )
    assert early.status_code == 404
    bad = send(phone, data, name="a" * 64)
    assert (bad.status_code, bad.json["error"]["code"]) == (422, "bad_log")
    odd = server.http.post("/api/loads/log", json=first | {"data": "%%"}, headers=phone.headers)
    assert odd.status_code == 422
    big = server.http.post(
        "/api/loads/log", json=first | {"bytes": MOST_BYTES + 1}, headers=phone.headers
    )
    assert big.status_code == 422


def test_the_file_is_given_back_as_it_came(server: Any, phone: Any) -> None:
    data = log_of("three-faults")
    send(phone, data)
    got = server.http.get(f"/api/loads/log/{sha(data)}", headers=phone.headers)
    assert got.data == data
    got.close()
    assert "attachment" in got.headers["Content-Disposition"]
    lost = server.http.get(f"/api/loads/log/{'0' * 64}", headers=phone.headers)
    assert lost.status_code == 404


def test_it_lies_in_backups_and_comes_back(server: Any, phone: Any, tmp_path: Path) -> None:
    data = log_of("three-faults")
    send(phone, data)
    here = server.folder / "logs" / sha(data)
    made = backup.make(server.log, server.folder, tmp_path / "to", 1_764_072_000_000)
    path = tmp_path / "to" / made["name"]
    assert backup.read_manifest(path)["logs"] == {sha(data): len(data)}
    here.unlink()
    restore.restore(server.log, server.folder, path, 1_764_073_000_000)
    assert here.read_bytes() == data
    (tmp_path / "to" / "logs" / sha(data)).unlink()
    with pytest.raises(BadBackup, match="temperature logs"):
        backup.verify(path, server.log)


BIG = """
import hashlib, resource, sys
from pathlib import Path
from bagtrail.loadlogs import LoadLogs
from bagtrail.trade import score
logs = LoadLogs(Path(sys.argv[1]))
asked = {"sha256": sys.argv[2], "layout": None, "ref": 12110, "z": 1000, "limit": 12000,
         "longest_ms": None, "accept": [], "fill": False}
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try:
    logs.answer(asked)
    said = "answered"
except Exception as error:
    said = type(error).__name__ + ":" + str(error.details["unfit"])
print(said, (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="ru_maxrss is in kB on Linux only")
@pytest.mark.parametrize("kind", ["a million rows", "fifty megabytes of one text"])
def test_a_big_log_in_bounded_memory(tmp_path: Path, kind: str) -> None:
    """Counted by the system for a process of its own: under 400 MiB above the bare interpreter."""
    if kind == "a million rows":
        row = "".join(
            f"25.11.2026 {h:02d}:{m:02d}:{s:02d};{20 + (h * 60 + m) / 9:.2f};9\n".replace(".", ",")
            .replace(",11,2026", ".11.2026")
            for h in range(24) for m in range(60) for s in range(60)
        )  # fmt: skip
        data = (
            b"Zeit;Kern 1 \xc2\xb0C;Kern 2 \xc2\xb0C\n"
            + "".join(row.replace("25.11.", f"{day:02d}.11.") for day in range(10, 22)).encode()
        )
        assert data.count(b"\n") > 1_000_000
        want = "answered"
    else:
        data, want = b"no log at all. " * 3_400_000, "BadLog:one_row"
    (tmp_path / sha(data)).write_bytes(data)
    done = subprocess.run(
        [sys.executable, "-c", BIG, str(tmp_path), sha(data)],
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    said, most = done.stdout.split()
    assert said == want, done.stderr
    assert int(most) < 400


def test_one_log_at_a_time(server: Any, phone: Any) -> None:
    """Memory is for one log, however many phones ask at once."""
    data = log_of("three-faults")
    send(phone, data)
    logs = server.app.extensions["bagtrail.logs"]
    asked: dict[str, Any] = {
        "sha256": sha(data),
        "layout": None,
        "longest_ms": None,
        "accept": [],
        "fill": False,
    }
    got: list[Any] = []
    second = threading.Thread(target=lambda: got.append(logs.answer({**asked, **ASKED})))
    with logs._scoring:
        second.start()
        second.join(0.5)
        assert not got
    second.join(20)
    assert got[0]["k"] == "load1"
