"""QR codes of addresses, for screen and paper."""

from __future__ import annotations

import qrcode
from qrcode.constants import ERROR_CORRECT_M


def rows(text: str) -> list[str]:
    """Returns a QR code as rows of 0 and 1, with its quiet zone of four modules."""
    code = qrcode.QRCode(border=4, error_correction=ERROR_CORRECT_M)
    code.add_data(text)
    code.make(fit=True)
    return ["".join("1" if dark else "0" for dark in row) for row in code.get_matrix()]


def svg(text: str) -> str:
    """Returns a QR code as an SVG picture without a size of its own."""
    grid = rows(text)
    path = "".join(
        f"M{x} {y}h1v1h-1z"
        for y, row in enumerate(grid)
        for x, dark in enumerate(row)
        if dark == "1"
    )
    side = len(grid)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}">'
        f'<path fill="#fff" d="M0 0h{side}v{side}H0z"/><path d="{path}"/></svg>'
    )
