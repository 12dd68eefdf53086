"""/api/people: PINs at a tablet that several people share."""

from __future__ import annotations

from typing import Any

from flask import Response, jsonify, request
from flask.views import MethodView
from flask_smorest import Blueprint

from .. import devices, passes, pins
from ..schemas import EnteredOut, PinIn, PinsOut, StayOut
from .http import caller, the_log, unhurried

blp = Blueprint("people", __name__, url_prefix="/api/people", description="People and their PINs.")


@blp.route("/pins")
class PinsView(MethodView):
    @blp.response(200, PinsOut)
    @blp.doc(security=[{"device": []}])
    def get(self) -> Response:
        """List who has a PIN."""
        devices.need_role(caller(), *devices.ROLES)
        with the_log().store.reading():
            return jsonify(pins=sorted(the_log().store.pins()))


@blp.route("/pin")
class PinView(MethodView):
    @blp.arguments(PinIn, error_status_code=422)
    @blp.response(200, PinsOut)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Set a PIN: one's own, or (owner, manager) another person's."""
        pins.set_pin(the_log(), unhurried(caller()), given["person"], given["pin"])
        with the_log().store.reading():
            return jsonify(pins=sorted(the_log().store.pins()))


@blp.route("/enter")
class EnterView(MethodView):
    @blp.arguments(PinIn, error_status_code=422)
    @blp.response(200, EnteredOut)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Say who stands at this device now; the pass gives that person's rights for minutes."""
        log, who, person = the_log(), unhurried(caller()), given["person"]
        name = pins.enter(log, who, person, given["pin"])
        role = passes.role_of(log, person)
        return jsonify(
            person=person, name=name, role=role, **{"pass": passes.give(log, who, person)}
        )


@blp.route("/stay")
class StayView(MethodView):
    @blp.response(200, StayOut)
    @blp.doc(security=[{"device": []}])
    def post(self) -> Response:
        """Make the pass anew while somebody works on; "" where it is over."""
        log, who = the_log(), unhurried(caller())
        devices.need_role(who, *devices.ROLES)
        made = passes.read(log, who, request.headers.get(passes.HEADER, ""))
        return jsonify({"pass": passes.give(log, who, made.person, made.first) if made else ""})
