"""Codes that were blurred, tilted, torn, wetted, badly printed: how many are still read.

Damage is a model at 8 dots a millimetre, seen at one pixel a dot, no photographs. Beside each row
stands what the design's table A4 measured at level H and 5 dots, of a version 4 that held an
address, by one call of the library. The same version 4 in this model comes within a few points of
it (patch anywhere 77 for 78, one dead line 81 for 80, droplets 63 for 68), so rows can be compared.

Read is as the phone reads: its own decoder (client/src/scan/engine.ts) at frames in which the label
lies still, half a second long. One call of the library reads less of a version 2 than of a version
4 where damage falls anywhere: the three finders are 31 % of the one and 18 % of the other, and no
level of correction helps a finder. The decoder draws a hidden one anew.
"""

from __future__ import annotations

import json
import os
import random
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import segno
import zxingcpp
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

from bagtrail_labels.qr import QUIET, matrix

from .raster import codes

TAG = "7K3Q"
OURS = re.compile(r"[0-9A-Z]{4}\.[0-9A-Z]{9}")
COUNT = 400 if os.environ.get("BAGTRAIL_LONG") == "1" else 100
LOOKS = 9  # of one label: half a second of frames
READER = Path(__file__).with_name("phone_reader.mjs")
DOTS = 5  # a module: 0.625 mm
MM = 8  # pixels
SHORT = 5.0  # points
AROUND = (QUIET + 4) * DOTS  # from the picture's edge to the symbol

Picture = NDArray[np.uint8]
Damage = Callable[[Picture, random.Random], Picture]


def payload(code: str, version: int) -> str:
    """What the label holds: ours, or the 37 characters of an address that the table was made of."""
    return f"{TAG}.{code}" if version == 2 else f"HTTPS://FARM-7K3Q.EXAMPLE:8443/{code}"[:38]


def clean(code: str, version: int = 2) -> Picture:
    if version == 2:
        modules = np.array(matrix(payload(code, version)))
    else:
        other = segno.make(payload(code, version), error="h", version=4, boost_error=False)
        modules = np.array([[bool(cell) for cell in row] for row in other.matrix])
    dark = np.kron(np.pad(modules, QUIET), np.ones((DOTS, DOTS), bool))
    # On a bag, not on a desk: the label's white goes on around the code, then the film begins.
    label = np.where(dark, 20, 235).astype(np.uint8)
    return np.pad(label, 4 * DOTS, constant_values=235)


def blur(sigma_mm: float) -> Damage:
    def damage(picture: Picture, _draw: random.Random) -> Picture:
        return np.array(Image.fromarray(picture).filter(ImageFilter.GaussianBlur(sigma_mm * MM)))

    return damage


def motion(length_mm: float) -> Damage:
    def damage(picture: Picture, _draw: random.Random) -> Picture:
        steps = round(length_mm * MM)
        moved = [np.roll(picture.astype(float), k - steps // 2, axis=1) for k in range(steps)]
        return np.mean(moved, axis=0).astype(np.uint8)

    return damage


def tilt(degrees: float) -> Damage:
    """Seen from the side, from four sides of the code away: one axis shrinks, the far edge more."""

    def damage(picture: Picture, draw: random.Random) -> Picture:
        side = picture.shape[0]
        image = Image.fromarray(picture).rotate(90 * draw.randrange(4))
        half, far = side / 2, 4.0 * side
        slope = np.radians(degrees)
        corners = []
        for x, y in ((-half, -half), (half, -half), (half, half), (-half, half)):
            depth = far + y * np.sin(slope)
            corners.append((half + x * far / depth, half + y * np.cos(slope) * far / depth))
        source = [(0, 0), (side, 0), (side, side), (0, side)]
        rows, answers = [], []
        for (u, v), (x, y) in zip(source, corners, strict=True):
            rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
            answers += [u, v]
        form = np.linalg.solve(np.array(rows), np.array(answers))
        return np.array(
            image.transform(
                (side, side), Image.Transform.PERSPECTIVE, tuple(form),
                Image.Resampling.BICUBIC, fillcolor=235,
            )
        )  # fmt: skip

    return damage


def contrast(share: float) -> Damage:
    def damage(picture: Picture, draw: random.Random) -> Picture:
        noise = np.random.default_rng(draw.randrange(2**32)).normal(0, 2.0, picture.shape)
        grey = 128 + (picture.astype(float) - 128) * share + noise
        return np.clip(grey, 0, 255).astype(np.uint8)

    return damage


def patch(share: float, on_data: bool) -> Damage:
    """A square of the symbol's area goes white or black; on data, no finder lies under it."""

    def damage(picture: Picture, draw: random.Random) -> Picture:
        first, size = AROUND, picture.shape[0] - 2 * AROUND
        side = round((share * size**2) ** 0.5)
        room = size - side
        out = picture.copy()
        if on_data:
            # From the lower right corner inwards: the three finders are at the others.
            inset = draw.randrange(2 * DOTS) if room > 8 * DOTS + 2 * DOTS else 0
            x = y = first + room - inset
        else:
            x, y = first + draw.randrange(room + 1), first + draw.randrange(room + 1)
        out[y : y + side, x : x + side] = draw.choice((20, 235))
        return out

    return damage


def droplets(share: float, least_mm: float = 1.0, most_mm: float = 3.0) -> Damage:
    """Drops that hide what lies under them, till so much of the symbol is covered."""

    def damage(picture: Picture, draw: random.Random) -> Picture:
        image = Image.fromarray(picture)
        pen = ImageDraw.Draw(image)
        covered = Image.new("1", image.size)
        mark = ImageDraw.Draw(covered)
        first, size = AROUND, picture.shape[0] - 2 * AROUND
        while np.array(covered)[first:, first:][:size, :size].mean() < share:
            radius = draw.uniform(least_mm, most_mm) * MM / 2
            x, y = (first + draw.uniform(0, size) for _ in "xy")
            box = (x - radius, y - radius, x + radius, y + radius)
            pen.ellipse(box, fill=draw.choice((60, 150, 245)))
            mark.ellipse(box, fill=1)
        return np.array(image)

    return damage


def dead_lines(count: int) -> Damage:
    """Heater elements of the head that never burn: white lines, one dot wide, along the feed."""

    def damage(picture: Picture, draw: random.Random) -> Picture:
        first, size = AROUND, picture.shape[0] - 2 * AROUND
        out = picture.copy()
        for line in draw.sample(range(size), count):
            out[:, first + line] = 235
        return out

    return damage


# What is done, and what the table measured for it at level H and 5 dots (of 100).
TABLE: dict[str, tuple[Damage, float]] = {
    "clean": (lambda picture, _draw: picture, 100),
    "blur of 0.2 mm": (blur(0.2), 100),
    "blur of 0.3 mm": (blur(0.3), 100),
    "motion of 1 mm": (motion(1.0), 100),
    "tilt of 45 degrees": (tilt(45), 100),
    "tilt of 55 degrees": (tilt(55), 80),
    "tilt of 65 degrees": (tilt(65), 42),
    "contrast of 15 %": (contrast(0.15), 100),
    "contrast of 8 %": (contrast(0.08), 88),
    "a patch of 5 % on data": (patch(0.05, True), 100),
    "a patch of 10 % on data": (patch(0.10, True), 100),
    "a patch of 15 % on data": (patch(0.15, True), 100),
    "a patch of 5 % anywhere": (patch(0.05, False), 78),
    "a patch of 10 % anywhere": (patch(0.10, False), 60),
    "droplets over 2 %": (droplets(0.02), 68),
    "droplets over 5 %": (droplets(0.05), 42),
    "droplets over 10 %": (droplets(0.10), 12),
    "one dead heater line": (dead_lines(1), 80),
    "three dead heater lines": (dead_lines(3), 68),
    "eight dead heater lines": (dead_lines(8), 28),
}


def damaged(damage: Damage, count: int, version: int = 2) -> list[tuple[str, Picture]]:
    """Codes with their damaged pictures, the same at every run."""
    draw = random.Random(7)
    return [(code, damage(clean(code, version), draw)) for code in codes(count, seed=17)]


def library_share(damage: Damage, version: int) -> float:
    """Percent of 400 codes that one call of the library gets right."""
    right = 0
    for code, picture in damaged(damage, 400, version):
        found = zxingcpp.read_barcodes(picture, zxingcpp.BarcodeFormat.QRCode)
        right += payload(code, version) in {one.text for one in found if one.valid}
    return 100 * right / 400


def phone_share(damage: Damage, looks: int = LOOKS) -> float:
    """Percent of the codes that the phone's decoder gets right; a wrong one is an error."""
    pictures = damaged(damage, COUNT)
    side = pictures[0][1].shape[0]
    head = json.dumps({"side": side, "looks": looks}).encode() + b"\n"
    node = shutil.which("node")
    assert node, "Node is needed; tests/run installs it"
    told = subprocess.run(
        [node, str(READER)], input=head + b"".join(p.tobytes() for _, p in pictures),
        capture_output=True, check=True, timeout=600,
    )  # fmt: skip
    right = 0
    for (code, _), line in zip(pictures, told.stdout.splitlines(), strict=True):
        texts = set(json.loads(line)[0])
        # A drop may look like a tiny code of something; it never looks like a label of ours.
        assert {text for text in texts if OURS.fullmatch(text)} <= {f"{TAG}.{code}"}
        right += f"{TAG}.{code}" in texts
    return 100 * right / COUNT


@pytest.mark.parametrize("name", TABLE)
def test_the_phone_reads_damaged_prints_as_often_as_the_table(name: str) -> None:
    damage, measured = TABLE[name]
    share = phone_share(damage)
    assert share >= measured - SHORT


def test_the_model_gives_what_the_table_measured_of_version_4() -> None:
    for name in ("a patch of 5 % anywhere", "one dead heater line", "droplets over 2 %"):
        damage, measured = TABLE[name]
        assert abs(library_share(damage, 4) - measured) <= 8  # the table's own error at 40 codes


def test_what_is_under_the_damage_counts() -> None:
    """The model can fail: a print under half a centimetre of blur is read by nobody."""
    assert phone_share(blur(0.8)) == 0
    assert phone_share(patch(0.6, False)) < 5
