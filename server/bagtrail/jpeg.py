"""Whether some bytes are one whole baseline or progressive JPEG with nothing else in it.

Markers after ITU-T T.81 (JPEG, 1992), Annex B. Segments that can say where and by whom a picture
was taken (APP1: Exif, XMP; APP13; comments; all but JFIF, colour profile and Adobe's transform)
are refused: the phone removes them, and what was not removed is not kept.
"""

from __future__ import annotations

from .errors import BadPhoto

MOST_PX = 4_096  # either side; the phone shrinks to 1,600
_FRAMES = {0xC0, 0xC1, 0xC2}  # SOF0 baseline, SOF1 extended, SOF2 progressive
_APPS = {0xE0: "JFIF", 0xE2: "a colour profile", 0xEE: "Adobe's transform"}
_BARE = {0x01, *range(0xD0, 0xD8)}  # TEM, RST0-7: markers without a length


def size(data: bytes) -> tuple[int, int]:
    """Returns (width, height) of a JPEG in pixels.

    Raises:
        BadPhoto: it is none, is cut off, is too large, or carries more than the picture.
    """
    if data[:2] != b"\xff\xd8":
        raise BadPhoto("This is not a JPEG.")
    at, found = 2, (0, 0)
    while True:
        at, marker = _next_marker(data, at)
        if marker == 0xD9:
            break
        if marker in _BARE:
            continue
        length = int.from_bytes(data[at : at + 2], "big")
        segment = data[at + 2 : at + length]
        if length < 2 or len(segment) != length - 2:
            raise BadPhoto("The JPEG is cut off.")
        if marker in _FRAMES:
            found = _frame(segment)
        elif 0xE0 <= marker <= 0xEF and marker not in _APPS or marker == 0xFE:
            raise BadPhoto("The picture still carries notes of the camera (position, time, name).")
        at += length
        if marker == 0xDA:  # the scan: everything up to the next marker that is no restart
            at = _after_scan(data, at)
    if found == (0, 0):
        raise BadPhoto("The JPEG has no picture in it.")
    if at != len(data):
        raise BadPhoto("Something stands behind the end of the picture.")
    return found


def _next_marker(data: bytes, at: int) -> tuple[int, int]:
    """Returns (offset after the marker, marker); fill bytes 0xFF may stand before it."""
    if data[at : at + 1] != b"\xff":
        raise BadPhoto("The JPEG is damaged." if at < len(data) else "The JPEG is cut off.")
    while data[at : at + 1] == b"\xff":
        at += 1
    if at >= len(data):
        raise BadPhoto("The JPEG is cut off.")
    return at + 1, data[at]


def _after_scan(data: bytes, at: int) -> int:
    while True:
        at = data.find(b"\xff", at)
        if at < 0 or at + 1 >= len(data):
            raise BadPhoto("The JPEG is cut off.")
        follows = data[at + 1]
        if follows != 0 and not 0xD0 <= follows <= 0xD7 and follows != 0xFF:
            return at
        at += 1 if follows == 0xFF else 2


def _frame(segment: bytes) -> tuple[int, int]:
    if len(segment) < 6:
        raise BadPhoto("The JPEG is damaged.")
    height, width = (int.from_bytes(segment[i : i + 2], "big") for i in (1, 3))
    if not (0 < width <= MOST_PX and 0 < height <= MOST_PX):
        raise BadPhoto(f"The picture is {width} x {height} px; at most {MOST_PX} either way.")
    return width, height
