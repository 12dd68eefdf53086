"""/api/labels: labels and codes in, PDFs and pictures out; what stock and layouts there are."""

from __future__ import annotations

from typing import Any

from flask import Response, jsonify
from flask.views import MethodView
from flask_smorest import Blueprint

from .. import printing
from ..schemas import CalibrationIn, LabelsIn, SheetIn
from ..sync import Log
from .http import caller, the_log

blp = Blueprint("labels", __name__, url_prefix="/api/labels", description="Labels to print.")
PDF = {"schema": {"type": "string", "format": "binary"}, "content_type": "application/pdf"}
PNG = {"schema": {"type": "string", "format": "binary"}, "content_type": "image/png"}
SCREEN_DPI = 203.2


def _readable() -> Log:
    log = the_log()
    log.may_read(caller())
    return log


def _printer(given: dict[str, Any]) -> dict[str, float]:
    return {key: given[key] for key in ("dpi", "nudge_x", "nudge_y") if key in given}


def _job(log: Log, given: dict[str, Any]) -> tuple[bytes, float]:
    """Draws a job; what it does not say is as the farm chose. Returns the PDF and its dpi."""
    printing.only_one_of(given)
    with log.live.now() as farm:
        own = printing.chosen(farm)
        language = given.get("language", own["language"])
        labels = given.get("labels") or printing.labels_of(farm, given["codes"], language)
    stock = printing.stock_in(given.get("stock", own["stock"]), _printer(given))
    layouts = printing.layouts_in({**own["layouts"], **given.get("layouts", {})})
    pdf = printing.draw(labels, stock, log.identity.tag, given["start"], layouts=layouts,
                        language=language, address=own["address"])  # fmt: skip
    return pdf, stock.dpi


@blp.route("")
class LabelsView(MethodView):
    @blp.arguments(LabelsIn, error_status_code=422)
    @blp.response(200, **PDF)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Draw labels on a stock; codes that do not check are named, nothing is printed then."""
        pdf, _dpi = _job(_readable(), given)
        return Response(pdf, mimetype="application/pdf")


@blp.route("/preview")
class PreviewView(MethodView):
    @blp.arguments(LabelsIn, error_status_code=422)
    @blp.response(200, **PNG)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Draw the first page of the same job as a picture, to look at before it is printed."""
        pdf, dpi = _job(_readable(), given)
        return Response(printing.picture(pdf, min(dpi, SCREEN_DPI)), mimetype="image/png")


@blp.route("/calibration")
class CalibrationView(MethodView):
    @blp.arguments(CalibrationIn, error_status_code=422)
    @blp.response(200, **PDF)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Draw the page that shows how far a printer feeds off: outlines and rulers in mm."""
        log = _readable()
        with log.live.now() as farm:
            own = printing.chosen(farm)
        stock = printing.stock_in(given.get("stock", own["stock"]), _printer(given))
        language = given.get("language", own["language"])
        pdf = printing.calibration(stock, given["words"], language)
        return Response(pdf, mimetype="application/pdf")


@blp.route("/sheet")
class SheetView(MethodView):
    @blp.arguments(SheetIn, error_status_code=422)
    @blp.response(200, **PDF)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Draw a batch's page for the file: its mix, and the code of each labelled bag."""
        log = _readable()
        with log.live.now() as farm:
            own = printing.chosen(farm)
            pdf = printing.sheet(farm, given["batch"], log.identity.tag, given["paper"],
                                 given["dpi"], own["language"], own["address"])  # fmt: skip
        return Response(pdf, mimetype="application/pdf")


@blp.route("/stocks")
class StocksView(MethodView):
    @blp.response(200)
    @blp.doc(security=[{"device": []}])
    def get(self) -> Response:
        """List the label stocks with their measures in mm, and the farm's own choice."""
        log = _readable()
        with log.live.now() as farm:
            own = printing.chosen(farm)
        return jsonify(stocks=printing.stocks(), own=own)


@blp.route("/layouts")
class LayoutsView(MethodView):
    @blp.response(200)
    @blp.doc(security=[{"device": []}])
    def get(self) -> Response:
        """Say what a layout is made of, which are usual, and which the farm chose."""
        log = _readable()
        with log.live.now() as farm:
            own = printing.chosen(farm)["layouts"]
        chosen = {letter: parts.as_data() for letter, parts in printing.layouts_in(own).items()}
        return jsonify(**printing.layouts(), own=chosen)


@blp.route("/advice")
class AdviceView(MethodView):
    @blp.response(200)
    @blp.doc(security=[{"device": []}])
    def get(self) -> Response:
        """Say what each stock lives through, in message ids with the grade of their source."""
        _readable()
        return jsonify(printing.advice())
