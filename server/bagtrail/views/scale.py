"""/api/scale: what the scale on the farm's computer says."""

from __future__ import annotations

from typing import Any, cast

from flask import Response, current_app, jsonify
from flask.views import MethodView
from flask_smorest import Blueprint

from ..scale import Scale
from ..schemas import ScaleArgs, ScaleOut
from .http import caller, the_log, unhurried

blp = Blueprint("scale", __name__, url_prefix="/api", description="The scale at the bench.")


@blp.route("/scale")
class ScaleView(MethodView):
    @blp.arguments(ScaleArgs, location="query", error_status_code=422)
    @blp.response(200, ScaleOut)
    @blp.doc(security=[{"device": []}])
    def get(self, args: dict[str, Any]) -> Response:
        """Give the lines that came after the last one a desk has."""
        the_log().may_read(unhurried(caller()))
        scale = cast(Scale, current_app.extensions["bagtrail.scale"])
        return jsonify(scale.since(args["after"]))
