"""Bodies in and out: bounded inflating, JSON only, compressed replies, and who is calling."""

from __future__ import annotations

import base64
import gzip
import io
import zlib
from typing import cast

from flask import Flask, Response, current_app, request
from werkzeug.wsgi import get_input_stream

from .. import passes
from ..devices import authenticate
from ..errors import BadFields, BadRequest, TooBig, WrongType
from ..intake import Caller
from ..limits import Limits
from ..sync import Log

MAX_BODY = 1 << 20  # 1 MiB, plain or inflated (sync.md 3.6)
SMALL = 1024  # replies below this gain nothing from gzip


def the_log() -> Log:
    """Returns the log behind the running application."""
    return cast(Log, current_app.extensions["bagtrail"])


def caller() -> Caller:
    """Returns who delivers this request, with the rights of whoever has shown a PIN there.

    Raises:
        NoDevice: no token of this farm.
    """
    who = authenticate(the_log(), request.headers.get("Authorization", ""))
    return passes.raised(the_log(), who, request.headers.get(passes.HEADER, ""))


def unhurried(who: Caller) -> Caller:
    """Returns who delivers this request, unless too many came from the same device.

    Raises:
        TooFast: with the seconds to wait in ``Retry-After``.
    """
    limits: Limits = current_app.extensions["bagtrail.limits"]
    limits.take(who.dev)
    return who


def origin() -> str:
    """Returns the address under which the caller reached us, without a slash at the end."""
    return request.host_url.rstrip("/")


def install(app: Flask) -> None:
    """Hooks the body rules into an application."""
    app.config["MAX_CONTENT_LENGTH"] = MAX_BODY
    app.extensions["bagtrail.limits"] = Limits()
    app.before_request(_check_body)
    app.after_request(_finish)


def _check_body() -> None:
    if request.method not in ("POST", "PUT", "PATCH") or not request.path.startswith("/api/"):
        return
    if request.url_rule is None:
        return  # 404 and 405 say more than 415 would
    if request.mimetype != "application/json":
        raise WrongType(f"The body is {request.mimetype or 'of no type'}, not application/json.")
    encoding = request.headers.get("Content-Encoding", "").strip().lower()
    if encoding in ("", "identity"):
        return
    if encoding != "gzip":
        raise WrongType(f"The body is encoded as {encoding[:40]}, not gzip.")
    packed = get_input_stream(request.environ, max_content_length=MAX_BODY).read()
    data = inflate(packed)
    request.environ["wsgi.input"] = io.BytesIO(data)
    request.environ["CONTENT_LENGTH"] = str(len(data))
    request.environ.pop("HTTP_CONTENT_ENCODING", None)
    request.environ.pop("HTTP_TRANSFER_ENCODING", None)


def inflate(packed: bytes) -> bytes:
    """Returns the content of a gzip body of at most MAX_BODY bytes; a bomb is never unrolled.

    Raises:
        TooBig: it inflates to more.
        BadRequest: it is no gzip, or was cut off.
    """
    machine = zlib.decompressobj(wbits=31)
    try:
        data = machine.decompress(packed, MAX_BODY + 1)
    except zlib.error as bad:
        raise BadRequest("The body is not gzip, or it is damaged.") from bad
    if len(data) > MAX_BODY:
        raise TooBig(details={"max_bytes": MAX_BODY})
    if not machine.eof:
        raise BadRequest("The gzip body was cut off.")
    return data


def _finish(reply: Response) -> Response:
    if not request.path.startswith("/api/"):
        return reply
    reply.headers.setdefault("Cache-Control", "no-store")
    reply.vary.add("Accept-Encoding")
    if (
        reply.status_code == 200
        and reply.mimetype == "application/json"
        and "gzip" in request.headers.get("Accept-Encoding", "").lower()
        and "Content-Encoding" not in reply.headers
        and len(reply.get_data()) > SMALL
    ):
        reply.set_data(gzip.compress(reply.get_data(), compresslevel=4))
        reply.headers["Content-Encoding"] = "gzip"
    return reply


def piece_of(data: str) -> bytes:
    """Returns the bytes of a piece of a file that a device sends as base64.

    Raises:
        BadFields: it is not base64.
    """
    try:
        return base64.b64decode(data, validate=True)
    except ValueError as bad:
        raise BadFields("data is not base64.", details={"data": ["Not base64."]}) from bad
