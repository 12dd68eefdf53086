"""/api/ping, /api/network and /hello.html: what lets phones in."""

from __future__ import annotations

import html
from typing import Any, cast

from flask import Blueprint as PlainBlueprint
from flask import Response, current_app, jsonify, request
from flask.views import MethodView
from flask_smorest import Blueprint

from .. import devices
from ..errors import NotFound, NotServed
from ..network import health, lan, names, pairing_sheet, qr, welcome
from ..schemas import NetworkOut, PingOut
from ..settings import Settings
from . import hosts
from .http import caller, the_log

blp = Blueprint("network", __name__, url_prefix="/api", description="How phones are let in.")
hello = PlainBlueprint("hello", __name__)
OWN_S = 400 * 86_400


def the_settings() -> Settings:
    """Returns the settings of the running application."""
    return cast(Settings, current_app.extensions["bagtrail.settings"])


def standing() -> lan.Standing | None:
    """Returns how this farm is served to phones, None where it is not."""
    return lan.standing(the_settings(), the_log().identity.tag)


def invitation() -> dict[str, Any] | None:
    """Returns what the desk shows a phone: {"url","qr": rows of 0 and 1,"check": short code}."""
    stands = standing()
    if stands is None:
        return None
    url = stands.welcome_url()
    check = stands.authority.code if stands.authority else None
    return {"url": url, "qr": qr.rows(url), "check": check}


@blp.route("/ping")
class PingView(MethodView):
    @blp.response(200, PingOut)
    def get(self) -> Response:
        """Say that https works here, also to the plain page that waits for it."""
        stands = standing()
        port = stands.welcome_port if stands else 0
        reply = jsonify(k="ping1", tag=the_log().identity.tag, welcome=port)
        asker = request.headers.get("Origin", "")
        host = names.bare_host(request.host)
        if stands and stands.welcome_port:
            # The page was opened by the name or by any number of this computer.
            allowed = [stands.host, host, *names.reachable()]
            urls = {f"http://{names.url_host(h)}:{stands.welcome_port}" for h in allowed if h}
            if asker in urls:
                reply.headers["Access-Control-Allow-Origin"] = asker
        reply.vary.add("Origin")
        return reply


@blp.route("/network")
class NetworkView(MethodView):
    @blp.response(200, NetworkOut)
    @blp.doc(security=[{"device": []}])
    def get(self) -> Response:
        """Say how phones reach this farm, and what a new one is to open (owner, manager)."""
        devices.need_role(caller(), "owner", "manager")
        log = the_log()
        return jsonify(
            k="network1",
            certificate=health.certificate(log, the_settings(), log.clock()),
            addresses=names.lan_addresses(),
            invitation=invitation(),
        )


@blp.route("/network/sheet")
class SheetView(MethodView):
    @blp.response(200, {"type": "string", "format": "binary"}, content_type="application/pdf")
    @blp.doc(security=[{"device": []}])
    def post(self) -> Response:
        """Draw the pairing sheet (owner, manager)."""
        devices.need_role(caller(), "owner", "manager")
        log, stands = the_log(), standing()
        if stands is None or stands.authority is None:
            raise NotServed()
        name = str(log.live.ref("settings").get("name", ""))
        url = stands.welcome_url()
        pdf = pairing_sheet.pdf(stands.authority, log.identity.tag, name, url)
        return Response(pdf, mimetype="application/pdf")


@hello.get("/hello.html")
def hello_page() -> Response:
    """The last check, on https: only a registered service worker proves the certificate."""
    log, stands = the_log(), standing()
    if stands is None:
        raise NotFound()
    host = names.bare_host(request.host)
    back = f"http://{names.url_host(host)}:{stands.welcome_port}/" if stands.welcome_port else "/"
    name = str(log.live.ref("settings").get("name", ""))
    page = welcome.template(
        "hello.html",
        name=html.escape(f"{name} ({log.identity.tag})"),
        welcome=html.escape(back),
        origin=html.escape(stands.origin),
    )
    reply = Response(page, mimetype="text/html")
    reply.headers["Cache-Control"] = "no-store"
    if "own" in request.args and names.is_address(host):
        reply.set_cookie(
            hosts.OWN_COOKIE, "1", max_age=OWN_S, secure=True, httponly=True, samesite="Strict"
        )
    return reply


@hello.get("/hello.css")
def hello_css() -> Response:
    """The style both pages share."""
    return Response((welcome.WEB / "welcome.css").read_bytes(), mimetype="text/css")


@hello.get("/hello.js")
def hello_js() -> Response:
    """What the last check does."""
    return Response((welcome.WEB / "hello.js").read_bytes(), mimetype="text/javascript")
