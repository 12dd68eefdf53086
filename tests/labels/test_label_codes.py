"""Every printed code is read back by a reader that shares nothing with the writer."""

from __future__ import annotations

import numpy as np
import pytest
import zxingcpp

from bagtrail_labels import STOCKS, Label, LabelError, Stock, render
from bagtrail_labels.plan import plan
from bagtrail_labels.qr import MODULES, QUIET, dots_wanted, matrix, payload

from .raster import codes, pdfium, read, symbol

TAG = "7K3Q"
A4, ROLL = STOCKS["a4-24"], STOCKS["roll-50x30"]
LETTERS = "BGPSHMKWX"


def full(code: str, index: int) -> Label:
    return Label(code, "25 Nov A2", f"A{index + 1}", "Pearl oyster 7", "12 Jun")


def job(count: int, seed: int = 1) -> tuple[list[Label], list[str]]:
    wanted = codes(count, LETTERS, seed)
    return [full(c, i) for i, c in enumerate(wanted)], [f"{TAG}.{c}" for c in wanted]


def test_a_sheet_and_a_second_page_read_back_in_order(rasterise):
    labels, wanted = job(30)
    pages = rasterise(render(labels, A4, TAG))
    assert len(pages) == 2
    assert read(pages[0]) == wanted[:24]
    assert read(pages[1]) == wanted[24:]


def test_single_labels_read_back_in_order(rasterise):
    labels, wanted = job(26, seed=2)
    pages = rasterise(render(labels, ROLL, TAG))
    assert [read(page) for page in pages] == [[text] for text in wanted]


def test_a_used_sheet_goes_on_at_its_first_free_cell(rasterise):
    labels, wanted = job(20, seed=3)
    pages = rasterise(render(labels, A4, TAG, start=7))
    assert [read(page) for page in pages] == [wanted[:17], wanted[17:]]
    # Cells 0 to 6 stay blank: two rows and one label.
    assert pages[0][: 4 + 2 * 296].min() == 255
    assert pages[0][4 + 2 * 296 : 4 + 3 * 296, :560].min() == 255
    assert pages[0][4 + 2 * 296 : 4 + 3 * 296, 560:1120].min() == 0


def test_a_long_roll_is_laid_out_in_parts_and_stays_in_order():
    labels, wanted = job(205, seed=4)
    pages = pdfium(render(labels, ROLL, TAG))
    assert [read(page) for page in pages] == [[text] for text in wanted]


@pytest.mark.parametrize("stock", [A4, ROLL], ids=lambda s: s.name)
def test_modules_are_exactly_whole_dots_and_the_quiet_zone_is_white(rasterise, stock):
    """Each module is 5 x 5 dots in black and white alike, so heads print no uneven bars.

    ISO/IEC 18004 asks for a quiet zone of 4 modules on every side (and 25 modules a side for
    version 2); 0.625 mm is 5 dots of 1/8 mm.
    """
    labels, wanted = job(stock.cells if stock.cells > 1 else 9, seed=5)
    assert (MODULES, QUIET, plan(stock).dots) == (25, 4, 5)
    assert plan(stock).code_size == pytest.approx(20.625)
    pages = rasterise(render(labels, stock, TAG))
    for index, text in enumerate(wanted):
        page, cell = divmod(index, stock.cells)
        x, y = stock.origin(cell)
        place = plan(stock, text[5])  # a larger one on tags that are read from afar
        corner = (x + place.code_x) * 8, (y + place.code_y) * 8
        dark = symbol(pages[page], *corner, place.dots)
        expected = np.pad(np.array(matrix(text)), QUIET)
        assert np.array_equal(dark, np.kron(expected, np.ones((place.dots,) * 2, bool))), text


def test_the_matrix_alone_is_read_as_version_2_level_h():
    for code in codes(40, LETTERS, seed=6):
        text = payload(TAG, code)
        image = np.where(np.kron(np.pad(np.array(matrix(text)), 4), np.ones((4, 4), bool)), 0, 255)
        (found,) = zxingcpp.read_barcodes(image.astype(np.uint8))
        assert (found.text, found.ec_level) == (text, "H")
        assert len(matrix(text)) == 25


def test_level_h_survives_a_torn_corner_of_data():
    """A patch over the lower right, where no finder lies: 36 of 625 modules lost."""
    (code,) = codes(1, seed=7)
    modules = np.array(matrix(payload(TAG, code)))
    modules[19:, 19:] = True
    image = np.where(np.kron(np.pad(modules, 4), np.ones((5, 5), bool)), 0, 255).astype(np.uint8)
    assert read(image) == [f"{TAG}.{code}"]


def test_smaller_stock_gets_the_smaller_module(rasterise):
    stock = Stock("small", 40, 25, 1, 1, 40, 25)
    wanted = codes(2, seed=8)
    labels = [full(c, i) for i, c in enumerate(wanted)]
    wanted = [f"{TAG}.{c}" for c in wanted]
    assert plan(stock).dots == 4
    pages = rasterise(render(labels, stock, TAG))
    assert [read(page) for page in pages] == [[text] for text in wanted]


@pytest.mark.parametrize("size", [(24, 22), (40, 18), (30, 22), (16, 100)])
def test_stock_too_small_for_half_a_millimetre_a_module_is_refused(size):
    stock = Stock("tiny", *size, 1, 1, *size)
    with pytest.raises(LabelError, match=r"tiny.*0\.5 mm") as caught:
        render([Label("B7K2M4QX9")], stock, TAG)
    assert caught.value.code == "stock_too_small"
    # What is offered does fit.
    best = caught.value.details["best"]
    assert best in caught.value.todo
    assert plan(STOCKS[best]).module >= 0.5


def test_the_module_is_whole_dots_at_other_resolutions_and_never_under_the_floor():
    assert list(dots_wanted(203.2)) == [5, 4]
    assert list(dots_wanted(600)) == [15, 14, 13, 12]  # 0.635 to 0.508 mm
    assert list(dots_wanted(300)) == [7, 6]  # 0.593 and 0.508 mm


def test_stock_off_the_dots_still_prints_whole_dots(rasterise):
    """Margins that are no multiple of 1/8 mm: the symbol moves to the nearest dot."""
    stock = Stock("odd", 112, 70, 2, 2, 52.3, 32.1, margin_left=1.07, margin_top=0.33, gap_x=1.9)
    wanted = codes(4, seed=9)
    labels = [full(c, i) for i, c in enumerate(wanted)]
    wanted = [f"{TAG}.{c}" for c in wanted]
    place = plan(stock)
    (page,) = rasterise(render(labels, stock, TAG))
    assert read(page, row=256) == wanted
    for cell, text in enumerate(wanted):
        x, y = stock.origin(cell)
        dark = symbol(page, (x + place.code_x) * 8, (y + place.code_y) * 8, 5)
        expected = np.pad(np.array(matrix(text)), QUIET)
        assert np.array_equal(dark, np.kron(expected, np.ones((5, 5), bool)))
