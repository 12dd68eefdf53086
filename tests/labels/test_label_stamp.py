"""Stamped and laid out one by one, a job is the same picture; and stamping knows its limits."""

from __future__ import annotations

import io
import logging
import random
import sys
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest

from bagtrail_labels import LAYOUTS, STOCKS, Label, LabelError, plain, render, specimen, stamp
from bagtrail_labels.plan import plan
from bagtrail_labels.render import prepare
from bagtrail_labels.templates import MONO, Style

from .raster import codes, pdfium, poppler, read
from .test_label_words import ODD

TAG = "7K3Q"
A4, ROLL = STOCKS["a4-24"], STOCKS["roll-50x30"]
MOST = 3  # of 255, in any dot

EMPTY = Label("B7K2M4QX9")
WORDS = [
    "Pearl oyster 7", "Grey oyster on straw, second year of the trial 12", "Pleurotus ostreatus",
    "Šafářová hlíva", "Nấm bào ngư xám", "Вешенка обыкновенная", "平菇 7 号", "ヒラタケ 七",
    "느타리버섯", "AVAVA Ty. To fi ffi", "a%b (c) \\ <d>", "W" * 40, "i" * 90,
]  # fmt: skip


def job(stock, count: int, seed: int) -> list[Label]:
    draw = random.Random(seed)
    letters = "B" if stock.name == "a4-65" else "BBBGPSHM"
    return [
        Label(
            code, f"{draw.randrange(1, 28)} Nov A2", draw.choice(["A12", "б 7", "60", "A/3-#"]),
            draw.choice(WORDS), draw.choice(["12 Jun", "6月12日"]),
            draw.choice(["", draw.choice(WORDS)]), draw.choice(WORDS), draw.choice(["", "Word"]),
        )
        for code in codes(count, letters, seed)
    ]  # fmt: skip


def differences(first: list[np.ndarray], second: list[np.ndarray]) -> list[int]:
    assert [page.shape for page in first] == [page.shape for page in second]
    return [int(np.abs(a.astype(int) - b).max()) for a, b in zip(first, second, strict=True)]


@pytest.mark.parametrize("dpi", [203.2, 300])
@pytest.mark.parametrize("stock", [A4, ROLL], ids=lambda s: s.name)
def test_both_ways_give_the_same_picture(stock, dpi, tmp_path):
    labels = job(stock, 24, seed=51) + [
        label for label in ODD.values() if label.code.startswith("B")
    ]
    work = prepare(labels, stock, TAG)
    stamped, laid_out = stamp.pdf(work), plain.pdf(work)
    assert stamped != laid_out
    assert max(differences(pdfium(stamped, dpi), pdfium(laid_out, dpi))) <= MOST
    first = poppler(stamped, tmp_path, dpi=dpi)
    assert max(differences(first, poppler(laid_out, tmp_path, dpi=dpi))) <= MOST


@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda s: s.name)
def test_every_stock_is_stamped_and_the_same(stock, caplog):
    work = prepare(job(stock, min(stock.cells, 8), seed=52), stock, TAG, min(2, stock.cells - 1))
    assert max(differences(pdfium(stamp.pdf(work)), pdfium(plain.pdf(work)))) <= MOST
    assert not caplog.records or all("weasyprint" in record.name for record in caplog.records)


def test_every_type_of_tag_is_the_same():
    labels = [
        Label(letter + "7K2M4QX9", "25 Nov A2", "60 bags", "Rye grain", "3 Nov", "1.20 kg",
              "Fruiting room 2", "Word", sort)
        for letter in LAYOUTS
        for sort in (("", "room", "rack", "shelf", "trolley", "cold") if letter == "P" else ("",))
    ]  # fmt: skip
    for stock in (ROLL, STOCKS["a4-8"], STOCKS["roll-40x30"]):
        work = prepare(labels, stock, TAG)
        assert max(differences(pdfium(stamp.pdf(work)), pdfium(plain.pdf(work)))) <= MOST


def test_a_kept_specimen_gives_the_same_dots_as_a_fresh_one():
    labels = job(ROLL, 6, seed=53)
    specimen._specimens.clear()
    alone = [pdfium(render([label], ROLL, TAG))[0] for label in labels]
    specimen._specimens.clear()
    together = pdfium(render(labels, ROLL, TAG))
    again = [pdfium(render([label], ROLL, TAG))[0] for label in labels]
    assert len(specimen._specimens) == 1
    assert max(differences(alone, together)) == 0
    assert max(differences(alone, again)) == 0


def test_specimens_are_kept_few():
    for index in range(12):
        render([Label("B7K2M4QX9", what=f"Strain {index}")], ROLL, TAG)
    assert len(specimen._specimens) <= 8


def test_stamps_say_what_they_show():
    label = Label("B7K2M4QX9", "25 Nov A2", "A12", "平菇 Pearl & <b>", "12 Jun")
    document = pypdfium2.PdfDocument(render([label], ROLL, TAG))
    said = document[0].get_textpage().get_text_range()
    for text in ("B7K2 M4QX9", "25 Nov A2", "A12", "平菇 Pearl & <b>", "12 Jun"):
        assert text in said


@pytest.mark.parametrize("stock", [A4, ROLL], ids=lambda s: s.name)
def test_qpdf_finds_nothing_and_every_font_is_embedded(stock):
    pdf = pikepdf.open(io.BytesIO(render(job(stock, 30, seed=54), stock, TAG)))
    assert pdf.check_pdf_syntax() == []
    fonts = [
        font.DescendantFonts[0].FontDescriptor for font in pdf.pages[0].Resources.Font.values()
    ]
    assert len(fonts) >= 4
    assert all("/FontFile2" in font or "/FontFile3" in font for font in fonts)


# --- When stamping is not to be trusted -----------------------------------------------------------


def the_way_taken(monkeypatch: pytest.MonkeyPatch, labels: list[Label]) -> str:
    taken = []
    for way in (stamp, plain):
        real = way.pdf
        monkeypatch.setattr(
            way, "pdf", lambda work, real=real, way=way: (real(work), taken.append(way))[0]
        )
    pages = pdfium(render(labels, ROLL, TAG))
    assert [read(page) for page in pages] == [[f"{TAG}.{label.code}"] for label in labels]
    (way,) = taken
    return way.__name__.rpartition(".")[2]


def test_pinned_versions_are_stamped(monkeypatch):
    assert the_way_taken(monkeypatch, job(ROLL, 3, seed=55)) == "stamp"


@pytest.mark.parametrize("versions", [("70.1", "0.13.0"), ("70.0", "0.14.0")])
def test_other_versions_are_laid_out_plainly(monkeypatch, versions):
    # The package's name `render` is the function.
    module = sys.modules["bagtrail_labels.render"]
    monkeypatch.setattr(module, "versions", lambda: versions)
    assert the_way_taken(monkeypatch, job(ROLL, 3, seed=55)) == "plain"


def broken(monkeypatch: pytest.MonkeyPatch, change) -> None:
    real = specimen.cut
    specimen._specimens.clear()
    monkeypatch.setattr(
        specimen, "cut", lambda operators, count: real(change(list(operators)), count)
    )


CHANGES = {
    "a line missing": lambda ops: ops[: ops.index(b"BT")] + ops[ops.index(b"ET") + 1 :],
    "a line too many": lambda ops: [*ops, b"q", b"BT", b"ET", b"Q"],
    "no groups": lambda ops: [op for op in ops if op not in (b"q", b"Q")],
    "a group open": lambda ops: [*ops, b"q"],
    "a group closed twice": lambda ops: [*ops, b"Q"],
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_page_of_another_shape_is_noticed_and_laid_out_plainly(monkeypatch, caplog, change):
    broken(monkeypatch, change)
    with caplog.at_level(logging.WARNING, logger="bagtrail_labels"):
        assert the_way_taken(monkeypatch, job(ROLL, 3, seed=56)) == "plain"
    assert "laid out one by one" in caplog.text


def test_lines_in_another_order_are_noticed(monkeypatch):
    specimen._specimens.clear()
    real = specimen.cut
    monkeypatch.setattr(specimen, "cut", lambda ops, count: [(g := real(ops, count))[-1], *g[:-1]])
    assert the_way_taken(monkeypatch, job(ROLL, 3, seed=57)) == "plain"


@pytest.mark.parametrize("run", [b"[<0001>] TJ", b"[5<00010002>] TJ", b"(abc) Tj", b"[<0001>x] TJ"])
def test_letters_that_cannot_be_told_apart_are_noticed(run):
    group = [b"BT", b"1 0 0 -1 0 10 Tm", b"/F 3 Tf", run, b"ET"]
    with pytest.raises(specimen.Unexpected):
        specimen._alphabet(group, group)


def test_kerned_letters_are_noticed():
    """Were a letter's place to depend on its neighbours, setting it alone would be wrong."""
    kept = specimen.specimen(set(), {Style(4.0, True, True)}, "")
    glyphs = [kept.alphabets[Style(4.0, True, True)]._glyphs[char] for char in MONO]
    letters = [b"BT", b"1 0 0 -1 0 10 Tm", b"/F 3 Tf", b"[" + b"".join(glyphs) + b"] TJ", b"ET"]
    probe = [glyphs[MONO.index(char)] for char in specimen._PROBE]
    good = [*letters[:3], b"[" + b"".join(probe) + b"] TJ", b"ET"]
    bad = [*letters[:3], b"[" + b"-40".join(probe) + b"] TJ", b"ET"]
    specimen._alphabet(letters, good)
    with pytest.raises(specimen.Unexpected, match="side by side"):
        specimen._alphabet(letters, bad)


def test_threads_may_print_at_once():
    from concurrent.futures import ThreadPoolExecutor

    specimen._specimens.clear()
    work = [job(ROLL, 4, seed=60 + index) for index in range(6)]
    alone = [pdfium(render(labels, ROLL, TAG)) for labels in work]
    specimen._specimens.clear()
    with ThreadPoolExecutor(4) as pool:
        made = list(pool.map(lambda labels: render(labels, ROLL, TAG), work * 2))
    for index, pdf in enumerate(made):
        assert max(differences(alone[index % 6], pdfium(pdf))) == 0


@pytest.mark.long
@pytest.mark.parametrize("dpi", [203.2, 300])
@pytest.mark.parametrize("stock", [A4, ROLL], ids=lambda s: s.name)
def test_a_thousand_read_back_in_every_rasteriser(stock, dpi, tmp_path: Path):
    labels = [
        Label(code, "25 Nov A2", f"A{index}", WORDS[index % len(WORDS)], "12 Jun")
        for index, code in enumerate(codes(1_000, seed=70))
    ]
    pdf = render(labels, stock.on(dpi=dpi), TAG)
    wanted = [f"{TAG}.{label.code}" for label in labels]
    for way in ("pdfium", "poppler", "poppler-mono"):
        pages = (
            pdfium(pdf, dpi) if way == "pdfium" else poppler(pdf, tmp_path, way[-4:] == "mono", dpi)
        )
        row = stock.label_height / 25.4 * dpi
        assert [text for page in pages for text in read(page, row)] == wanted, way


def test_specimen_is_left_alone_by_a_job_that_fails():
    with pytest.raises(LabelError):
        render([EMPTY, Label("B7K2M4QX9", "\0")], ROLL, TAG)
    assert [read(page) for page in pdfium(render([EMPTY], ROLL, TAG))] == [[f"{TAG}.{EMPTY.code}"]]


def test_the_large_code_is_as_large_as_planned():
    """Capitals of the mono face are 0.73 em high: a check that stamps keep their size."""
    (page,) = pdfium(render([Label("BEEEEEEEE")], ROLL, TAG))
    place = plan(ROLL)
    band = page[round((place.human_y + 0.05) * 8) :] < 128
    rows = np.nonzero(band.any(axis=1))[0]
    assert (rows.max() - rows.min() + 1) / 8 == pytest.approx(0.75 * place.human_em, abs=0.5)
