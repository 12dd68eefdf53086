"""Bagtrail's server: the one log of a farm, its folded state, and the API over both."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flask import Flask

    from .settings import Settings
    from .sync import Log

SIDE_FILE = "starts"  # outside the database, so that a database put back is noticed


def open_log(settings: Settings) -> Log:
    """Returns the farm's log in the data folder, made and migrated at the first call."""
    from .devices import first_start
    from .keys import load_identity
    from .store import Store
    from .sync import Log

    settings.data.mkdir(parents=True, exist_ok=True)
    log = Log(load_identity(settings.data), Store(settings.database))
    first_start(log, settings.name, settings.zone)
    return log


def note_start(log: Log, settings: Settings) -> None:
    """Counts a start of the server in the database and beside it (sync.md 3.4, rule 3)."""
    side = settings.data / SIDE_FILE
    try:
        known = int(side.read_text(encoding="ascii"))
    except (OSError, ValueError):
        known = 0
    gen = log.started(known)
    temporary = side.with_suffix(".new")
    temporary.write_text(str(gen), encoding="ascii")
    temporary.replace(side)


def create_app(given: Mapping[str, str] | None = None) -> Flask:
    """Returns the WSGI application: nothing but wiring.

    Args:
        given: settings by name, in place of the environment's.
    """
    from flask import Flask

    from . import settings as settings_
    from .views import pages, register

    logging.getLogger("bagtrail").setLevel(logging.INFO)
    settings = settings_.load(given)
    app = Flask("bagtrail", static_folder=None)
    app.json.sort_keys = False  # type: ignore[attr-defined]
    log = open_log(settings)
    app.extensions["bagtrail"] = log
    app.extensions["bagtrail.api"] = register(app)
    pages.install(app, pages.static_dir(settings.static))
    log.live.catch_up()  # loaded now, not at the first question
    return app
