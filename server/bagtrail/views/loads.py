"""/api/loads: temperature logs of loads, in by pieces, out as what they were worth."""

from __future__ import annotations

from typing import Any, cast

from flask import Response, current_app, jsonify, send_file
from flask.views import MethodView
from flask_smorest import Blueprint

from ..loadlogs import LoadLogs
from ..schemas import LogAsked, LogOut, LogPart, PhotoPartOut
from .http import caller, piece_of, the_log, unhurried

blp = Blueprint("loads", __name__, url_prefix="/api", description="Temperature logs of loads.")


def the_logs() -> LoadLogs:
    """Returns the temperature logs of the running application's farm."""
    return cast(LoadLogs, current_app.extensions["bagtrail.logs"])


@blp.route("/loads/log")
class LogView(MethodView):
    @blp.arguments(LogPart, error_status_code=422)
    @blp.response(200, PhotoPartOut)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Take a piece of a temperature log in; the reply says where to go on."""
        the_log().may_read(unhurried(caller()))
        piece = piece_of(given["data"])
        have, whole = the_logs().take(given["sha256"], given["bytes"], given["offset"], piece)
        return jsonify({"k": "log1", "sha256": given["sha256"], "have": have, "whole": whole})


@blp.route("/loads/log/score")
class ScoreView(MethodView):
    @blp.arguments(LogAsked, error_status_code=422)
    @blp.response(200, LogOut)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Guess how a log is written, or take what was confirmed; say what it was worth."""
        the_log().may_read(unhurried(caller()))
        return jsonify(the_logs().answer(given))


@blp.route("/loads/log/<code>")
class LogFileView(MethodView):
    @blp.response(200, {"type": "string", "format": "binary"}, content_type="text/csv")
    @blp.doc(security=[{"device": []}])
    def get(self, code: str) -> Response:
        """Give a temperature log as it came, by its SHA-256."""
        the_log().may_read(caller())
        path = the_logs().path(code)
        reply = send_file(
            path, mimetype="text/csv", as_attachment=True, download_name=f"log-{code[:8]}.csv"
        )
        reply.headers["Cache-Control"] = "private, max-age=31536000, immutable"
        return reply
