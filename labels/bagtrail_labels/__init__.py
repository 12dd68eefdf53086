"""Printed labels: codes and a table of label paper in, a PDF out. Knows nothing of the server."""

from .errors import LabelError
from .render import Label, grouped, render
from .stock import STOCKS, Stock, stock_named

__all__ = ["STOCKS", "Label", "LabelError", "Stock", "grouped", "render", "stock_named"]
