"""Running the server: its address, the first one-time code, and granian around the application."""

from __future__ import annotations

import atexit
import multiprocessing
import os
import socket
import sys
import threading
from collections.abc import Callable
from multiprocessing import util
from typing import TYPE_CHECKING

from . import settings as settings_
from .errors import BadSetting
from .schedule import Schedule
from .settings import Settings

if TYPE_CHECKING:
    from flask import Flask

    from .sync import Log

THREADS = 8


def address(settings: Settings) -> str:
    """Returns the address to type on this computer."""
    here = settings.host in ("127.0.0.1", "0.0.0.0", "::", "::1", "localhost")
    host = "localhost" if here else settings.host
    return f"http://{f'[{host}]' if ':' in host else host}:{settings.port}/"


def check_port(settings: Settings) -> None:
    """Raises BadSetting when the address cannot be listened on, before anything is started."""
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    with socket.socket(family) as probe:
        if sys.platform != "win32":  # there it would share a port that is in use
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.host, settings.port))
        except OSError as taken:
            raise BadSetting(
                f"Port {settings.port} on {settings.host} cannot be used ({taken.strerror}).",
                "Stop the other program (perhaps Bagtrail runs already), or give another --port.",
            ) from taken


def run(settings: Settings, say: Callable[[str], None]) -> None:
    """Serves until SIGTERM or SIGINT; requests under way are finished."""
    from . import open_log
    from .devices import start_code
    from .sync import now_ms

    check_port(settings)
    log = open_log(settings)
    log.epochs.start(now_ms())
    code = start_code(log)
    _tell_sheet(log, settings, say)
    say(f"Data folder: {settings.data}")
    say(f"Bagtrail serves at {address(settings)} (Ctrl+C stops it)")
    waiting = sum(1 for d in log.devices() if d["state"] == "unconfirmed")
    if waiting:
        say(f"The log was put back: {waiting} devices may send but not see until you confirm them,")
        say("    with `bagtrail devices --confirm`, or on the device paired below.")
    if code:
        say("No device is paired yet. Open this once, within 15 minutes:")
        say(f"    {address(settings)}#pair={code}")
    log.close()  # the workers open their own
    os.environ.update(as_environment(settings))
    from granian.constants import Interfaces
    from granian.log import LogLevels
    from granian.server import Server

    server = Server(
        "bagtrail:create_app",
        factory=True,
        address=settings.host,
        port=settings.port,
        interface=Interfaces.WSGI,
        workers=1,
        blocking_threads=THREADS,
        log_level=LogLevels.error,  # it warns of eight threads; ours wait for the disk
        workers_kill_timeout=10,
    )
    # Its own loader would look for a file of our name in the folder somebody started it from.
    server.serve(target_loader=load_app, wrap_loader=False)


def _tell_sheet(log: Log, settings: Settings, say: Callable[[str], None]) -> None:
    """At a farm's first start, shows its recovery sheet and lays it beside the data to print."""
    from . import recovery, sheet

    key, new = recovery.load_key(settings.data)
    if not new:
        return
    say(sheet.text(key, settings.name, log.identity.tag))
    try:
        path = sheet.write(settings.data, key, settings.name, log.identity.tag)
        say(f"To print: {path}")
    except Exception as bad:  # no Pango, no fonts: the text above is the same sheet
        say(f"The sheet could not be drawn as a PDF ({bad}); `bagtrail sheet` tries again.")


def load_app() -> Flask:
    """Returns the application; runs in granian's worker process."""
    from . import create_app

    app = create_app()
    # A worker is a child process, which ends without atexit; one of the two ways is always taken.
    atexit.register(app.extensions["bagtrail"].close)
    util.Finalize(None, app.extensions["bagtrail"].close, exitpriority=10)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    Schedule(app.extensions["bagtrail"], settings_.load()).start()
    return app


def _end_with_parent() -> None:
    """Ends a worker whose parent was killed; it would hold the port against the next start."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)  # as hard as the parent's own end: what was acknowledged is on the disk


def as_environment(settings: Settings) -> dict[str, str]:
    """Returns the settings as the environment in which granian's worker reads them again."""
    made = {
        "BAGTRAIL_DATA": str(settings.data),
        "BAGTRAIL_DATABASE": settings.database,
        "BAGTRAIL_HOST": settings.host,
        "BAGTRAIL_PORT": str(settings.port),
        "BAGTRAIL_NAME": settings.name,
        "BAGTRAIL_ZONE": settings.zone,
        "BAGTRAIL_BACKUPS": str(settings.backups),
        "BAGTRAIL_BACKUP_HOURS": str(settings.backup_hours),
        "BAGTRAIL_BACKUP_KEEP": str(settings.backup_keep),
    }
    return {**made, "BAGTRAIL_STATIC": str(settings.static)} if settings.static else made
