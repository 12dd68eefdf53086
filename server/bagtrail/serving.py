"""Running the server: its address, the first one-time code, and granian around the application."""

from __future__ import annotations

import atexit
import multiprocessing
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Callable
from functools import partial
from multiprocessing import util
from typing import TYPE_CHECKING, Any

from . import settings as settings_
from .errors import BadSetting
from .network import ca
from .network.lan import EVERY_CARD, Lan, Standing, now, standing
from .news import MOST_WAITING
from .schedule import Schedule
from .settings import Settings

if TYPE_CHECKING:
    from multiprocessing.synchronize import Event

    from flask import Flask

    from .sync import Log

LOOK_S = 0.25  # how soon a worker sees that the server ends
THREADS = 8  # for work; those who wait for news have as many as may wait, beyond these


def address(settings: Settings) -> str:
    """Returns the address to type on this computer."""
    here = settings.host in ("127.0.0.1", "0.0.0.0", "::", "::1", "localhost")
    host = "localhost" if here else settings.host
    return f"http://{f'[{host}]' if ':' in host else host}:{settings.port}/"


def check_port(host: str, port: int, option: str = "--port") -> None:
    """Raises BadSetting when an address cannot be listened on, before anything is started."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        if sys.platform != "win32":  # there it would share a port that is in use
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as taken:
            raise BadSetting(
                f"Port {port} on {host} cannot be used ({taken.strerror}).",
                "Stop the other program (perhaps Bagtrail runs already),"
                f" or give another {option}.",
            ) from taken


def run(settings: Settings, say: Callable[[str], None]) -> None:
    """Serves until SIGTERM or SIGINT; requests under way are finished."""
    from . import open_log
    from .devices import start_code
    from .sync import now_ms
    from .workers import make_ending, make_ready

    check_port(settings.host, settings.port)
    log = open_log(settings)
    stands = _stand(settings, log.identity.tag)
    log.epochs.start(now_ms())
    code = start_code(log)
    _tell_sheet(log, settings, say)
    say(f"Data folder: {settings.data}")
    say(f"Bagtrail serves at {address(settings)} (Ctrl+C stops it)")
    _tell_phones(stands, say)
    waiting = sum(1 for d in log.devices() if d["state"] == "unconfirmed")
    if waiting:
        say(f"The log was put back: {waiting} devices may send but not see until you confirm them,")
        say("    with `bagtrail devices --confirm`, or on the device paired below.")
    if code:
        say("No device is paired yet. Open this once, within 15 minutes:")
        say(f"    {address(settings)}#pair={code}")
    tag, name = log.identity.tag, str(log.live.ref("settings").get("name", ""))
    log.close()  # the workers open their own
    os.environ.update(as_environment(settings))
    lan = Lan(settings, stands, tag, name, _reload) if stands else None
    server = _server(settings, stands)
    server.ready, server.ending = make_ready(), make_ending()
    if lan is not None:
        lan.start()
    try:
        # Its own loader would look for a file of our name in the folder it was started from.
        server.serve(
            target_loader=partial(load_app, server.ready, server.ending), wrap_loader=False
        )
    finally:
        if lan is not None:
            lan.stop()


def _server(settings: Settings, stands: Standing | None) -> Any:
    """Returns granian: https on every card where phones are served, else plain http."""
    from granian.constants import Interfaces, SSLProtocols
    from granian.log import LogLevels

    from .workers import PatientServer

    secure: dict[str, Any] = {}
    if stands is not None:
        secure = {
            "ssl_cert": stands.certificate,
            "ssl_key": stands.key,
            "ssl_protocol_min": SSLProtocols.tls12,
        }
        if not hasattr(signal, "SIGHUP"):  # Windows: workers that live a day take up a new one
            secure["workers_lifetime"] = 86_400
    return PatientServer(
        "bagtrail:create_app",
        factory=True,
        address=EVERY_CARD if stands else settings.host,
        port=stands.port if stands else settings.port,
        interface=Interfaces.WSGI,
        workers=1,
        blocking_threads=THREADS + MOST_WAITING,
        log_level=LogLevels.error,  # it warns of many threads; ours wait for the disk and for news
        workers_kill_timeout=10,
        **secure,
    )


def _reload() -> None:
    """Has granian start new workers, which read the certificate anew, and let the old ones end."""
    if hasattr(signal, "SIGHUP"):
        os.kill(os.getpid(), signal.SIGHUP)


def _stand(settings: Settings, tag: str) -> Standing | None:
    """Makes the farm's authority at its first start, and all that phones need if they are served.

    Raises:
        BadSetting: a port is taken, or the certificate given cannot be used.
    """
    if settings.cert is None:
        ca.ensure(settings.data, tag, settings.ca_constraints, now())
    stands = standing(settings, tag)
    if stands is not None:
        check_port(EVERY_CARD, stands.port, "--tls-port")
        if stands.welcome_port:
            check_port(EVERY_CARD, stands.welcome_port, "--welcome-port")
    return stands


def _tell_phones(stands: Standing | None, say: Callable[[str], None]) -> None:
    if stands is None:
        say("Phones are not served; start with --lan to let them in over https.")
        return
    say(f"Phones: {stands.origin}")
    if stands.authority is not None:
        say(f"    a new one opens {stands.welcome_url()} first;")
        say(f"    the page there must show {stands.authority.code}")


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


def load_app(ready: Event, ending: Any) -> Flask:
    """Returns the application; runs in granian's worker process.

    Args:
        ready: is set once it can answer.
        ending: its value is 1 once the server ends: who waits for news is let go.
    """
    from . import create_app
    from .workers import rest_when_told

    app = create_app()
    # A worker is a child process, which ends without atexit; one of the two ways is always taken.
    atexit.register(app.extensions["bagtrail"].close)
    util.Finalize(None, app.extensions["bagtrail"].close, exitpriority=10)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    Schedule(app.extensions["bagtrail"], settings_.load()).start()
    rest_when_told(app.extensions["bagtrail"].news.close)
    threading.Thread(target=_let_go, args=(app, ending), daemon=True).start()
    ready.set()
    return app


def _let_go(app: Flask, ending: Any) -> None:
    """Answers who waits for news, or the end of a worker would wait for them."""
    while not ending.value:
        time.sleep(LOOK_S)
    app.extensions["bagtrail"].news.close()


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
        "BAGTRAIL_LAN": "on" if settings.lan else "off",
        "BAGTRAIL_TLS_PORT": str(settings.tls_port or ""),
        "BAGTRAIL_WELCOME_PORT": str(settings.welcome_port),
        "BAGTRAIL_CA_CONSTRAINTS": "on" if settings.ca_constraints else "off",
        "BAGTRAIL_CERT": str(settings.cert or ""),
        "BAGTRAIL_KEY": str(settings.key or ""),
        "BAGTRAIL_ORIGIN": settings.origin,
        "BAGTRAIL_HOSTS": " ".join(settings.hosts),
        "BAGTRAIL_MONITOR_TOKEN": settings.monitor_token,
        "BAGTRAIL_SCALE": settings.scale,
        "BAGTRAIL_SCALE_BAUD": str(settings.scale_baud),
        "BAGTRAIL_PHOTOS_GB": str(settings.photos_gb),
    }
    return {**made, "BAGTRAIL_STATIC": str(settings.static)} if settings.static else made
