"""/api/photos: pieces in, whole pictures out."""

from __future__ import annotations

from typing import Any, cast

from flask import Response, current_app, jsonify
from flask.views import MethodView
from flask_smorest import Blueprint

from .. import photos
from ..schemas import PhotoPart, PhotoPartOut, PhotosAsked, PhotosStanding
from .http import caller, piece_of, the_log, unhurried

blp = Blueprint("photos", __name__, url_prefix="/api", description="Photographs of bags.")


def the_photos() -> photos.Photos:
    """Returns the photographs of the running application's farm."""
    return cast(photos.Photos, current_app.extensions["bagtrail.photos"])


@blp.route("/photos")
class PhotosView(MethodView):
    @blp.arguments(PhotoPart, error_status_code=422)
    @blp.response(200, PhotoPartOut)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Take a piece of a photograph in; the reply says where to go on."""
        the_log().may_read(unhurried(caller()))
        piece = piece_of(given["data"])
        have, whole = the_photos().take(given["sha256"], given["bytes"], given["offset"], piece)
        return jsonify(photos.shown(given["sha256"], have, whole))


@blp.route("/photos/standing")
class StandingView(MethodView):
    @blp.arguments(PhotosAsked, error_status_code=422)
    @blp.response(200, PhotosStanding)
    @blp.doc(security=[{"device": []}])
    def post(self, given: dict[str, Any]) -> Response:
        """Say which photographs are wanted (again), and which a phone may let go of."""
        the_log().may_read(unhurried(caller()))
        found = the_photos().standing(given["sha256"], the_log().store)
        return jsonify({"k": "photos1", **found})


@blp.route("/photos/<code>")
class PhotoView(MethodView):
    @blp.response(200, {"type": "string", "format": "binary"}, content_type="image/jpeg")
    @blp.doc(security=[{"device": []}])
    def get(self, code: str) -> Response:
        """Give a photograph by its SHA-256."""
        the_log().may_read(caller())
        path = the_photos().path(code)
        reply = Response(path.read_bytes(), mimetype="image/jpeg")
        reply.headers["Cache-Control"] = "private, max-age=31536000, immutable"
        return reply
