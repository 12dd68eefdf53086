"""Rasters of label PDFs as printers see them, by two rasterisers that share no code."""

from __future__ import annotations

import random
import subprocess
from pathlib import Path

import numpy as np
import pypdfium2
import zxingcpp
from numpy.typing import NDArray
from PIL import Image

from bagtrail_labels import Label, LabelError, Stock, render
from bagtrail_labels.qr import MODULES, QUIET

HEAD = 203.2  # dpi: 8 dots a millimetre
SYMBOLS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
Pages = list[NDArray[np.uint8]]


def codes(count: int, letters: str = "B", seed: int = 1) -> list[str]:
    draw = random.Random(seed)
    return [
        draw.choice(letters) + "".join(draw.choice(SYMBOLS) for _ in range(8)) for _ in range(count)
    ]


def attempt(labels: list[Label], stock: Stock) -> tuple[bytes, LabelError | None]:
    """The PDF, or why there is none: for tests in which either is right."""
    try:
        return render(labels, stock, "7K3Q"), None
    except LabelError as error:
        return b"", error


def poppler(pdf: bytes, folder: Path, mono: bool = False, dpi: float = HEAD) -> Pages:
    source = folder / "labels.pdf"
    source.write_bytes(pdf)
    for old in folder.glob("page-*"):
        old.unlink()
    kind = "-mono" if mono else "-gray"
    subprocess.run(
        ["pdftoppm", kind, "-r", str(dpi), str(source), str(folder / "page")],
        check=True, timeout=120,
    )  # fmt: skip
    files = sorted(folder.glob("page-*"))
    return [np.array(Image.open(file).convert("L")) for file in files]


def pdfium(pdf: bytes, dpi: float = HEAD) -> Pages:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [
            page.render(scale=dpi / 72, grayscale=True).to_numpy().squeeze().copy()
            for page in document
        ]
    finally:
        document.close()


def read(page: NDArray[np.uint8], row: float = 296.0) -> list[str]:
    """Payloads in reading order: by rows of labels (of so many dots), then from the left."""
    found = zxingcpp.read_barcodes(np.ascontiguousarray(page), zxingcpp.BarcodeFormat.QRCode)
    found.sort(key=lambda b: ((b.position.top_left.y - 4) // row, b.position.top_left.x))
    return [barcode.text for barcode in found]


def symbol(page: NDArray[np.uint8], left: float, top: float, dots: int) -> NDArray[np.bool_]:
    """The dark dots of a code and its quiet zone, whose corner lies at left, top (in dots)."""
    side = (MODULES + 2 * QUIET) * dots
    x, y = round(left), round(top)
    return page[y : y + side, x : x + side] < 128
