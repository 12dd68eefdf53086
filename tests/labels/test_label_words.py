"""The words beside a code: inside their box whatever they are, and what they say."""

from __future__ import annotations

import logging
import re

import numpy as np
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from weasyprint import HTML

from bagtrail_labels import LAYOUTS, STOCKS, Label, LabelError, plain, render, stamp, templates
from bagtrail_labels.paper import Drawn, Job, Spot
from bagtrail_labels.plan import CAPS_TOP, TAIL_END, Plan, plan
from bagtrail_labels.text import cleaned, shortened, width

from .raster import attempt, codes, pdfium, read

TAG = "7K3Q"
A4, ROLL = STOCKS["a4-24"], STOCKS["roll-50x30"]
CODE = "B7K2M4QX9"

LONG = "Grey oyster on straw, second year of the trial with the northern growers"
ODD = {
    "long words": Label(CODE, LONG, "A1234567", LONG, "12 September", LONG),
    "no spaces": Label(CODE, "W" * 80, "A12", "W" * 300, "12 Jun", "m" * 90),
    "10,000 characters": Label(CODE, "x" * 10_000, "A1", "ab " * 3_333, "12 Jun", "Ж" * 10_000),
    "right to left": Label(CODE, "מנה 12", "A1", "פטריות צדף על קש " * 3, "12 Jun", "فطر محاري"),
    "emoji": Label(CODE, "25 Nov A2", "A1", "Blue \U0001f344 \U0001f469\u200d\U0001f33e", "12 Jun"),
    "newlines and tabs": Label(CODE, "25\nNov\r\nA2", "A1", "a\tb\u2028c\x85d" * 9, "12 Jun", "\n"),
    "markup": Label(CODE, "</p><h1>", "<b>", '"&<img src="http://x.invalid/">', "&amp;", "<!--"),
    "towers of marks": Label(CODE, "Z" + "\u0301" * 2_000, "A1", "o\u0323\u0302" * 9, "12 Jun"),
    "direction controls": Label(CODE, "\u202eabc", "A1", "\u2067x\u2066y", "12 Jun", "\ufeffz"),
    "nothing": Label(CODE),
}


def strays(page: np.ndarray, stock, cell: int = 0) -> int:
    """Dark dots of a label outside its three boxes: code, words, large code."""
    place = plan(stock)
    x, y = stock.origin(cell)
    label = page[
        round(y * 8) : round((y + stock.label_height) * 8),
        round(x * 8) : round((x + stock.label_width) * 8),
    ]
    ink = label < 128
    quiet = 4 * place.module

    def clear(left: float, top: float, wide: float, high: float) -> None:
        ink[
            int(np.floor(top * 8)) : int(np.ceil((top + high) * 8)),
            int(np.floor(left * 8)) : int(np.ceil((left + wide) * 8)),
        ] = False

    # A dot more on every side: on stock off the printer's dots the code moves to the nearest.
    side = place.code_size - 2 * quiet + 0.25
    clear(place.code_x + quiet - 0.125, place.code_y + quiet - 0.125, side, side)
    # A dot more on every side: poppler rounds the edge of a clipped line outwards.
    wide, high = place.words_width + 0.25, place.words_height + 0.25
    clear(place.words_x - 0.125, place.words_y - 0.125, wide, high)
    caps = place.human_y + CAPS_TOP * place.human_em
    foot = stock.label_height - stock.pad
    clear(place.human_x, caps - 0.125, place.human_width, foot - caps + 0.25)
    return int(ink.sum())


def words_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    text = "\n".join(page.get_textpage().get_text_range() for page in document)
    return re.sub(r"\s+", " ", text)


SHAPES = [A4, ROLL, *(STOCKS[n] for n in ("roll-25x25", "a4-65", "letter-30"))]


@pytest.mark.parametrize("stock", SHAPES, ids=lambda s: s.name)
@pytest.mark.parametrize("name", ODD)
def test_any_words_stay_in_their_box_and_the_code_is_read(stock, name, rasterise):
    (page,) = rasterise(render([ODD[name]], stock, TAG))
    assert read(page) == [f"{TAG}.{CODE}"]
    assert strays(page, stock) == 0


@pytest.mark.parametrize("letter", LAYOUTS)
@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda s: s.name)
def test_boxes_do_not_touch(stock, letter):
    """What `strays` leaves out is no overlap: the boxes lie apart and inside the label."""
    _, refused = attempt([Label(f"{letter}7K2M4QX9")], stock)
    if refused:
        # A frame all round, or a band, needs more than the smallest labels have.
        assert refused.code == "stock_too_small"
        assert letter in "KW" or (stock.name == "a4-65" and letter != "B")
        return
    place = plan(stock, letter)
    caps = place.human_y + CAPS_TOP * place.human_em
    # Two dots and more, as `strays` forgives one.
    beside = place.code_x + place.code_size + 0.25 < place.words_x
    assert beside or place.code_y + place.code_size + 0.25 < place.words_y
    assert place.words_y + place.words_height + 0.25 < caps
    assert place.code_y + place.code_size <= caps + 1e-9
    free = stock.pad + place.frame
    end = place.band_x if place.band_width else stock.label_width - free
    assert place.words_x + place.words_width <= end + 1e-9
    assert place.band_y + place.band_height <= caps
    assert place.band_x + place.band_width <= stock.label_width - free + 1e-9
    assert place.human_x + place.human_width <= stock.label_width - free + 1e-9
    assert place.human_y + TAIL_END * place.human_em <= stock.label_height - free + 1e-9
    # Ink at the edge of a sheet: 4 mm and more, what sheet printers reach. A frame is ink, and
    # the whole quiet zone lies inside it.
    quiet = 0.0 if place.frame else 4 * place.module
    assert place.code_x + quiet >= free - 1e-9
    assert place.code_y + quiet >= free - 1e-9
    assert place.module >= 0.5 - 1e-9
    assert place.module / stock.dot == pytest.approx(place.dots)


def test_a_full_sheet_of_the_longest_words_keeps_every_label_apart():
    labels = [
        Label(c, LONG, f"A{i}", LONG, "12 Jun", LONG if i % 2 else "")
        for i, c in enumerate(codes(24, seed=11))
    ]
    (page,) = pdfium(render(labels, A4, TAG))
    assert read(page) == [f"{TAG}.{label.code}" for label in labels]
    assert [strays(page, A4, cell) for cell in range(24)] == [0] * 24


@pytest.mark.parametrize("stock", [A4, ROLL], ids=lambda s: s.name)
def test_a_label_says_what_it_was_given(stock):
    label = Label(CODE, "25 Nov A2", "A12", "Pearl oyster 7", "12 Jun", "Rack 3 & 4")
    said = words_of(render([label], stock, TAG))
    for text in ("B7K2 M4QX9", "25 Nov A2", "A12", "Pearl oyster 7", "12 Jun", "Rack 3 & 4"):
        assert text in said


def test_markup_is_printed_as_typed():
    said = words_of(render([Label(CODE, what="<b>&lt; \"x\" 'y'")], A4, TAG))
    assert "<b>&lt; \"x\" 'y'" in said


def test_a_shortened_name_shows_that_it_was():
    said = words_of(render([Label(CODE, what=LONG)], ROLL, TAG))
    assert "Grey oyster on" in said
    assert "…" in said
    assert "growers" not in said


def test_a_bag_carries_the_sign_and_a_group_does_not():
    place = plan(ROLL)
    x, y = round(place.words_x * 8), round(place.words_y * 8)

    def tallest(code: str) -> int:
        (page,) = pdfium(render([Label(code, number="-")], ROLL, TAG))
        return int((page[y : y + 40, x : x + 60] < 128).sum(axis=0).max())

    # The sides of the bag are 3 mm of line; a hyphen is nowhere a millimetre high.
    assert tallest(CODE) >= 20
    assert 1 <= tallest("G" + CODE[1:]) < 8


@pytest.mark.parametrize(
    ("label", "code", "says"),
    [
        (Label(CODE, "a\0b"), "label_text", r"Label 1 \(B7K2 M4QX9\): batch holds U\+0000"),
        (Label(CODE, what="\x1b[1m"), "label_text", r"what holds U\+001B"),
        (Label(CODE, free="\ud800"), "label_text", r"free holds U\+D800"),
        (Label(CODE, day="\uffff"), "label_text", r"day holds U\+FFFF"),
        (Label(CODE, number=12), "label_text", r"number is int, not text"),
        (Label(CODE, what=None), "label_text", r"what is NoneType"),
        (Label(CODE, what="x" * 30_000), "label_text", r"what is 30000 characters"),
        (Label(CODE, number="A123456789012345"), "label_long", r"number is too long"),
        (Label(CODE, day="the twelfth of June in the year"), "label_long", r"day is too long"),
        (Label("b7k2m4qx9"), "label_code", r"'b7k2m4qx9' is not a tag's code"),
        (Label("B7K2M4QX9\n"), "label_code", r"is not a tag's code"),
        (Label("B7K2M4QXU"), "label_code", r"is not a tag's code"),
        (Label("Z7K2M4QX9"), "label_code", r"is not a tag's code"),
        (Label("B\u0667K2M4QX9"), "label_code", r"is not a tag's code"),
        (Label(""), "label_code", r"'' is not a tag's code"),
        (Label(None), "label_code", r"NoneType is not a tag's code"),
    ],
)
def test_what_cannot_be_printed_is_said_with_what_to_do(label, code, says):
    with pytest.raises(LabelError, match=says) as caught:
        render([label], ROLL, TAG)
    assert caught.value.code == code
    assert caught.value.todo.endswith(".")
    assert len(str(caught.value)) < 300


def test_the_label_at_fault_is_named():
    with pytest.raises(LabelError, match=r"Label 3 \(B"):
        render([Label(c, "\0" if i == 2 else "") for i, c in enumerate(codes(4))], A4, TAG)


@pytest.mark.parametrize("tag", ["", "7k3q", "7K3", "7K3Q9", "7K3U", None])
def test_a_wrong_farm_tag_is_refused(tag):
    with pytest.raises(LabelError) as caught:
        render([Label(CODE)], ROLL, tag)
    assert caught.value.code == "label_farm"


def test_a_letter_that_no_font_has_is_an_error_and_a_picture_is_a_square():
    lost = "\U00012000"  # a cuneiform sign
    with pytest.raises(LabelError, match=r"U\+12000.*of what") as caught:
        render([Label(CODE, what=f"x{lost}")], ROLL, TAG)
    assert caught.value.code == "label_font"
    farmer = "\U0001f469\u200d\U0001f33e"  # one sign of two parts
    said = words_of(render([Label(CODE, what=f"a{farmer}b")], ROLL, TAG))
    assert "a□b" in said or farmer[0] in said  # the latter where a font for pictures is there


@settings(max_examples=40, deadline=None)
@given(
    st.text(st.characters(exclude_categories=()), max_size=60),
    st.text("AB0123 -/é\n", max_size=12),
)
def test_any_text_gives_a_readable_label_or_a_clear_error(name, number):
    refused = None
    try:
        pdf = render([Label(CODE, name, number, name, number, name)], ROLL, TAG)
    except LabelError as error:
        refused = error
    if refused:
        assert "Label 1 (B7K2 M4QX9)" in refused.message
        assert refused.todo
        return
    (page,) = pdfium(pdf)
    assert read(page) == [f"{TAG}.{CODE}"]
    assert strays(page, ROLL) == 0


def test_weasyprint_has_nothing_to_complain_of(caplog):
    with caplog.at_level(logging.DEBUG, logger="weasyprint"):
        for stock in STOCKS.values():
            render(list(ODD.values()), stock, TAG)
    assert [r.getMessage() for r in caplog.records if r.levelno >= logging.WARNING] == []
    # The listener does hear: the same complaint, unfiltered.
    with caplog.at_level(logging.WARNING, logger="weasyprint"):
        HTML(string="<p>\U00012000").write_pdf()
    assert "notdef" in caplog.text


def test_the_box_clips_where_the_estimate_was_too_low():
    """Another face may be wider than the estimate: the line then ends in its box."""
    place = plan(ROLL)
    style = templates.Style(3.0)
    line = templates.Line("W" * 60, place.words_x, 2.0, 10.0, style)
    # Plain and stamped, through the same boxes.
    drawn = Drawn(f"{TAG}.{CODE}", Spot(0.5, 25.0, 8.0), [line])
    for way in (plain, stamp):
        (page,) = pdfium(way.pdf(Job(ROLL, [drawn])))
        words_stay_in(page[:56], place)


def words_stay_in(page: np.ndarray, place: Plan) -> None:
    columns = np.nonzero((page < 128).any(axis=0))[0]
    assert columns.min() >= place.words_x * 8 - 1
    assert columns.max() <= np.ceil((place.words_x + 10) * 8)


def test_shortening_keeps_a_letter_and_its_marks_together():
    # e with a mark that has no composed form, just past what fits
    text = "aa" + "e\u0330" * 5
    for ems in np.arange(2.0, 4.5, 0.1):
        cut = shortened(text, float(ems))
        assert width(cut) <= ems
        assert not re.search("e…", cut), ems


def test_white_space_marks_and_direction_controls_are_tamed():
    assert cleaned(" a\n\tb\u2028 c\u00a0d ", "what", "Label 1") == "a b c d"
    assert cleaned("e\u0301", "what", "Label 1") == "\u00e9"
    assert cleaned("x" + "\u0323" * 500 + "y", "what", "Label 1") == "x" + "\u0323" * 4 + "y"
    assert cleaned("\u202ea\u2066b\ufeff", "what", "Label 1") == "ab"
    # A joiner that Persian needs stays.
    assert cleaned("می\u200cخواهم", "what", "Label 1") == "می\u200cخواهم"
