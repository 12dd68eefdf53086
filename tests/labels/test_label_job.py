"""A print job as a whole: its size, its start, its PDF, and what the package may touch."""

from __future__ import annotations

import ast
import socket
from pathlib import Path

import pypdfium2
import pytest

import bagtrail_labels
from bagtrail_labels import (
    STOCKS,
    Label,
    LabelError,
    Stock,
    grouped,
    plain,
    render,
    stock_named,
    templates,
)
from bagtrail_labels.render import prepare

from .raster import codes

TAG = "7K3Q"
A4, ROLL = STOCKS["a4-24"], STOCKS["roll-50x30"]
MM = 72 / 25.4


@pytest.mark.parametrize(
    ("stock", "page", "label"),
    [(A4, (210, 297), (70, 37)), (ROLL, (50, 30), (50, 30))],
    ids=["a4-24", "roll-50x30"],
)
def test_pages_have_the_size_of_the_paper(stock, page, label):
    assert (stock.label_width, stock.label_height) == label
    (sheet,) = pypdfium2.PdfDocument(render([Label("B7K2M4QX9")], stock, TAG))
    assert sheet.get_size() == pytest.approx((page[0] * MM, page[1] * MM), abs=0.01)


def test_the_sheet_is_three_by_eight():
    assert A4.cells == 24
    assert A4.origin(0) == (0, 0.5)
    assert A4.origin(5) == (140, 37.5)
    assert A4.origin(23) == (140, 259.5)
    with pytest.raises(ValueError, match="0 to 23"):
        A4.origin(24)


@pytest.mark.parametrize("count", [1, 24, 25, 48, 49])
def test_as_many_pages_as_the_labels_need(count):
    pdf = render([Label(c) for c in codes(count)], A4, TAG)
    assert len(pypdfium2.PdfDocument(pdf)) == -(-count // 24)


def test_no_labels_are_an_error():
    with pytest.raises(LabelError, match="no labels") as caught:
        render([], A4, TAG)
    assert caught.value.code == "label_none"


@pytest.mark.parametrize("start", [-1, 24, 1.0, True, "3", None])
def test_a_start_outside_the_sheet_is_an_error(start):
    with pytest.raises(LabelError, match="first free label") as caught:
        render([Label("B7K2M4QX9")], A4, TAG, start)
    assert caught.value.code == "label_start"


def test_too_many_labels_are_an_error_before_any_work():
    with pytest.raises(LabelError) as caught:
        render([Label("wrong")] * 20_001, A4, TAG)
    assert caught.value.code == "label_many"


@pytest.mark.parametrize("name", ["a4-66", "", "A4-24", None, 3, "x" * 500])
def test_unknown_stock_names_what_there_is(name):
    with pytest.raises(LabelError, match="a4-24, .*roll-50x30") as caught:
        stock_named(name)
    assert caught.value.code == "stock_unknown"
    assert len(str(caught.value)) < 300


def test_stock_is_found_by_its_name():
    assert [stock_named(name) for name in STOCKS] == list(STOCKS.values())
    assert stock_named("roll-50x30") == ROLL


@pytest.mark.parametrize(
    "measures",
    [
        (210, 297, 3, 8, 70.1, 37),
        (210, 297, 3, 9, 70, 37),
        (210, 297, 0, 8, 70, 37),
        (210, 297, 3, 8, -70, 37),
        (float("nan"), 297, 3, 8, 70, 37),
    ],
)
def test_impossible_stock_cannot_be_made(measures):
    with pytest.raises(ValueError, match="stock x"):
        Stock("x", *measures)


def test_two_copies_of_one_label_may_be_printed():
    assert len(pypdfium2.PdfDocument(render([Label("B7K2M4QX9")] * 2, ROLL, TAG))) == 2


def test_the_same_job_gives_the_same_bytes():
    labels = [Label(c, "25 Nov A2", "A1", "Pearl oyster 7", "12 Jun") for c in codes(5)]
    assert render(labels, A4, TAG) == render(labels, A4, TAG)


def test_the_print_dialogue_is_asked_not_to_scale():
    with_ours = pypdfium2.PdfDocument(render([Label("B7K2M4QX9")], A4, TAG))
    without = pypdfium2.PdfDocument.new()
    assert pypdfium2.raw.FPDF_VIEWERREF_GetPrintScaling(without)
    assert not pypdfium2.raw.FPDF_VIEWERREF_GetPrintScaling(with_ours)


def test_a_code_is_printed_in_two_groups():
    assert grouped("B7K2M4QX9") == "B7K2 M4QX9"


def test_nothing_is_fetched(monkeypatch):
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("a label opened a connection")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    text = '<img src="http://farm.invalid/x.png"> url(http://farm.invalid/y)'
    assert render([Label("B7K2M4QX9", what=text)], A4, TAG).startswith(b"%PDF")


def test_a_weasyprint_that_drew_no_code_would_be_noticed(monkeypatch):
    """The image in WeasyPrint's cache is not documented API: a sheet without codes must not
    leave the house."""
    monkeypatch.setattr(templates, "picture", lambda *_: "")
    with pytest.raises(RuntimeError, match="left out a QR code"):
        plain.pdf(prepare([Label("B7K2M4QX9")], A4, TAG))


def test_the_package_knows_nothing_of_the_server():
    folder = Path(bagtrail_labels.__file__).parent
    for file in folder.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and node.level == 0:
                names = [node.module or ""]
            assert not [n for n in names if n.split(".")[0] == "bagtrail"], file.name
