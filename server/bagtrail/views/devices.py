"""/api/devices: one-time codes and pairing."""

from __future__ import annotations

from typing import Any

from flask import Response, jsonify, request
from flask.views import MethodView
from flask_smorest import Blueprint

from .. import devices
from ..answers import heard
from ..schemas import CodeIn, CodeOut, ConfirmIn, ConfirmOut, DevicesOut, PairIn, PairOut, RevokeIn
from .http import caller, origin, the_log
from .network import invitation, standing

blp = Blueprint("devices", __name__, url_prefix="/api/devices", description="Phones and tablets.")


@blp.route("")
class DevicesView(MethodView):
    @blp.response(200, DevicesOut)
    @blp.doc(security=[{"device": []}])
    def get(self) -> Response:
        """List every device with what is known of what waits on it (owner, manager)."""
        devices.need_role(caller(), "owner", "manager")
        return jsonify(devices=heard.devices(the_log()))


@blp.route("/confirm")
class ConfirmView(MethodView):
    @blp.arguments(ConfirmIn, error_status_code=422)
    @blp.response(200, ConfirmOut)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Let devices pull again after the log was put back (owner)."""
        who = caller()
        devices.need_role(who, "owner")
        return jsonify(confirmed=devices.confirm(the_log(), who.by, given.get("devices")))


@blp.route("/revoke")
class RevokeView(MethodView):
    @blp.arguments(RevokeIn, error_status_code=422)
    @blp.response(200, DevicesOut)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Take a device's key back; what it sends is held (owner; a manager for others)."""
        who = caller()
        devices.need_role(who, "owner", "manager")
        with the_log().store.reading():
            target = the_log().store.device(given["dev"])
        if target and target["role"] == "owner":
            devices.need_role(who, "owner")  # a manager must not shut the owner out
        devices.revoke(the_log(), given["dev"], given["why"], who.by)
        return jsonify(devices=heard.devices(the_log()))


@blp.route("/pair")
class PairView(MethodView):
    @blp.arguments(PairIn, error_status_code=422)
    @blp.response(200, PairOut)
    def post(self, given: dict[str, Any]) -> Response:
        """Use up a one-time code and give the device its key."""
        who = request.remote_addr or "?"
        return jsonify(devices.pair(the_log(), given["code"], given["name"], given["person"], who))


@blp.route("/codes")
class CodesView(MethodView):
    @blp.arguments(CodeIn, error_status_code=422)
    @blp.response(200, CodeOut)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Make a one-time code for another device (owner; a manager for workers and managers)."""
        who = caller()
        allowed = ("owner",) if given["role"] == "owner" else ("owner", "manager")
        devices.need_role(who, *allowed)
        made = devices.new_code(the_log(), given["role"], given["person"], who.dev)
        stands = standing()
        at = stands.origin if stands else origin()
        return jsonify({**made, "url": f"{at}/#pair={made['code']}", "invitation": invitation()})
