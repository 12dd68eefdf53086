"""Stock as data: its table, own sizes, printers, nudges, and what is no paper."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from bagtrail_labels import STOCKS, Label, LabelError, Stock, render, stock_from, stock_named
from bagtrail_labels.calibrate import calibration
from bagtrail_labels.plan import plan
from bagtrail_labels.qr import MODULES, QUIET, matrix
from bagtrail_labels.stock import DPI, roll

from .raster import attempt, codes, pdfium, read, symbol

TAG = "7K3Q"
A4, ROLL = STOCKS["a4-24"], STOCKS["roll-50x30"]


def test_the_table_has_what_the_trade_uses():
    assert {"roll-50x30", "roll-60x30", "roll-40x30", "roll-25x25"} <= STOCKS.keys()
    sizes = {(s.page_width, s.page_height) for s in STOCKS.values() if not s.is_roll}
    assert sizes == {(210, 297), (215.9, 279.4)}
    assert all(re.fullmatch(r"(a4|letter)-\d+|roll-\d+x\d+", name) for name in STOCKS)
    assert all(int(name.split("-")[1]) == s.cells for name, s in STOCKS.items() if not s.is_roll)


@pytest.mark.parametrize("dpi", [203, 300, 600])
@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda s: s.name)
def test_every_stock_and_printer_prints_whole_dots_and_reads_back(stock, dpi):
    count = min(stock.cells, 4)
    labels = [Label(code, "25 Nov A2", "A12") for code in codes(count, seed=81)]
    at = stock.on(dpi=dpi)
    place = plan(at)
    assert place.module >= 0.5
    # 203.2 dpi in whole dots a mm; A4 at 600 dpi in one rasteriser is enough.
    (page,) = pdfium(render(labels, at, TAG), at.dpi)[:1]
    for cell, label in enumerate(labels if not stock.is_roll else labels[:1]):
        x, y = stock.origin(cell)
        corner = (round((x + place.code_x) / at.dot), round((y + place.code_y) / at.dot))
        dark = symbol(page, *corner, place.dots)
        expected = np.pad(np.array(matrix(f"{TAG}.{label.code}")), QUIET)
        assert np.array_equal(dark, np.kron(expected, np.ones((place.dots,) * 2, bool)))
        assert dark.shape == ((MODULES + 8) * place.dots,) * 2


def test_rolls_of_any_size_are_named_by_it():
    assert stock_named("roll-70x45") == roll(70, 45)
    assert stock_named("roll-62.5x29").label_width == 62.5
    labels = [Label(code) for code in codes(2, seed=82)]
    pages = pdfium(render(labels, stock_named("roll-70x45"), TAG))
    assert [read(page) for page in pages] == [[f"{TAG}.{label.code}"] for label in labels]


@pytest.mark.parametrize("name", ["roll-0x30", "roll-3x3", "roll-900x30"])
def test_a_roll_of_an_impossible_size_is_refused(name):
    with pytest.raises(LabelError, match=name) as caught:
        stock_named(name)
    assert caught.value.code == "stock_wrong"


def test_a_stock_survives_json():
    for stock in (*STOCKS.values(), A4.on(dpi=300, nudge_x=1.5, nudge_y=-0.5)):
        assert stock_from(json.loads(json.dumps(stock.as_data()))) == stock
    assert stock_from("a4-24") == A4
    assert stock_from({"stock": "a4-24", "dpi": 203, "nudge_y": 1}) == A4.on(nudge_y=1)


GRID = {"page_width": 210, "page_height": 297, "columns": 2, "rows": 4, "label_width": 99,
        "label_height": 67, "margin_left": 4, "margin_top": 13, "gap_x": 3}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"gap_x": -1}, "overlap"),
        ({"gap_y": -0.01}, "overlap"),
        ({"columns": 3}, "past the page"),
        ({"rows": 0}, "one to a thousand"),
        ({"rows": 10**6}, "one to a thousand"),
        ({"rows": 2.5}, "rows is float"),
        ({"columns": True}, "columns is bool"),
        ({"label_width": float("nan")}, "label_width is float"),
        ({"label_width": float("inf")}, "label_width is float"),
        ({"label_width": "wide"}, "label_width is 'wide'"),
        ({"label_width": None}, "label_width is NoneType"),
        ({"label_height": 0}, "zero or less"),
        ({"page_height": 10**9}, "longer than"),
        ({"pad": 40}, "no room"),
        ({"pad": -1}, "margin"),
        ({"dpi": 0}, "no printer"),
        ({"dpi": 10**7}, "no printer"),
        ({"name": "x" * 10_000, "columns": 3}, "past the page"),
    ],
)
def test_paper_that_cannot_be_is_refused(change, says):
    assert stock_from(GRID).cells == 8
    with pytest.raises(LabelError, match=says) as caught:
        stock_from(GRID | change)
    assert caught.value.code == "stock_wrong"
    assert caught.value.todo
    if "name" not in change:
        assert len(str(caught.value)) < 300


@pytest.mark.parametrize(
    "data",
    [None, 3, [], {}, {"page_width": 3}, {"width": 3}, {"stock": "a4-24", "rows": 2}, {1: 2}],
)
def test_half_a_description_is_refused(data):
    with pytest.raises(LabelError) as caught:
        stock_from(data)
    assert caught.value.code == "stock_wrong"


def test_a_nudge_moves_everything_by_whole_dots():
    labels = [Label(code, "25 Nov A2", "A12", "Pearl oyster 7") for code in codes(24, seed=83)]
    (still,) = pdfium(render(labels, A4, TAG))
    (moved,) = pdfium(render(labels, A4.on(nudge_x=1.5, nudge_y=-0.5), TAG))
    # Letters' edges may differ by a dot here and there, codes and all else may not.
    assert ((still[4:-4, :-12] < 128) != (moved[:-8, 12:] < 128)).mean() < 1e-4


@pytest.mark.parametrize(
    ("stock", "nudge"),
    [(A4, {"nudge_x": -4.6}), (A4, {"nudge_y": 5.6}), (ROLL, {"nudge_y": -1.6}),
     (ROLL, {"nudge_x": 200})],
)  # fmt: skip
def test_a_nudge_off_the_page_says_how_far_it_may_go(stock, nudge):
    with pytest.raises(LabelError, match="off the page") as caught:
        stock.on(**nudge)
    (field,) = nudge
    assert caught.value.code == "label_nudge"
    for end in ("least", "most"):
        assert stock.on(**{field: caught.value.details[end]}).is_roll == stock.is_roll


@pytest.mark.parametrize("nudge", ["1", None, float("nan"), True])
def test_a_nudge_is_a_number(nudge):
    with pytest.raises(LabelError, match="nudge_x"):
        A4.on(nudge_x=nudge)


def test_203_means_eight_dots_a_millimetre():
    assert A4.on(dpi=203).dpi == DPI[203] == 203.2
    assert A4.on(dpi=305).dpi == 305


@pytest.mark.parametrize("width", [17, 20, 25, 30, 35, 45, 60, 90, 150])
@pytest.mark.parametrize("height", [17, 20, 22, 26, 30, 45, 80, 150])
@pytest.mark.parametrize("letter", "BPK")
def test_any_size_gives_a_readable_label_or_names_one_that_does(width, height, letter):
    stock = roll(width, height)
    label = Label(f"{letter}7K2M4QX9", "25 Nov A2", "A12", "Pearl oyster 7", title="Rack 14")
    pdf, refused = attempt([label], stock)
    if refused:
        assert refused.code in ("stock_too_small", "label_long")
        if refused.code == "stock_too_small":
            best = STOCKS[refused.details["best"]]
            assert plan(best, letter).module >= 0.5
        return
    (page,) = pdfium(pdf)
    assert read(page, row=10_000) == [f"{TAG}.{label.code}"]


# --- The calibration page -------------------------------------------------------------------------


@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda s: s.name)
def test_the_calibration_page_measures_millimetres(stock):
    (page,) = pdfium(calibration(stock, "Print at 100 %"))
    dark = page < 128
    row = (stock.rows - 1) // 2
    y = stock.margin_top + row * (stock.label_height + stock.gap_y) + 0.4 * stock.label_height
    # Marks are 0.1 mm wide, a dot or so, at each whole millimetre and nowhere between.
    for mm in range(4, int(stock.page_width) - 4):
        line = (page[round(y * 8) + 4, mm * 8 - 2 : mm * 8 + 3] < 200).any()
        assert line, mm
    assert dark.sum() < 0.1 * dark.size


def test_the_calibration_page_shows_where_labels_lie_and_moves_with_the_nudge():
    (still,) = pdfium(calibration(A4))
    (moved,) = pdfium(calibration(A4.on(nudge_x=2.0)))
    # The cross at the second label's corner: 70 mm from the left, then 72.
    across = round(37.5 * 8)
    for page, mm in ((still, 70), (moved, 72)):
        column = page[across - 24 : across + 24, round(mm * 8) - 2 : round(mm * 8) + 3] < 160
        assert column.any(axis=1).mean() > 0.9


@pytest.mark.parametrize("words", ["x" * 10_000, "מנה", "\n\t", "ab " * 60])
def test_any_words_fit_the_calibration_page(words):
    for stock in (A4, ROLL, STOCKS["roll-25x25"]):
        assert len(pdfium(calibration(stock, words))) == 1


def test_stock_is_a_value():
    assert hash(Stock(**A4.as_data())) == hash(A4)
