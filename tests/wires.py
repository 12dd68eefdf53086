"""Wires for the model phone: straight to the use cases, or over HTTP."""

from __future__ import annotations

import http.client
import json
from collections.abc import Callable
from typing import Any
from urllib.parse import parse_qs, urlsplit

from tests.model import Cut, Reply, Wire


def direct(log: Callable[[], Any], now: Callable[[], int]) -> Wire:
    """Return a wire to the use cases of whatever log there is at that moment."""

    def send(method: str, path: str, body: Any, headers: dict[str, str]) -> Reply:
        from bagtrail import devices, errors

        try:
            who = devices.authenticate(log(), headers["Authorization"])
            if path.startswith("/api/sync/push"):
                return 200, json.loads(json.dumps(log().accept(who, body, now()))), {}
            if path.startswith("/api/sync/offer"):
                return 200, log().offer(who, body, now()), {}
            query = parse_qs(urlsplit(path).query)
            page = log().since(
                who, query.get("c", [""])[0], int(query.get("limit", ["1000"])[0]),
                query["nonce"][0], query.get("st", [""])[0],
            )  # fmt: skip
            return 200, json.loads(json.dumps(page)), {}
        except errors.AppError as error:
            return error.status, json.loads(json.dumps(errors.body(error))), error.headers

    return send


def over_http(port: Callable[[], int], timeout: float = 30) -> Wire:
    """Return a wire to a port of this machine; half a reply or none is a Cut."""

    def send(method: str, path: str, body: Any, headers: dict[str, str]) -> Reply:
        connection = http.client.HTTPConnection("127.0.0.1", port(), timeout=timeout)
        try:
            data = None if body is None else json.dumps(body).encode()
            connection.request(method, path, data, {**headers, "Content-Type": "application/json"})
            reply = connection.getresponse()
            said = reply.read()
            kind = reply.getheader("Content-Type", "")
            found = json.loads(said) if kind.startswith("application/json") else None
            return reply.status, found, dict(reply.getheaders())
        except (OSError, http.client.HTTPException, ValueError) as bad:
            raise Cut(str(bad)) from bad
        finally:
            connection.close()

    return send
