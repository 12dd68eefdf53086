"""Each test of print runs under each rasteriser."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from .raster import HEAD, Pages, pdfium, poppler


@pytest.fixture(params=["poppler", "poppler-mono", "pdfium"])
def rasterise(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[..., Pages]:
    if request.param == "pdfium":
        return pdfium
    mono = request.param == "poppler-mono"
    return lambda pdf, dpi=HEAD: poppler(pdf, tmp_path, mono, dpi)
