"""Labels as a use case: checks the codes, then asks bagtrail_labels for the PDF."""

from __future__ import annotations

from typing import Any

from . import ids
from .errors import BadCode, BadLabel


def draw(labels: list[dict[str, Any]], stock: str, tag: str, start: int = 0) -> bytes:
    """Returns a PDF of labels.

    Args:
        labels: dicts of code, and where known batch, number, what, day, free.
        stock: the name of a stock in bagtrail_labels.stock.
        tag: the farm's four symbols.
        start: cells of the first sheet already used up.

    Raises:
        BadCode: codes that do not check, all of them named.
        BadLabel: no such stock, or a text that cannot be printed.
    """
    bad = [label["code"] for label in labels if not ids.is_code(label["code"])]
    if bad:
        raise BadCode(f"{bad[0]} is no code: its last symbol does not fit.", details={"codes": bad})
    # WeasyPrint takes half a second to import; a start of the server must not pay for it.
    from bagtrail_labels import Label, LabelError, render, stock_named

    try:
        return render([Label(**label) for label in labels], stock_named(stock), tag, start=start)
    except LabelError as bad_label:
        raise BadLabel(
            bad_label.message, bad_label.todo, {"reason": bad_label.code, **bad_label.details}
        ) from bad_label
