"""Every stock in every script in three rasterisers: each code, each dot, no ink astray."""

from __future__ import annotations

import numpy as np
import pytest

from bagtrail_labels import STOCKS, Label, LabelError, Stock, render
from bagtrail_labels.plan import plan
from bagtrail_labels.qr import QUIET, matrix

from .raster import codes, read, symbol

TAG = "7K3Q"
COUNT = 24
# One language of each script that the issue names: Latin, Vietnamese, Cyrillic, and the three
# whose letters need a font of their own.
WORDS = {
    "en": "Grey oyster on straw, trial 12", "vi": "Nấm bào ngư xám ờ ữ ẵ",
    "ru": "Вешенка обыкновенная", "zh-Hans": "平菇灰色七号", "ja": "ヒラタケ灰色株七号",
    "ko": "느타리버섯 회색",
}  # fmt: skip
# All languages on every stock, two printers and three rasterisers are 540 jobs of 24 labels: the
# common paper has all of them in each run, the rest takes turns, and the long run has the lot.
COMMON = ("a4-24", "roll-50x30")


def pairs() -> list[object]:
    turns = list(WORDS)
    found = []
    for nth, name in enumerate(STOCKS):
        for place, language in enumerate(WORDS):
            now = name in COMMON or language == turns[nth % len(turns)]
            marks = () if now else (pytest.mark.long,)
            found.append(pytest.param(name, language, marks=marks, id=f"{name}-{language}-{place}"))
    return found


def job(language: str) -> list[Label]:
    words = WORDS[language]
    return [
        Label(code, words if n % 3 else "25 Nov A2", f"A{n}", words, "12 VI")
        for n, code in enumerate(codes(COUNT, seed=90))
    ]


@pytest.mark.parametrize("dpi", [203.2, 300])
@pytest.mark.parametrize(("name", "language"), pairs())
def test_every_code_is_read_every_dot_is_right_and_no_ink_lies_astray(
    name: str, language: str, dpi: float, rasterise
) -> None:
    stock: Stock = STOCKS[name].on(dpi=dpi)
    labels = job(language)
    pages = rasterise(render(labels, stock, TAG, language=language), dpi)
    assert len(pages) == -(-COUNT // stock.cells)
    place = plan(stock)
    found: list[str] = []
    for nth, page in enumerate(pages):
        ours = labels[nth * stock.cells : (nth + 1) * stock.cells]
        found += read(page)
        astray = page < 128
        for cell, label in enumerate(ours):
            x, y = stock.origin(cell)
            corner = (round((x + place.code_x) / stock.dot), round((y + place.code_y) / stock.dot))
            wanted = np.pad(np.array(matrix(f"{TAG}.{label.code}")), QUIET)
            dots = np.kron(wanted, np.ones((place.dots,) * 2, bool))
            # The quiet zone is part of it: no letter lies in it or on the code.
            assert np.array_equal(symbol(page, *corner, place.dots), dots), label
            left, top = (round(at / stock.dot) for at in (x, y))
            right, bottom = (
                round(at / stock.dot) for at in (x + stock.label_width, y + stock.label_height)
            )
            assert astray[top:bottom, left:right].sum() > wanted.sum() * place.dots**2  # words too
            astray[top:bottom, left:right] = False
        assert not astray.any()
    assert sorted(found) == sorted(f"{TAG}.{label.code}" for label in labels)


@pytest.mark.parametrize("count", [0, 1_000_000])
def test_no_label_and_a_million_are_sentences(count: int) -> None:
    with pytest.raises(LabelError) as bad:
        render([Label("B7K2M4QX9")] * count, STOCKS["a4-24"], TAG)
    assert bad.value.message.endswith(".")
    assert bad.value.todo
