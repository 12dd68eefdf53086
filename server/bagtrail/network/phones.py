"""What each phone tells of itself when it sends: the version of its app, and how its clock goes."""

from __future__ import annotations

import json
import re
import threading
from typing import Any

from ..sync import Log

VERSION = re.compile(r"[0-9A-Za-z.+-]{1,40}")
DRIFT_MS = 30_000  # a clock that moved less is not written down again

_lock = threading.Lock()


def note(log: Log, known: dict[str, tuple[str, int]], dev: str, app: str, clock: int) -> None:
    """Keeps what a push told, when it is news.

    Args:
        known: what this process has kept already, by device.
        app: version of the phone's app as it said, "" if it said nothing.
        clock: the phone's clock, ms UTC.
    """
    app = app if VERSION.fullmatch(app) else ""
    off = clock - log.clock()
    with _lock:
        before = known.get(dev)
        if before and before[0] == app and abs(before[1] - off) < DRIFT_MS:
            return
        known[dev] = (app, off)
    with log.store.writing():
        log.store.put_notice(_key(dev), log.clock(), json.dumps({"app": app, "clock_ms": off}))


def told(log: Log, dev: str) -> dict[str, Any]:
    """Returns {"app","clock_ms"} of a device, None where nothing was heard; inside reading()."""
    found = log.store.notice(_key(dev))
    said: dict[str, Any] = json.loads(found[1]) if found else {}
    return {"app": said.get("app") or None, "clock_ms": said.get("clock_ms")}


def _key(dev: str) -> str:
    return f"phone.{dev}"
