"""The command line: what it says, and that a slip is a sentence and an exit code."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from bagtrail import demo, papers
from bagtrail.cli import main
from bagtrail.fold import FARM


@pytest.fixture
def run(server: Any) -> Any:
    demo.plant_once(server.log)
    server.log.close()

    def call(*words: str, stdin: bytes = b"") -> Any:
        return CliRunner().invoke(main, ["--data", str(server.folder), *words], input=stdin)

    return call


def test_help_lists_the_commands(run: Any) -> None:
    said = run("--help").output
    for name in ("serve", "pair", "refold", "catalogue", "labels", "find", "log", "docs"):
        assert f"\n  {name}" in said


def test_find_says_where_a_batch_lives(run: Any) -> None:
    done = run("find", "old", "oak")
    assert done.exit_code == 0
    assert "Old oak A1: 58 of 60 live" in done.output
    assert "Shelf F1" in done.output
    assert json.loads(run("find", "--json", "oak").output)["found"]
    nothing = run("find", "zeppelin")
    assert nothing.exit_code == 1
    assert "zeppelin" in nothing.output


def test_refold_says_equal(run: Any) -> None:
    done = run("refold")
    assert done.exit_code == 0
    assert "equal to the byte" in done.output


def test_refold_says_what_differs_and_fails(run: Any, server: Any) -> None:
    server.open()
    store = server.log.store
    with store.writing():
        unit, text = next(row for row in store.snapshot_rows() if row[0].startswith("M"))
        assert '"n":' in text
        store.put_snapshot([(unit, text.replace('"n":', '"n":1'))], 1)
    done = run("refold")
    assert done.exit_code == 1
    assert unit in done.output
    assert run("refold").exit_code == 0


def test_pair_gives_a_code_that_works(run: Any, server: Any) -> None:
    said = run("pair", "--role", "worker").output
    code = said.rpartition("#pair=")[2].strip()
    reply = server.http.post("/api/devices/pair", json={"code": code, "name": "x"})
    assert reply.json["role"] == "worker"


def test_log_lists_and_exports_the_exact_texts(run: Any, server: Any) -> None:
    texts = run("log", "--json", "--limit", "5").output.splitlines()
    with server.log.store.reading():
        assert texts == [row.text for row in server.log.store.after(0, 5)]
    assert "farm.named" in run("log", "--limit", "1").output
    assert run("log", "--after", "3", "--limit", "1").output.split()[0] == "4"


def test_labels_come_as_a_pdf(run: Any, tmp_path: Path, server: Any) -> None:
    from bagtrail.answers import find

    with server.log.live.now() as farm:
        bag = find.find(farm, "S24")["found"][0]["code"]
    out = tmp_path / "x.pdf"
    done = run("labels", bag, "--blank", "2", "--out", str(out))
    assert done.exit_code == 0, done.output
    assert out.read_bytes().startswith(b"%PDF")
    assert "3 labels" in done.output


def test_label_of_a_bag_says_batch_number_strain_and_day(run: Any, server: Any) -> None:
    from bagtrail.answers import find, label

    with server.log.live.now() as farm:
        oak = find.find(farm, "old oak")["found"][0]["code"]
        bag = next(c for c, p in sorted(farm.unit(oak)["parts"].items()) if p.get("num") == "7")
        said = label.label_of(farm, bag)
        birth = farm.index.lines[farm.part(bag)["id"]]
        assert said == {
            "code": bag, "batch": "Old oak A1", "number": "7", "what": "Fen 4",
            "day": label.short_day(farm, birth["t"]),
        }  # fmt: skip
        assert label.short_day(farm, 1_749_682_800_000) == "12 Jun"  # 11 Jun 23:00 UTC, London


@pytest.mark.parametrize(
    "words",
    [
        ("labels",), ("labels", "B123"), ("labels", "B0000001K", "--stock", "papyrus"),
        ("labels", "--blank", "1", "--out", "/nonexistent/x.pdf"), ("pair", "--person", "W1"),
        ("serve", "--port", "0"), ("serve", "--port", "x"), ("find",  "B0000001X"),
        ("docs", "--out", "/nonexistent/DEVELOPERS.md"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_slip_is_a_sentence_and_an_exit_code(run: Any, words: tuple[str, ...]) -> None:
    done = run(*words)
    assert done.exit_code == 1
    assert done.output.startswith("Error: ")
    assert done.exception is None or isinstance(done.exception, SystemExit)
    assert "Traceback" not in done.output


def test_wrong_use_is_told_by_click(run: Any) -> None:
    assert run("refolt").exit_code == 2
    assert run("pair", "--role", "king").exit_code == 2


def test_database_of_unknown_kind_is_told(run: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BAGTRAIL_DATABASE", "oracle://x")
    done = run("refold")
    assert done.exit_code == 1
    assert "BAGTRAIL_DATABASE" in done.output


def test_catalogue_is_written_and_checked(run: Any, tmp_path: Path) -> None:
    out = tmp_path / "catalogue.json"
    assert run("catalogue", "--check", "--out", str(out)).exit_code == 1
    assert not out.exists()
    assert run("catalogue", "--out", str(out)).exit_code == 0
    assert run("catalogue", "--check", "--out", str(out)).exit_code == 0
    assert json.loads(out.read_text())["kinds"]["bag.moved"]["fields"]


def test_catalogue_of_the_client_is_up_to_date(run: Any) -> None:
    done = run("catalogue", "--check")
    assert done.exit_code == 0, done.output


def test_tables_of_the_papers_are_up_to_date(run: Any) -> None:
    done = run("docs", "--check")
    assert done.exit_code == 0, done.output


def test_tables_name_every_kind_code_setting_and_command() -> None:
    from bagtrail import errors
    from bagtrail.catalogue import KINDS
    from bagtrail.settings import SETTINGS

    empty = "".join(f"<!-- begin {n} -->\nstale words\n<!-- end {n} -->\n" for n in papers.TABLES)
    text = papers.with_tables(empty)
    assert "stale words" not in text
    names = [*KINDS, *errors.codes(), *(s.name for s in SETTINGS), *main.commands]
    assert all(name in text for name in names)
    assert papers.with_tables(text) == text


def test_backup_verify_restore_and_status_say_what_happened(
    run: Any, server: Any, tmp_path: Path
) -> None:
    done = run("backup", "--to", str(tmp_path / "to"))
    assert done.exit_code == 0, done.output
    assert "verified" in done.output
    path = next((tmp_path / "to").glob("*.zip"))
    listed = run("backup", "--list").output
    assert path.name in listed
    assert "does not count" in listed or "counts" in listed
    assert run("backup", "--away", path.name).exit_code == 0
    assert f"{path.name}" in run("backup", "--list").output
    sound = run("verify", str(path))
    assert sound.exit_code == 0
    assert "sound" in sound.output
    assert run("verify", "--alone", str(path)).exit_code == 0
    restored = run("restore", "--yes", str(path))
    assert restored.exit_code == 0, restored.output
    assert "bring back" in restored.output
    assert "The server was put back to" in run("status").output
    assert json.loads(run("status", "--json").output)["put_back"]["why"] == "restored"
    server.open()


def test_verify_of_no_backup_is_a_sentence(run: Any, tmp_path: Path) -> None:
    (tmp_path / "x.zip").write_bytes(b"nothing")
    for words in (("verify", "x.zip"), ("restore", "--yes", "x.zip"), ("recover", "x.zip")):
        done = run(*words[:-1], str(tmp_path / words[-1]))
        assert done.exit_code == 1
        assert "not a backup" in done.output
        assert "Traceback" not in done.output


def test_sheet_shows_the_same_key_each_time(run: Any, tmp_path: Path, server: Any) -> None:
    from bagtrail import recovery

    first = run("sheet", "--out", str(tmp_path / "a.pdf")).output
    assert run("sheet").output.splitlines()[:3] == first.splitlines()[:3]
    groups = recovery.groups_of(recovery.load_key(server.folder)[0])
    assert " ".join(groups[:4]) in first
    assert (tmp_path / "a.pdf").read_bytes().startswith(b"%PDF")


def test_devices_are_listed_revoked_and_confirmed(run: Any, server: Any) -> None:
    server.open()
    phone = server.pair("worker", "Shed phone")
    server.log.close()
    listed = run("devices")
    assert listed.exit_code == 0
    assert "Shed phone: 0 waiting at " in listed.output
    assert "0 devices confirmed" in run("devices", "--confirm").output
    assert "revoked" in run("devices", "--revoke", phone.dev, "--why", "lost").output
    assert run("devices", "--revoke", "d0").exit_code == 1
    server.open()


def printed_records(server: Any) -> list[dict[str, Any]]:
    """What the log says of prints, in its order."""
    server.open()
    with server.log.store.reading():
        rows = server.log.store.after(0, 10_000)
    records = [json.loads(row.text) for row in rows]
    return [record for record in records if record["ty"] == "label.printed"]


def test_a_print_is_a_record_and_a_reprint_another(run: Any, tmp_path: Path, server: Any) -> None:
    from bagtrail.answers import find

    with server.log.live.now() as farm:
        bag = find.find(farm, "S24")["found"][0]["code"]
    before = len(printed_records(server))
    out = str(tmp_path / "x.pdf")
    assert run("labels", bag, "--blank", "2", "--stock", "roll-50x30", "--out", out).exit_code == 0
    assert run("labels", bag, "--out", out).exit_code == 0
    made = printed_records(server)[before:]
    assert [(r["sub"], r["d"]["job"], r["d"]["n"]) for r in made] == [
        ([bag], "first", 1), ([], "blank", 2), ([bag], "again", 1),
    ]  # fmt: skip
    assert made[0]["d"]["stock"] == "roll-50x30"
    assert len(set(made[1]["d"]["codes"])) == 2


def test_codes_come_from_a_file_or_stdin_as_lines_or_csv(run: Any, tmp_path: Path) -> None:
    import pypdfium2

    lines = tmp_path / "codes.txt"
    lines.write_text("B0000001K\n\nb000-0002h\n", encoding="utf-8")
    out = tmp_path / "x.pdf"
    done = run("labels", "--from", str(lines), "--stock", "roll-50x30", "--out", str(out))
    assert done.exit_code == 0, done.output
    assert "2 labels" in done.output
    table = "code;batch;number\nB0000001K;Straw, second;A7\n".encode("utf-8-sig")
    done = run("labels", "--from", "-", "--stock", "roll-50x30", "--out", str(out), stdin=table)
    assert done.exit_code == 0, done.output
    (page,) = pypdfium2.PdfDocument(out.read_bytes())
    words = page.get_textpage().get_text_range()
    assert "Straw, second" in words
    assert "A7" in words
    layout = ("--layout", "B=number huge bold")
    done = run("labels", "--from", "-", *layout, "--out", str(out), stdin=table)
    assert done.exit_code == 0, done.output
    (page,) = pypdfium2.PdfDocument(out.read_bytes())
    assert "Straw" not in page.get_textpage().get_text_range()


@pytest.mark.parametrize(
    ("table", "says"),
    [
        (b"code,moon\nB0000001K,x\n", "moon"),
        (b"code,batch\nB0000001K,Straw, second\n", "Line 2"),
        (b"code,batch\n,x\n", "Line 2"),
        (b"code\n\xff\xfe\n", "UTF-8"),
        (b"B0000001X\n", "no code"),
        (b"code,number\nB0000001K,A" + b"1" * 40 + b"\n", "too long"),
        (b"", "nothing to print"),
    ],
)
def test_a_list_that_cannot_be_used_is_told(
    run: Any, tmp_path: Path, table: bytes, says: str
) -> None:
    done = run("labels", "--from", "-", "--out", str(tmp_path / "x.pdf"), stdin=table)
    assert done.exit_code == 1
    assert says in done.output
    assert not (tmp_path / "x.pdf").exists()


def test_pictures_calibration_sheet_and_stocks(run: Any, tmp_path: Path, server: Any) -> None:
    from PIL import Image

    from bagtrail.answers import find

    out = tmp_path / "x.pdf"
    done = run("labels", "--blank", "2", "--stock", "roll-50x30", "--dpi", "300", "--png",
               "--out", str(out))  # fmt: skip
    assert done.exit_code == 0, done.output
    pictures = sorted(tmp_path.glob("x-*.png"))
    assert [p.name for p in pictures] == ["x-001.png", "x-002.png"]
    with Image.open(pictures[0]) as picture:
        assert picture.mode == "1"
        assert picture.size == (590, 354)  # 50 x 30 mm of 300 dots an inch
    assert run("labels", "--calibrate", "--nudge-x", "1", "--out", str(out)).exit_code == 0
    assert out.read_bytes().startswith(b"%PDF")
    too_far = run("labels", "--calibrate", "--nudge-x", "-40", "--out", str(out))
    assert too_far.exit_code == 1
    assert "off the page" in too_far.output
    with server.log.live.now() as farm:
        oak = find.find(farm, "old oak")["found"][0]["code"]
    assert run("labels", "--sheet", oak, "--out", str(out)).exit_code == 0
    listed = run("labels", "--stocks")
    assert "roll-50x30" in listed.output
    assert "24 a page" in listed.output


def ink(pdf: bytes) -> tuple[float, float]:
    """The first dark point of the first page from the left and from the top, mm."""
    import numpy as np
    import pypdfium2

    page = pypdfium2.PdfDocument(pdf)[0].render(scale=10 * 25.4 / 72, grayscale=True).to_numpy()
    dark = np.argwhere(page.squeeze() < 128)
    return dark[:, 1].min() / 10, dark[:, 0].min() / 10


def test_nudge_start_and_resolution_move_what_is_printed(run: Any, tmp_path: Path) -> None:
    out = tmp_path / "x.pdf"
    bag = ("labels", "B0000001K", "--stock", "a4-24", "--out", str(out))

    def printed(*more: str) -> tuple[float, float]:
        done = run(*bag, *more)
        assert done.exit_code == 0, done.output
        return ink(out.read_bytes())

    x, y = printed()
    right, down = printed("--nudge-x", "1.5", "--nudge-y", "2")
    assert right - x == pytest.approx(1.5, abs=0.2)
    assert down - y == pytest.approx(2, abs=0.2)
    # Labels of 70 x 37 mm, three a row: the fifth lies one to the right and one down.
    across, below = printed("--start", "4")
    assert across - x == pytest.approx(70, abs=0.2)
    assert below - y == pytest.approx(37, abs=0.2)
    off = run(*bag, "--nudge-y", "-60")
    assert off.exit_code == 1
    assert "off the page" in off.output


def test_blank_labels_are_of_the_type_asked_for(run: Any, tmp_path: Path, server: Any) -> None:
    out = tmp_path / "x.pdf"
    blank = ("labels", "--blank", "3", "--stock", "roll-50x30", "--out", str(out))
    before = len(printed_records(server))
    assert run(*blank, "--type", "G").exit_code == 0
    assert run(*blank).exit_code == 0
    made = printed_records(server)[before:]
    assert [[c[0] for c in r["d"]["codes"]] for r in made] == [["G"] * 3, ["B"] * 3]


def test_dates_and_words_follow_the_language_asked_for(
    run: Any, tmp_path: Path, server: Any
) -> None:
    """A day is "12 Jun" in English and "12 ago" in Spanish, with their words for types.

    Where there are no words, the month is in Roman figures, and signs say types.
    """
    import pypdfium2

    from bagtrail.answers import find

    with server.log.live.now() as farm:
        bag = find.find(farm, "S24")["found"][0]["code"]
        shelf = next(iter(farm.unit(FARM)["ref"]["places"]))
    out = tmp_path / "x.pdf"
    said = {}
    for language in ("en", "es", "fr"):
        done = run("labels", bag, shelf, "--stock", "roll-50x30", "--language", language,
                   "--out", str(out))  # fmt: skip
        assert done.exit_code == 0, done.output
        pages = pypdfium2.PdfDocument(out.read_bytes())
        said[language] = " ".join(page.get_textpage().get_text_range() for page in pages)
    month = r"[0-9]{1,2} (?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)"
    assert re.search(month, said["en"])
    assert not re.search(month, said["es"] + said["fr"])
    assert re.search(r"[0-9]{1,2} (?:ene|feb|mar|abr|may|jun|jul|ago|sept|oct|nov|dic)", said["es"])
    assert re.search("Sala|Estantería|Estante|Carro|Cámara fría", said["es"])
    assert re.search(r"[0-9]{1,2} [IVX]+", said["fr"])
    # The place's own name stays; the word for its type goes.
    words = {tag: len(re.findall(r"Room|Rack|Shelf|Trolley|Cold store", said[tag])) for tag in said}
    assert words["en"] == words["es"] + 1 == words["fr"] + 1
