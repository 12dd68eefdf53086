"""/api/farm and /api/catalogue: what anybody may know."""

from __future__ import annotations

from flask import Response, jsonify
from flask.views import MethodView
from flask_smorest import Blueprint

from .. import catalogue
from ..schemas import FarmOut
from ..sync import now_ms
from ..version import VERSION
from .http import the_log

blp = Blueprint("farm", __name__, url_prefix="/api", description="Which farm this is.")


@blp.route("/farm")
class FarmView(MethodView):
    @blp.response(200, FarmOut)
    def get(self) -> Response:
        """Say which farm answers here."""
        log = the_log()
        settings = log.live.ref("settings")
        return jsonify(
            k="farm1",
            farm=log.identity.farm,
            tag=log.identity.tag,
            name=settings.get("name", ""),
            zone=settings.get("zone", "UTC"),
            now=now_ms(),
            version=VERSION,
        )


@blp.route("/catalogue")
class CatalogueView(MethodView):
    @blp.response(200)
    def get(self) -> Response:
        """Give every kind of record with its fields and effects."""
        return jsonify(catalogue.export())
