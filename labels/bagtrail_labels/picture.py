"""Pages of a PDF as PNG, for printers whose drivers take pictures only, and for previews."""

from __future__ import annotations

import io
from collections.abc import Iterator

from .errors import LabelError
from .stock import HEAD_DPI

MOST_DOTS = 60_000_000  # a page: A4 at 600 dpi is 35 million


def pictures(pdf: bytes, dpi: float = HEAD_DPI, *, black_and_white: bool = True) -> Iterator[bytes]:
    """Each page in turn as the bytes of a PNG with its resolution written into it.

    In black and white every dot is as a label printer's head burns it, and codes are exactly
    as in the PDF; grey is for screens. Raises LabelError `label_picture` where pypdfium2 is not
    installed or a page would have too many dots.
    """
    try:
        import pypdfium2
    except ImportError as missing:
        raise LabelError(
            "label_picture",
            "Pictures of labels need the Python package pypdfium2, which is not installed.",
            "Install it beside Bagtrail (pip install pypdfium2), or print the PDF.",
        ) from missing
    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            wide, high = (side / 72 * dpi for side in page.get_size())
            if wide * high > MOST_DOTS:
                raise LabelError(
                    "label_picture",
                    f"A page of {wide:.0f} x {high:.0f} dots is too large for a picture.",
                    "Choose fewer dots per inch.",
                )
            image = page.render(scale=dpi / 72, grayscale=True).to_pil()
            if black_and_white:
                image = image.point(lambda grey: 255 if grey >= 128 else 0).convert("1")
            out = io.BytesIO()
            image.save(out, "PNG", dpi=(dpi, dpi))
            yield out.getvalue()
    finally:
        document.close()
