"""Figures of the labels: thousands a second end to end, beside the sheet one would write first.

Codes are made afresh in every round; a job of 1,000 is twenty batches of fifty bags. Ways are
run in turn, so that a busy machine slows all of them alike. Speeds are of processor time, which
is the wall's on a quiet machine.
"""

from __future__ import annotations

import gc
import io
import json
import random
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import qrcode

from bagtrail_labels import STOCKS, Label, Stock, grouped, plain, render
from bagtrail_labels.render import prepare
from bagtrail_labels.symbols import symbol

from . import figures

pytestmark = [pytest.mark.bench, pytest.mark.timeout(900)]

TAG = "7K3Q"
A4, ROLL = STOCKS["a4-24"], STOCKS["roll-50x30"]
SYMBOLS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
NAMES = ["Pearl oyster 7", "Shiitake on oak", "Lion's mane 3", "King oyster", "Chestnut 12"]
draw = random.Random(1)


def job(count: int) -> list[Label]:
    names = draw.sample(NAMES, len(NAMES))
    return [
        Label(
            "B" + "".join(draw.choices(SYMBOLS, k=8)),
            f"25 Nov {draw.choice('ABCD') if n % 50 == 0 else 'A'}{n // 50 + 1}",
            f"A{n % 50 + 1}", names[n // 50 % len(names)], f"{n // 50 % 28 + 1} Jun",
        )
        for n in range(count)
    ]  # fmt: skip


def straightforward(labels: list[Label], stock: Stock) -> bytes:
    """The label sheet one writes first: qrcode for the codes, a canvas for the rest."""
    from reportlab.lib.units import mm
    from reportlab.pdfgen.canvas import Canvas

    out = io.BytesIO()
    canvas = Canvas(out, (stock.page_width * mm, stock.page_height * mm))
    for index, label in enumerate(labels):
        cell = index % stock.cells
        if index and cell == 0:
            canvas.showPage()
        left, top = stock.origin(cell)
        left, top = left * mm, (stock.page_height - top) * mm
        code = qrcode.QRCode(error_correction=qrcode.constants.ERROR_CORRECT_H, border=0)
        code.add_data(f"{TAG}.{label.code}")
        code.make()
        assert code.version == 2
        side = 0.625 * mm
        path = canvas.beginPath()
        for y, row in enumerate(code.modules):
            x = 0
            while x < len(row):
                start = x
                while x < len(row) and row[x]:
                    x += 1
                if x > start:
                    at = left + 4 * mm + start * side, top - 4 * mm - (y + 1) * side
                    path.rect(*at, (x - start) * side, side)
                x += 1
        canvas.drawPath(path, stroke=0, fill=1)
        canvas.setFont("Helvetica", 8)
        for line, text in enumerate((label.batch, label.number, label.what, label.day)):
            canvas.drawString(left + 24 * mm, top - (7 + 4 * line) * mm, text)
        canvas.setFont("Courier-Bold", 20)
        canvas.drawString(left + 4 * mm, top - 28 * mm, grouped(label.code))
    canvas.save()
    return out.getvalue()


def spent(work: Callable[[], object]) -> float:
    gc.collect()  # what others left behind is not this work's to clear
    started = time.process_time()
    work()
    return time.process_time() - started


@pytest.mark.parametrize(("stock", "aim"), [(A4, 3_000), (ROLL, 2_500)], ids=["a4", "roll"])
def test_a_thousand_labels(stock: Stock, aim: int) -> None:
    """Aim: 3,000 a second on A4 and 2,500 on a roll; 15 times the straightforward sheet, 10 at
    least; the plain way 300 a second on A4."""
    render(job(3), stock, TAG)
    straightforward(job(3), stock)
    fast: list[float] = []
    ratios: list[float] = []
    walls: list[float] = []
    plains: list[float] = []
    for _ in range(5):
        labels = job(1_000)
        started = time.perf_counter()
        ours = spent(lambda labels=labels: render(labels, stock, TAG))
        walls.append(1_000 / (time.perf_counter() - started))
        fast.append(1_000 / ours)
        labels = job(200)
        theirs = 5 * spent(lambda labels=labels: straightforward(labels, stock))
        ratios.append(theirs / ours)
        labels = job(240)
        plains.append(240 / spent(lambda labels=labels: plain.pdf(prepare(labels, stock, TAG))))
    print(f"\n{figures.machine()}; {stock.name}, 1,000 labels, new codes and words each time")
    figures.tell("labels a second, processor", fast, "/s", f"{aim}")
    figures.tell("labels a second, wall", walls, "/s", f"{aim} on a quiet machine")
    figures.tell("times reportlab and qrcode", ratios, "x", "15, at least 10")
    figures.tell("plain way", plains, "/s", "300 on A4")
    assert statistics.median(ratios) >= 10


def test_one_label() -> None:
    """Aim: 20 ms. Kept: its words were printed before. New: they were not."""
    render(job(1), ROLL, TAG)
    kept, new = [], []
    for _ in range(15):
        (label,) = job(1)
        kept.append(1e3 * spent(lambda label=label: render([Label(label.code)], ROLL, TAG)))
        named = Label(label.code, f"{draw.random():.4f}", "A1", f"Strain {draw.random():.4f}", "1")
        new.append(1e3 * spent(lambda named=named: render([named], ROLL, TAG)))
    print(f"\n{figures.machine()}; one label, warm")
    figures.tell("words printed before", kept, "ms", "20")
    figures.tell("new words", new, "ms", "20")


def test_codes() -> None:
    """One symbol with the standard's best mask, beside qrcode itself."""
    texts = [f"{TAG}.{label.code}" for label in job(400)]
    symbol(texts[0], "H")
    ours = 1e6 / 400 * spent(lambda: [symbol(text, "H") for text in texts])

    def qrcodes() -> None:
        for text in texts[:40]:
            code = qrcode.QRCode(version=2, error_correction=qrcode.constants.ERROR_CORRECT_H)
            code.add_data(text)
            code.make(fit=False)

    theirs = 1e6 / 40 * spent(qrcodes)
    print(f"\n{figures.machine()}; one QR code")
    figures.tell("ours", [ours], "us")
    figures.tell("qrcode", [theirs], "us")


# The kernel's own mark of a process's most memory: getrusage's is inherited from the parent.
GROWTH = """
import json, re, sys
from bagtrail_labels import STOCKS, render
sys.path.insert(0, sys.argv[3])
from tests.bench.test_labels import TAG, job
def peak():
    status = open("/proc/self/status").read()
    return int(re.search(r"VmHWM:\\s+(\\d+) kB", status)[1]) / 1024
stock = STOCKS[sys.argv[1]]
render(job(24), stock, TAG)
labels = job(int(sys.argv[2]))
before = peak()
pdf = render(labels, stock, TAG)
print(json.dumps([peak() - before, len(pdf)]))
"""


@pytest.mark.parametrize(("count", "limit"), [(1_000, 20), (10_000, 60)])
@pytest.mark.parametrize("stock", [A4, ROLL], ids=lambda s: s.name)
def test_memory(stock: Stock, count: int, limit: int, request: pytest.FixtureRequest) -> None:
    """Aim: the peak grows by less than 20 MiB for 1,000 labels and 60 MiB for 10,000."""
    if not Path("/proc/self/status").exists():
        pytest.skip("the peak is read from Linux's /proc")
    root = str(request.config.rootpath)
    path = [f"{root}/server", f"{root}/labels", *sys.path]
    grown, size = json.loads(
        subprocess.run(
            [sys.executable, "-c", GROWTH, stock.name, str(count), root],
            check=True, capture_output=True, text=True, timeout=300,
            env={"PYTHONPATH": ":".join(path)},
        ).stdout
    )  # fmt: skip
    print(f"\n{stock.name}, {count:,} labels, {size / 2**20:.2f} MiB of PDF")
    figures.tell("growth of the peak", [grown], "MiB", f"under {limit}")
    assert grown < limit


@pytest.mark.parametrize("stock", [A4, ROLL], ids=lambda s: s.name)
def test_time_grows_as_labels_do(stock: Stock) -> None:
    """Aim: 20,000 take no more than ten times the time of 2,000."""
    render(job(10), stock, TAG)
    ratios = []
    for _ in range(3):
        few, many = job(2_000), job(20_000)
        short = spent(lambda few=few: render(few, stock, TAG))
        ratios.append(spent(lambda many=many: render(many, stock, TAG)) / short)
    print(f"\n{figures.machine()}; {stock.name}, 20,000 labels beside 2,000")
    figures.tell("times the time", ratios, "x", "10")
    assert statistics.median(ratios) < 12.5
