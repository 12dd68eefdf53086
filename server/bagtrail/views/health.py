"""/api/health: how everything does, for the owner and for a monitor."""

from __future__ import annotations

from typing import cast

from flask import Response, current_app, jsonify, request
from flask.views import MethodView
from flask_smorest import Blueprint

from .. import devices, keys
from ..network import health
from ..schemas import HealthOut
from .http import caller, the_log
from .network import the_settings

blp = Blueprint("health", __name__, url_prefix="/api", description="How everything does.")


@blp.route("/health")
class HealthView(MethodView):
    @blp.response(200, HealthOut)
    @blp.doc(security=[{"device": []}])
    def get(self) -> Response:
        """Say how certificate, phones, backups, disk and log do (owner, manager, monitor)."""
        if not _is_monitor():
            devices.need_role(caller(), "owner", "manager")
        chain = current_app.extensions.setdefault("bagtrail.chain", health.Chain())
        found = health.health(the_log(), the_settings(), cast(health.Chain, chain))
        return jsonify(found)


def _is_monitor() -> bool:
    token = the_settings().monitor_token
    said = request.headers.get("Authorization", "")
    return bool(token) and keys.same(said, f"Bearer {token}")
