"""/api/answers: questions over the folded state."""

from __future__ import annotations

from typing import Any

from flask import Response, jsonify
from flask.views import MethodView
from flask_smorest import Blueprint

from .. import devices
from ..answers import batch, came, find, load, part, place
from ..schemas import FindArgs
from .http import caller, the_log

blp = Blueprint("answers", __name__, url_prefix="/api/answers", description="What is where.")


@blp.route("/find")
class FindView(MethodView):
    @blp.arguments(FindArgs, location="query")
    @blp.response(200)
    @blp.doc(security=[{"device": []}])
    def get(self, args: dict[str, Any]) -> Response:
        """Find batches, bags, places and more by a code or a word."""
        log = the_log()
        log.may_read(caller())
        with log.live.now() as farm:
            return jsonify(find.find(farm, args["q"], args["limit"]))


@blp.route("/batch/<code>")
class BatchView(MethodView):
    @blp.response(200)
    @blp.doc(security=[{"device": []}])
    def get(self, code: str) -> Response:
        """Say where a batch lives and what it yielded."""
        log = the_log()
        log.may_read(caller())
        with log.live.now() as farm:
            return jsonify(batch.batch(farm, code))


@blp.route("/part/<code>")
class PartView(MethodView):
    @blp.response(200)
    @blp.doc(security=[{"device": []}])
    def get(self, code: str) -> Response:
        """Say what a bag or group is, where it stands and what happened to it."""
        log = the_log()
        log.may_read(caller())
        with log.live.now() as farm:
            return jsonify(part.part(farm, code))


@blp.route("/place/<code>")
class PlaceView(MethodView):
    @blp.response(200)
    @blp.doc(security=[{"device": []}])
    def get(self, code: str) -> Response:
        """Say what stands at a place and in the places inside it."""
        log = the_log()
        log.may_read(caller())
        with log.live.now() as farm:
            return jsonify(place.place(farm, code))


@blp.route("/record/<code>")
class RecordView(MethodView):
    @blp.response(200)
    @blp.doc(security=[{"device": []}])
    def get(self, code: str) -> Response:
        """Show one record as it came, also where it cannot be read (owner, manager)."""
        devices.need_role(caller(), "owner", "manager")
        return jsonify(came.came(the_log(), code))


@blp.route("/loads")
class LoadsView(MethodView):
    @blp.response(200)
    @blp.doc(security=[{"device": []}])
    def get(self) -> Response:
        """List the steriliser loads, open ones first."""
        log = the_log()
        log.may_read(caller())
        with log.live.now() as farm:
            return jsonify(load.loads(farm))


@blp.route("/load/<code>")
class LoadView(MethodView):
    @blp.response(200)
    @blp.doc(security=[{"device": []}])
    def get(self, code: str) -> Response:
        """Say what stood in a load, how it went, and the record of its vessel."""
        log = the_log()
        log.may_read(caller())
        with log.live.now() as farm:
            return jsonify(load.load(farm, code))
