"""The command card and the day sheet, read back by readers that share nothing with the writer."""

from __future__ import annotations

import numpy as np
import pytest

from bagtrail_labels import LabelError, command_card, day_sheet

from .raster import HEAD, pdfium, poppler, read
from .test_label_words import words_of

TAG = "7K3Q"
SIZES = {"Round": 6, "Figures": 11, "What for": 18, "Sign": 13, "End": 5, "Grade": 3}
COLUMNS = [("Time", 1.1), ("What", 1.7), ("Label or batch", 2.4), ("How many", 1.0),
           ("Shelf or spawn lot", 2.1), ("Grams", 1.0), ("Sign, how, why", 2.6)]  # fmt: skip


def groups() -> list[tuple[str, list[tuple[str, str]]]]:
    made, n = [], 0
    for name, count in SIZES.items():
        # The last symbol is not recomputed by this package: any will do.
        made.append((name, [(f"X{n + i:07d}K", f"{name} word {i}") for i in range(count)]))
        n += 100
    return made


def payloads() -> list[str]:
    return [f"{TAG}.{code}" for _name, tags in groups() for code, _word in tags]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_each_command_is_read_once_as_the_head_burns_it(paper, tmp_path):
    pdf = command_card("Fen farm: command card", groups(), TAG, about="Scan.", paper=paper)
    for drawn in (pdfium(pdf, HEAD), poppler(pdf, tmp_path, mono=True)):
        found = [text for page in drawn for text in read(page, row=40)]
        assert sorted(found) == sorted(payloads())
    said = words_of(pdf)
    for text in ("Fen farm: command card", "Scan.", *SIZES):
        assert text in said
    for _name, tags in groups():
        for code, word in tags:
            assert f"{code[:4]} {code[4:]}" in said
            assert word in said


def test_a_beam_as_wide_as_a_code_meets_only_one():
    # A hand scanner held over one command sees about a code's width around its middle.
    (page, *_rest) = pdfium(command_card("Card", groups(), TAG), 203.2)
    import zxingcpp

    codes = zxingcpp.read_barcodes(page, zxingcpp.BarcodeFormat.QRCode)
    assert len(codes) > 20
    for code in codes:
        at = code.position
        x, y = (at.top_left.x + at.bottom_right.x) // 2, (at.top_left.y + at.bottom_right.y) // 2
        half = round(0.75 * (at.top_right.x - at.top_left.x))
        seen = page[max(0, y - half) : y + half, max(0, x - half) : x + half]
        assert read(np.ascontiguousarray(seen)) == [code.text]


def test_ink_keeps_clear_of_the_edge_and_of_other_words():
    long = [(f"Heading {n} " + "name " * 9, [(f"X{n:07d}K", "a very long word " * 6)] * 3)
            for n in range(8)]  # fmt: skip
    wide = [("Sehr langes Wort " * 4, share) for _name, share in COLUMNS]
    papers = [
        command_card("Title " * 30, long, TAG, about="words " * 90),
        day_sheet("Title " * 30, wide, date="Day " * 9, by="Who " * 9, about="words " * 90,
                  acts="act, " * 120),
    ]  # fmt: skip
    for pdf in papers:
        for page in pdfium(pdf, HEAD):
            dark, edge = page < 128, 8 * 8
            for side in (dark[:edge], dark[-edge:], dark[:, :edge], dark[:, -edge:]):
                assert not side.any()
    found = [text for page in pdfium(papers[0], HEAD) for text in read(page)]
    assert len(found) == 24


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_day_sheet_is_one_page_with_twelve_rows_and_more(paper):
    pdf = day_sheet("Fen farm: day sheet", COLUMNS, date="Day", by="Who", paper=paper,
                    about="Write the nine symbols.", acts="What: moved · picked")  # fmt: skip
    (page,) = pdfium(pdf, HEAD)
    assert page.shape[1] > page.shape[0]
    said = words_of(pdf)
    for text in ("Fen farm: day sheet", "Day", "Who", "moved", *(name for name, _s in COLUMNS)):
        assert text in said
    # Lines right across: the frame, the head, and one beneath each row.
    across = (page < 200).mean(axis=1) > 0.85
    lines = np.flatnonzero(across & ~np.roll(across, 1))
    assert len(lines) >= 14
    assert np.diff(lines)[1:] == pytest.approx(8 * 8, abs=1)  # 8 mm high


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"paper": "a5"}, "sheet_paper"),
        ({"groups": []}, "card_none"),
        ({"groups": [("a", [])]}, "card_none"),
        ({"groups": [("a", [("X0000001K", "b")] * 401)]}, "card_many"),
        ({"groups": [("a", [("B0000001K", "b")])]}, "card_type"),
        ({"groups": [("a", [("X1", "b")])]}, "label_code"),
        ({"groups": [("a\0", [("X0000001K", "b")])]}, "label_text"),
        ({"farm_tag": "no"}, "label_farm"),
        ({"language": "no language"}, "label_language"),
    ],
)
def test_a_wrong_card_is_refused(change, code):
    with pytest.raises(LabelError) as caught:
        command_card(**({"title": "Card", "groups": groups(), "farm_tag": TAG} | change))
    assert caught.value.code == code
    assert caught.value.todo


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"paper": "a5"}, "sheet_paper"),
        ({"columns": []}, "sheet_columns"),
        ({"columns": [("a", 1.0)] * 11}, "sheet_columns"),
        ({"columns": [("a", 0.0)]}, "sheet_columns"),
        ({"date": "\x1b"}, "label_text"),
        ({"language": "no language"}, "label_language"),
    ],
)
def test_a_wrong_day_sheet_is_refused(change, code):
    with pytest.raises(LabelError) as caught:
        day_sheet(**({"title": "Day", "columns": COLUMNS, "date": "Day", "by": "Who"} | change))
    assert caught.value.code == code
    assert caught.value.todo
