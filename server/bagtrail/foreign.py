"""Records of another farm, carried here in a file (design 7.8: "taken as held").

A farm whose computer is lost with no backup, or with no recovery sheet, begins again under another
secret. Its phones still hold its records, under seals that nobody can check any more. An owner or
manager vouches for the file: each text is stored as it was written, under a seal that says only
that this farm took it on trust, and is held until it is let count. It brings no device and no
rights with it: who wrote it is its own word.
"""

from __future__ import annotations

from typing import Any

from . import keys
from .intake import FOREIGN, Caller
from .sync import Log

ADMIT_AT_ONCE = 500


def take(log: Log, caller: Caller, push: dict[str, Any]) -> dict[str, Any]:
    """Takes records of another farm in, and returns the reply of a push.

    Args:
        push: as of ``Log.accept``; the seals and receipts in it are another farm's and are not
            looked at.

    Raises:
        WrongFarm, WrongLog, Busy: as in ``Log.accept``.
    """
    key = keys.foreign_key(log.identity.master)
    records = [[text, _seal(key, text)] for text, *_ in push["records"]]
    return log.accept(caller, {**push, "records": records})


def _seal(key: bytes, text: str) -> str:
    try:
        return keys.mac(key, text)
    except UnicodeEncodeError:  # half a surrogate pair has no bytes to seal; it is refused
        return ""


def waiting(log: Log) -> list[dict[str, Any]]:
    """Returns the lines of another farm's records that nobody has let count or taken out yet."""
    with log.live.now() as farm:
        index = farm.index
        return [
            line for line in index.lines.values()
            if FOREIGN in line.get("f", ()) and index.held(line["id"]) == FOREIGN
            and not index.voided(line["id"])
        ]  # fmt: skip


def admit(log: Log, by: str, most: int = ADMIT_AT_ONCE) -> dict[str, int]:
    """Lets another farm's records count, oldest first, as many as one transaction should hold.

    Args:
        by: the person who has looked at them.

    Returns:
        {"done": how many count since, "left": how many still wait}.
    """
    found = sorted(waiting(log), key=lambda line: (line["t"], line["st"], line["sq"]))
    with log.store.writing():
        for line in found[:most]:
            about = list(dict.fromkeys(line["s"]))
            log.write("record.admitted", about, {"target": line["id"]}, by)
    log.live.catch_up()
    left = len(waiting(log))
    return {"done": len(found) - left, "left": left}
