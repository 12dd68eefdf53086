"""Printed labels: codes and a table of label paper in, a PDF out. Knows nothing of the server."""

from .calibrate import calibration
from .card import command_card
from .day_sheet import day_sheet
from .errors import LabelError
from .mix_sheet import mix_sheet
from .parts import LAYOUTS, Layout, Part, layout_from
from .picture import pictures
from .render import Label, grouped, render
from .sheet import batch_sheet
from .stock import STOCKS, Stock, stock_from, stock_named

__all__ = [
    "LAYOUTS",
    "STOCKS",
    "Label",
    "LabelError",
    "Layout",
    "Part",
    "Stock",
    "batch_sheet",
    "calibration",
    "command_card",
    "day_sheet",
    "grouped",
    "layout_from",
    "mix_sheet",
    "pictures",
    "render",
    "stock_from",
    "stock_named",
]
