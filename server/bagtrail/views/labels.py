"""/api/labels: codes in, a PDF out."""

from __future__ import annotations

from typing import Any

from flask import Response
from flask.views import MethodView
from flask_smorest import Blueprint

from .. import printing
from ..schemas import LabelsIn
from .http import caller, the_log

blp = Blueprint("labels", __name__, url_prefix="/api", description="Labels to print.")


@blp.route("/labels")
class LabelsView(MethodView):
    @blp.arguments(LabelsIn, error_status_code=422)
    @blp.response(200, {"type": "string", "format": "binary"}, content_type="application/pdf")
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Draw labels on a stock; codes that do not check are named, nothing is printed then."""
        log = the_log()
        log.may_read(caller())
        pdf = printing.draw(given["labels"], given["stock"], log.identity.tag, given["start"])
        return Response(pdf, mimetype="application/pdf")
