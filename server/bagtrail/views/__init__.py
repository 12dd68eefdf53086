"""Thin views: each reads a request, asks one use case, and returns its answer."""

from __future__ import annotations

from flask import Flask

from .. import schemas
from ..version import VERSION
from . import (
    answers,
    devices,
    failures,
    farm,
    health,
    http,
    labels,
    loads,
    network,
    pages,
    papers,
    people,
    photos,
    scale,
    sync,
)


def register(app: Flask) -> failures.Api:
    """Puts every view, the error handler and the OpenAPI page into an application."""
    app.config.update(
        API_TITLE="Bagtrail",
        API_VERSION=VERSION,
        OPENAPI_VERSION="3.0.3",
        OPENAPI_URL_PREFIX="/api",
        OPENAPI_JSON_PATH="openapi.json",
        PROPAGATE_EXCEPTIONS=False,  # a bug, too, leaves in the one shape
    )
    failures.watch(app)
    http.install(app)
    api = failures.Api(app)
    api.spec.components.security_scheme(
        "device", {"type": "http", "scheme": "bearer", "bearerFormat": "dev.gen.tag"}
    )
    for part in (farm, devices, people, sync, labels, papers, answers, network, health, photos,
                 scale, loads):  # fmt: skip
        api.register_blueprint(part.blp)
    app.register_blueprint(network.hello)
    for schema in schemas.all_kinds().values():
        api.spec.components.schema(schema.__name__, schema=schema)
    return api


__all__ = ["pages", "register"]
