"""Pictures of labels -> a file that Chromium plays as its camera (a loop, one file a browser).

`write_feed(path, [(scene(label), 2.0), (scene(), 2.0)])` shows a label two seconds in every four.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

import qrcode
from PIL import Image, ImageDraw, ImageFilter, ImageFont

SIZE = (1280, 720)
FPS = 10

# A shed's wall behind the bags: neither the label's white nor the code's black.
WALL = 118


class Placed(NamedTuple):
    """A label in a scene: picture, middle as shares of the frame, width in px, turn."""

    picture: Image.Image
    x: float = 0.5
    y: float = 0.5
    width: int = 420
    degrees: float = 0.0


def label_picture(payload: str, text: str | None = None) -> Image.Image:
    """Draw a label of 50 x 30 mm at 8 px/mm: QR of level H, modules of 0.625 mm, code beside it."""
    # Spelled out, as micro symbols and lower levels are read by other paths of the decoder.
    code = qrcode.QRCode(error_correction=qrcode.ERROR_CORRECT_H, box_size=5, border=4)
    code.add_data(payload)
    code.make(fit=True)
    symbol = code.make_image().get_image().convert("L")
    label = Image.new("L", (400, 240), 255)
    label.paste(symbol, (8, (240 - symbol.height) // 2))
    draw = ImageDraw.Draw(label)
    draw.text((188, 90), text or payload[-9:], fill=0, font=ImageFont.load_default(30))
    return label


def scene(
    *labels: Image.Image | Placed, size: tuple[int, int] = SIZE, blur: float = 0.0
) -> Image.Image:
    """Lay labels on a wall as the camera sees them: grey, `blur` is the Gaussian's sigma in px."""
    frame = Image.new("L", size, WALL)
    for label in labels:
        placed = label if isinstance(label, Placed) else Placed(label)
        full = placed.picture.convert("L")
        shown = (placed.width, round(placed.width * full.height / full.width))
        picture = full.resize(shown, Image.Resampling.LANCZOS).rotate(
            placed.degrees, Image.Resampling.BICUBIC, expand=True, fillcolor=WALL
        )
        corner = (
            round(placed.x * size[0] - picture.width / 2),
            round(placed.y * size[1] - picture.height / 2),
        )
        frame.paste(picture, corner)
    return frame.filter(ImageFilter.GaussianBlur(blur)) if blur else frame


def write_feed(path: Path, scenes: Sequence[tuple[Image.Image, float]], fps: int = FPS) -> Path:
    """Write scenes, each shown for its seconds, to a .y4m (raw) or .mjpeg file; returns the path.

    Chromium knows the format by these endings only, and finds no camera behind any other.
    """
    frames = ((picture, max(1, round(seconds * fps))) for picture, seconds in scenes)
    write = {".y4m": _write_y4m, ".mjpeg": _write_mjpeg}[path.suffix]
    write(path, frames, fps)
    return path


def _write_y4m(path: Path, frames: Iterable[tuple[Image.Image, int]], fps: int) -> None:
    with path.open("wb") as out:
        for first, (picture, count) in enumerate(frames):
            width, height = picture.size
            if first == 0:
                out.write(f"YUV4MPEG2 W{width} H{height} F{fps}:1 Ip A1:1 C420jpeg\n".encode())
            y, cb, cr = picture.convert("YCbCr").split()
            half = (width // 2, height // 2)
            planes = y.tobytes() + cb.resize(half).tobytes() + cr.resize(half).tobytes()
            for _ in range(count):
                out.write(b"FRAME\n" + planes)


def _write_mjpeg(path: Path, frames: Iterable[tuple[Image.Image, int]], fps: int) -> None:
    # Chromium plays it at 30 frames a second whatever is wanted: the counts are stretched to fit.
    with path.open("wb") as out:
        for picture, count in frames:
            buffer = io.BytesIO()
            picture.convert("RGB").save(buffer, "JPEG", quality=90)
            out.write(buffer.getvalue() * (count * 30 // fps))
