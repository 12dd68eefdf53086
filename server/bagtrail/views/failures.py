"""The one handler: every error leaves in one shape, whoever raised it."""

from __future__ import annotations

import logging

import flask_smorest
from flask import Flask, Response, jsonify, request
from werkzeug.exceptions import HTTPException

from .. import errors
from ..errors import AppError
from ..schemas import ErrorOut

log = logging.getLogger("bagtrail.views")


class Api(flask_smorest.Api):
    """flask-smorest's Api with our error body in place of its own."""

    ERROR_SCHEMA = ErrorOut

    def _register_error_handlers(self) -> None:
        self._app.register_error_handler(HTTPException, from_http)


def watch(app: Flask) -> None:
    """Registers the handlers."""
    app.register_error_handler(AppError, answer)
    app.register_error_handler(HTTPException, from_http)


def answer(error: AppError) -> Response:
    """Returns the reply for an error of ours."""
    if error.status >= 500:
        log.error("%s %s: %s", request.method, request.path, error.message)
    reply = jsonify(errors.body(error))
    reply.status_code = error.status
    if error.retry_s:
        reply.headers["Retry-After"] = str(error.retry_s)
    reply.headers.update(error.headers)
    if error.status == 401:
        reply.headers["WWW-Authenticate"] = "Bearer"
    return reply


def from_http(error: HTTPException) -> Response:
    """Returns the reply for an error of flask, werkzeug or webargs."""
    status = error.code or 500
    if error.response is not None and status < 400:  # a redirect is no error
        return error.get_response()  # type: ignore[return-value]
    kind = errors.by_status(status)
    details: dict[str, object] = {}
    message = f"{kind.doc} ({request.method} {request.path})"
    if status == 404:
        message = f"There is nothing at {request.path}."
    said = getattr(error, "data", None)
    if isinstance(said, dict) and said.get("messages"):
        details = {"fields": _plain(said["messages"])}
    headers = {}
    allowed = getattr(error, "valid_methods", None)
    if allowed:
        details = {"methods": sorted(allowed)}
        headers = {"Allow": ", ".join(sorted(allowed))}
    ours = kind(message, details=details, headers=headers)
    ours.status = status
    return answer(ours)


def _plain(value: object) -> object:
    """Keys of nested field errors may be list indexes; JSON wants text."""
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    return [_plain(v) for v in value] if isinstance(value, list) else value
