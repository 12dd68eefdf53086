"""/api/sync: push, pull, snapshot."""

from __future__ import annotations

from typing import Any

from flask import Response, current_app, jsonify, request
from flask.views import MethodView
from flask_smorest import Blueprint

from .. import devices, foreign
from ..answers import heard
from ..backup_now import BackupNow
from ..network import phones
from ..schemas import (
    AdmittedOut,
    AwayIn,
    LinesIn,
    LinesOut,
    Offer,
    OfferOut,
    PullArgs,
    PullOut,
    Push,
    PushOut,
    SnapshotArgs,
    SnapshotOut,
    StateOut,
    WaitArgs,
    WaitOut,
)
from .http import caller, the_log, unhurried
from .network import the_settings

blp = Blueprint("sync", __name__, url_prefix="/api/sync", description="The log, both ways.")


@blp.route("/push")
class PushView(MethodView):
    @blp.arguments(Push, error_status_code=422)
    @blp.response(200, PushOut)
    @blp.doc(security=[{"device": []}])
    def post(self, push: dict[str, Any]) -> Response:
        """Take records in; what the reply names is on the server's disk."""
        who = unhurried(caller())
        push["oldest"] = push["oldest"] or 0
        reply = the_log().accept(who, push)
        known = current_app.extensions.setdefault("bagtrail.phones", {})
        app = request.headers.get("X-Bagtrail-App", "")
        phones.note(the_log(), known, who.dev, app, push["now"])
        return jsonify(reply)


@blp.route("/foreign")
class ForeignView(MethodView):
    @blp.arguments(Push, error_status_code=422)
    @blp.response(200, PushOut)
    @blp.doc(security=[{"device": []}])
    def post(self, push: dict[str, Any]) -> Response:
        """Take in records of another farm from a file, held until they are let count (bosses)."""
        who = caller()
        devices.need_role(who, "owner", "manager")
        push["oldest"] = push["oldest"] or 0
        return jsonify(foreign.take(the_log(), unhurried(who), push))


@blp.route("/foreign/admit")
class ForeignAdmitView(MethodView):
    @blp.response(200, AdmittedOut)
    @blp.doc(security=[{"device": []}])
    def post(self) -> Response:
        """Let records of another farm count, up to 500 a request (owner, manager)."""
        who = caller()
        devices.need_role(who, "owner", "manager")
        return jsonify({"k": "admit1", **foreign.admit(the_log(), who.by)})


@blp.route("/offer")
class OfferView(MethodView):
    @blp.arguments(Offer, error_status_code=422)
    @blp.response(200, OfferOut)
    @blp.doc(security=[{"device": []}])
    def post(self, offer: dict[str, Any]) -> Response:
        """Say which of the records a device keeps are missing here, after a restore."""
        return jsonify(the_log().offer(unhurried(caller()), offer))


@blp.route("/pull")
class PullView(MethodView):
    @blp.arguments(PullArgs, location="query")
    @blp.response(200, PullOut)
    @blp.doc(security=[{"device": []}])
    def get(self, args: dict[str, Any]) -> Response:
        """Give the records after a cursor, in the order of the log."""
        page = the_log().since(
            caller(), args["c"], args["limit"], args["nonce"], args["st"], args["back"]
        )
        return jsonify(page)


@blp.route("/wait")
class WaitView(MethodView):
    @blp.arguments(WaitArgs, location="query", error_status_code=422)
    @blp.response(200, WaitOut)
    @blp.doc(security=[{"device": []}])
    def get(self, args: dict[str, Any]) -> Response:
        """Answer when the log has grown beyond a device's cursor, or after a while without news."""
        log = the_log()
        who = unhurried(caller())
        log.may_read(who)
        told = log.news.wait(who.dev, args["epoch"], args["pos"])
        return jsonify({**told, "farm": log.identity.farm, "nonce": args["nonce"]})


@blp.route("/snapshot")
class SnapshotView(MethodView):
    @blp.arguments(SnapshotArgs, location="query", error_status_code=422)
    @blp.response(200, SnapshotOut)
    @blp.doc(security=[{"device": []}])
    def get(self, args: dict[str, Any]) -> Response:
        """Give the folded state of the farm, for a device that starts afresh."""
        scoped = args["scope"] == "live"
        return jsonify(the_log().snapshot(caller(), args["rows"] == "text", scoped))


@blp.route("/lines")
class LinesView(MethodView):
    @blp.arguments(LinesIn, error_status_code=422)
    @blp.response(200, LinesOut)
    @blp.doc(security=[{"device": []}])
    def post(self, asked: dict[str, Any]) -> Response:
        """Give the records of archived batches, for a device that holds their summaries only."""
        return jsonify(the_log().lines(unhurried(caller()), asked))


@blp.route("/state")
class StateView(MethodView):
    @blp.response(200, StateOut)
    @blp.doc(security=[{"device": []}])
    def get(self) -> Response:
        """Say how safe the log is, and what came back since it was put back (owner, manager)."""
        devices.need_role(caller(), "owner", "manager")
        return jsonify(heard.state(the_log()))


@blp.route("/away")
class AwayView(MethodView):
    @blp.arguments(AwayIn, error_status_code=422)
    @blp.response(200, StateOut)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Confirm that a backup was copied away from this computer (owner)."""
        devices.need_role(caller(), "owner")
        log = the_log()
        log.durable.confirm_away(given["name"])
        return jsonify(heard.state(log))


@blp.route("/backup")
class BackupView(MethodView):
    @blp.response(200, StateOut)
    @blp.doc(security=[{"device": []}])
    def post(self) -> Response:
        """Make a backup and verify it (owner); one that takes long is made on behind the reply."""
        devices.need_role(caller(), "owner")
        log = the_log()
        made = current_app.extensions.setdefault(
            "bagtrail.backup_now", BackupNow(log, the_settings())
        )
        made.make()
        return jsonify(heard.state(log))
