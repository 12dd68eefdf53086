"""Bagtrail's server: the one log of a farm, its folded state, and the API over both."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flask import Flask

    from .settings import Settings
    from .sync import Log

SIDE_FILE = "starts"  # outside the database, so that a database put back is noticed


def open_log(settings: Settings, clock: Callable[[], int] | None = None) -> Log:
    """Returns the farm's log in the data folder, made and migrated at the first call.

    Args:
        clock: gives ms UTC, in place of the machine's.
    """
    from .devices import first_start
    from .keys import load_identity
    from .sidefile import SideFile
    from .store import Store
    from .sync import Log, now_ms

    settings.data.mkdir(mode=0o700, parents=True, exist_ok=True)
    side = SideFile(settings.data / SIDE_FILE)
    log = Log(load_identity(settings.data), Store(settings.database), side, clock or now_ms)
    first_start(log, settings.name, settings.zone)
    return log


def create_app(given: Mapping[str, str] | None = None) -> Flask:
    """Returns the WSGI application: nothing but wiring.

    Args:
        given: settings by name, in place of the environment's.
    """
    from flask import Flask

    from . import settings as settings_
    from .backup import LOGS, PHOTOS
    from .loadlogs import LoadLogs
    from .network.lan import standing
    from .photos import Photos
    from .scale import Scale
    from .views import drain, hosts, pages, register

    logging.getLogger("bagtrail").setLevel(logging.INFO)
    settings = settings_.load(given)
    app = Flask("bagtrail", static_folder=None)
    app.json.sort_keys = False  # type: ignore[attr-defined]
    log = open_log(settings)
    app.extensions["bagtrail"] = log
    app.extensions["bagtrail.settings"] = settings
    app.extensions["bagtrail.photos"] = Photos(settings.data / PHOTOS, settings.photos_gb << 30)
    app.extensions["bagtrail.logs"] = LoadLogs(settings.data / LOGS)
    app.extensions["bagtrail.scale"] = Scale(settings.scale, settings.scale_baud)
    app.extensions["bagtrail.api"] = register(app)
    stands = standing(settings, log.identity.tag)
    plain = f"http://{stands.host}:{stands.welcome_port}" if stands and stands.welcome_port else ""
    pages.install(app, pages.static_dir(settings.static), plain)
    hosts.install(app, settings, stands, log.identity.tag)
    app.wsgi_app = drain.Drain(app.wsgi_app)  # type: ignore[assignment,method-assign]
    log.live.catch_up()  # loaded now, not at the first question
    return app
