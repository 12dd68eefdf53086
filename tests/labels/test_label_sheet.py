"""Pages that are no labels (batch sheet), pictures of pages, and advice on stock."""

from __future__ import annotations

import io
import re
import sys

import numpy as np
import pytest
from PIL import Image

from bagtrail_labels import STOCKS, Label, LabelError, render
from bagtrail_labels import advice as told
from bagtrail_labels.picture import pictures
from bagtrail_labels.sheet import batch_sheet

from .raster import codes, pdfium, read
from .test_label_words import words_of

TAG = "7K3Q"
BATCH = Label("M7K2M4QX9", title="25 Nov A2")
FACTS = [("Recipe", "Oak with 20 % bran of dry mix"), ("Moisture", "62 % wet basis")]


def bags(count: int) -> list[Label]:
    return [Label(code, number=f"A{n + 1}") for n, code in enumerate(codes(count, seed=91))]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("count", [0, 1, 12, 13, 130, 400])
def test_every_code_of_a_batch_sheet_is_read(paper, count):
    labels = bags(count)
    pdf = batch_sheet(BATCH, labels, TAG, FACTS, paper=paper)
    pages = pdfium(pdf, 300)
    # The batch's own code alone, as it is scanned: among a hundred others readers miss one.
    assert read(pages[0][:700, :700], row=10_000)[0] == f"{TAG}.{BATCH.code}"
    found = {
        text
        for page in pages
        for top in range(0, len(page), 500)
        for text in read(page[top : top + 800], row=10_000)
    }
    assert found - {f"{TAG}.{BATCH.code}"} == {f"{TAG}.{label.code}" for label in labels}
    said = words_of(pdf)
    for text in ("25 Nov A2", "Recipe", "Oak with 20 % bran", "M7K2 M4QX9"):
        assert text in said
    for label in labels:
        assert f"{label.code[:4]} {label.code[4:]}" in said


def test_sixty_bags_stand_on_one_page():
    assert len(pdfium(batch_sheet(BATCH, bags(60), TAG, FACTS))) == 1


def test_ink_keeps_clear_of_the_edge():
    facts = [(f"Fact {n} " + "name " * 9, "value " * 40) for n in range(14)]
    long = Label("M7K2M4QX9", title="A very long name of a batch " * 4)
    for paper in ("a4", "letter"):
        for page in pdfium(batch_sheet(long, bags(200), TAG, facts, paper=paper)):
            dark = page < 128
            edge = 8 * 8
            assert not dark[:edge].any()
            assert not dark[-edge:].any()
            assert not dark[:, :edge].any()
            assert not dark[:, -edge:].any()


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"paper": "a5"}, "sheet_paper"),
        ({"facts": [("a", "b")] * 15}, "sheet_facts"),
        ({"bags": [Label("B7K2M4QX9")] * 20_001}, "label_many"),
        ({"bags": [Label("wrong")]}, "label_code"),
        ({"bags": [Label("B7K2M4QX9", number="1" * 40)]}, "label_long"),
        ({"bags": [Label("B7K2M4QX9", number="\0")]}, "label_text"),
        ({"facts": [("a", None)]}, "label_text"),
        ({"farm_tag": "no"}, "label_farm"),
        ({"dpi": 3}, "stock_wrong"),
    ],
)
def test_a_wrong_sheet_is_refused(change, code):
    given = {"batch": BATCH, "bags": bags(1), "farm_tag": TAG, "facts": FACTS} | change
    with pytest.raises(LabelError) as caught:
        batch_sheet(**given)
    assert caught.value.code == code
    assert caught.value.todo


# --- Pictures -------------------------------------------------------------------------------------


@pytest.mark.parametrize("dpi", [203.2, 300])
def test_a_picture_is_what_the_head_burns(dpi):
    stock = STOCKS["roll-50x30"].on(dpi=dpi)
    labels = [Label(code, "25 Nov A2", "A1") for code in codes(2, seed=92)]
    made = list(pictures(render(labels, stock, TAG), stock.dpi))
    assert len(made) == 2
    for png, label in zip(made, labels, strict=True):
        image = Image.open(io.BytesIO(png))
        assert (image.format, image.mode) == ("PNG", "1")
        assert image.info["dpi"] == pytest.approx((dpi, dpi), abs=0.1)
        assert image.size == pytest.approx((50 / 25.4 * dpi, 30 / 25.4 * dpi), abs=1)
        assert read(np.array(image.convert("L"))) == [f"{TAG}.{label.code}"]


def test_a_preview_is_grey():
    (png,) = pictures(render([BATCH], STOCKS["roll-50x30"], TAG), 150, black_and_white=False)
    assert len(set(np.array(Image.open(io.BytesIO(png))).ravel())) > 10


def test_a_picture_too_large_or_without_its_package_is_an_error(monkeypatch):
    pdf = render([BATCH], STOCKS["a4-24"], TAG)
    with pytest.raises(LabelError, match="too large"):
        list(pictures(pdf, 2400))
    monkeypatch.setitem(sys.modules, "pypdfium2", None)
    with pytest.raises(LabelError, match="pypdfium2") as caught:
        list(pictures(pdf))
    assert caught.value.code == "label_picture"


# --- Advice ---------------------------------------------------------------------------------------


def test_direct_thermal_goes_on_after_cooling_and_resin_on_polyester_survives():
    for material in ("paper", "polypropylene"):
        found = told.advice("direct_thermal", material)
        assert (found.steam, found.apply_after_cooling) == (told.FAILS, True)
        assert "advice.thermal_blackens" in found.sentences
    assert told.advice("thermal_resin", "polyester").steam == told.SURVIVES
    assert told.advice("thermal_resin", "polypropylene").steam == told.BORDERLINE


def test_every_row_is_graded_and_known():
    pairs = [(row.method, row.material) for row in told.TABLE]
    assert len(set(pairs)) == len(pairs)
    for row in told.TABLE:
        assert row.method in told.METHODS
        assert row.material in told.MATERIALS
        assert row.grade in ("P", "M", "CP")
        assert row.sentences
        # What fails must say when the label goes on instead; what may not, that it be tested.
        rule = "advice.after_cooling" if row.steam == told.FAILS else "advice.test_first"
        assert rule in row.sentences or row.method == "marker"


def test_a_stock_that_nobody_tested_must_be_tested():
    found = told.advice("laser", "bag_film")
    assert (found.steam, found.grade) == (told.BORDERLINE, "CP")
    assert "advice.test_first" in found.sentences


def test_limits_are_in_order_of_heat():
    assert told.PAPER_LIMIT < told.THERMAL_DARKENS[0] < told.THERMAL_DARKENS[1] < 121
    assert told.POLYPROPYLENE_LIMIT < 121 <= told.AUTOCLAVE_RATED[0] < told.POLYESTER_LIMIT[0]


def test_sentences_are_message_ids():
    ids = told.sentence_ids()
    assert set(told.ALWAYS) | set(told.SURVIVAL_TEST) <= ids
    assert all(re.fullmatch(r"advice\.[a-z_]+", word) for word in ids)
