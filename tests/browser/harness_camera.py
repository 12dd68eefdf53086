"""From the printed page to the camera: PDF -> raster of a printer's head -> labels -> feed."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterable
from pathlib import Path

import zxingcpp
from PIL import Image

from bagtrail_labels.stock import HEAD_DPI, MM_PER_INCH, STOCKS

from .helpers.camera_feed import Placed, scene, write_feed

#: How long a label is held into the camera, and how long the next one takes to come (s).
HELD_S = 0.8
BETWEEN_S = 0.4
FPS = 5


def pages(pdf: Path) -> list[Image.Image]:
    """Return the pages as a head of 8 dots a millimetre prints them, by Poppler."""
    stem = pdf.with_suffix("")
    subprocess.run(
        ["pdftoppm", "-gray", "-r", str(HEAD_DPI), str(pdf), str(stem)], check=True, timeout=120
    )
    return [
        Image.open(page).convert("L") for page in sorted(stem.parent.glob(f"{stem.name}-*.pgm"))
    ]


def labels_of(pdf: Path, stock: str = "a4-24") -> dict[str, Image.Image]:
    """Cut the pages into labels; keyed by code, as an independent reader reads each of them."""
    paper = STOCKS[stock]
    dots = HEAD_DPI / MM_PER_INCH
    found: dict[str, Image.Image] = {}
    for page in pages(pdf):
        for cell in range(paper.cells):
            left, top = (round(mm * dots) for mm in paper.origin(cell))
            label = page.crop(
                (left, top, left + round(paper.label_width * dots),
                 top + round(paper.label_height * dots))
            )  # fmt: skip
            read = zxingcpp.read_barcodes(label, zxingcpp.BarcodeFormat.QRCode)
            assert len(read) <= 1, "two codes on one label"
            if read:
                found[read[0].text.rpartition(".")[2]] = label
    return found


class Camera:
    """What a phone's camera sees.

    The browser reads the file whenever it opens its camera, so what is held up may change between
    two scans of one browser.
    """

    def __init__(self, folder: Path) -> None:
        self.feed = folder / "camera.y4m"
        self.show([])

    def show(self, labels: Iterable[Image.Image], width: int = 560) -> None:
        """Hold up labels one after the other, over and over; none: the bare wall."""
        # Not in one stroke: a hand is never so still, and the decoder must not need it.
        turns = (-3.0, 2.0, 4.0, -1.0)
        scenes = []
        for i, label in enumerate(labels):
            placed = Placed(label, 0.5, 0.5, width, turns[i % len(turns)])
            scenes += [(scene(placed), HELD_S), (scene(), BETWEEN_S)]
        fresh = self.feed.with_name("next.y4m")
        write_feed(fresh, scenes or [(scene(), 1.0)], fps=FPS)
        os.replace(fresh, self.feed)  # a camera that is open goes on with the old one
