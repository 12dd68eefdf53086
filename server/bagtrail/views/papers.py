"""/api/papers: forms to print that are no labels; their words come from the phone that asks."""

from __future__ import annotations

from typing import Any

from flask import Response
from flask.views import MethodView
from flask_smorest import Blueprint

from .. import printing
from ..schemas import CardIn, DaySheetIn, MixSheetIn
from .http import caller, the_log
from .labels import PDF

blp = Blueprint("papers", __name__, url_prefix="/api/papers", description="Forms to print.")


@blp.route("/card")
class CardView(MethodView):
    @blp.arguments(CardIn, error_status_code=422)
    @blp.response(200, **PDF)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Draw the command card; codes that do not check are named, nothing is printed then."""
        log = the_log()
        log.may_read(caller())
        pdf = printing.card(given["title"], given["groups"], log.identity.tag,
                            about=given["words"], paper=given["paper"],
                            language=given["language"])  # fmt: skip
        return Response(pdf, mimetype="application/pdf")


@blp.route("/day-sheet")
class DaySheetView(MethodView):
    @blp.arguments(DaySheetIn, error_status_code=422)
    @blp.response(200, **PDF)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Draw the empty day sheet: one page, to write on when no phone works."""
        the_log().may_read(caller())
        pdf = printing.day_sheet(given["title"], given["columns"], date=given["date"],
                                 by=given["by"], about=given["words"], acts=given["acts"],
                                 paper=given["paper"], language=given["language"])  # fmt: skip
        return Response(pdf, mimetype="application/pdf")


@blp.route("/mix-sheet")
class MixSheetView(MethodView):
    @blp.arguments(MixSheetIn, error_status_code=422)
    @blp.response(200, **PDF)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Draw the mix sheet: weights a charge, with boxes for what the scale showed."""
        log = the_log()
        log.may_read(caller())
        pdf = printing.mix_sheet(given["title"], given["charges"], given["heads"],
                                 log.identity.tag, code=given["code"], about=given["words"],
                                 facts=given["facts"], blanks=given["blanks"],
                                 cautions=given["cautions"], paper=given["paper"],
                                 language=given["language"])  # fmt: skip
        return Response(pdf, mimetype="application/pdf")
