"""A short pass for who has shown a PIN at a shared tablet: that person's rights there, for minutes.

The pass is a text of this farm's own making, ``person.first.fresh.mac``: bound to one device, its
generation and one person, believed for five minutes, made anew while somebody works on, never
beyond an hour after the PIN. Nothing of it is stored, so every worker process knows it and a
restart forgets none; the tablet keeps it in memory only and drops it when the person changes.

What a person may do follows from the devices that the person was paired with, not from records:
a record can be written by any device, and whoever names himself an owner is none.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from . import keys
from .intake import Caller, Standing
from .sync import Log

HEADER = "X-Bagtrail-Pass"
IDLE_MS = 5 * 60_000
MOST_MS = 60 * 60_000
RANKS = ("", "worker", "manager", "owner")
_PASS = re.compile(r"(W[0-9A-Z]{8})\.([0-9]{1,15})\.([0-9]{1,15})\.([0-9a-f]{32})")


@dataclass(frozen=True)
class Pass:
    """What a pass says: who, when the PIN was shown, when it was last made anew; ms UTC."""

    person: str
    first: int
    fresh: int


def role_of(log: Log, person: str) -> str:
    """Returns the highest role a person's paired devices hold, "" for none."""
    with log.store.reading():
        rows = log.store.devices()
    roles = [r["role"] for r in rows if r["person"] == person and r["state"] == "paired"]
    return max(roles, key=RANKS.index, default="")


def give(log: Log, who: Caller, person: str, first: int = 0) -> str:
    """Returns a pass for a person at a device, as of now.

    Args:
        first: when the PIN was shown (ms UTC), now when left out.
    """
    now = log.clock()
    said = f"{person}.{first or now}.{now}"
    return f"{said}.{_mac(log, who, said)}"


def read(log: Log, who: Caller, text: str) -> Pass | None:
    """Returns what a pass says, None where it is none of this farm's for this device, or over."""
    found = _PASS.fullmatch(text)
    if found is None:
        return None
    said, _, sent = text.rpartition(".")
    if not keys.same(_mac(log, who, said), sent):
        return None
    made = Pass(found[1], int(found[2]), int(found[3]))
    now = log.clock()
    alive = 0 <= now - made.fresh < IDLE_MS and now - made.first < MOST_MS
    return made if alive else None


def raised(log: Log, who: Caller, text: str) -> Caller:
    """Returns the caller with the rights of the person whose pass it carries; never with fewer."""
    if not text or who.state != "paired":
        return who
    made = read(log, who, text)
    role = role_of(log, made.person) if made else ""
    if made is None or not role:
        return who
    stands = Standing(made.person, role, made.first)
    if RANKS.index(role) < RANKS.index(who.role):
        return replace(who, stands=stands)
    return replace(who, stands=stands, role=role, by=made.person)


def _mac(log: Log, who: Caller, said: str) -> str:
    # Under the farm's secret: a device knows its own key, and must not write itself a pass.
    return keys.mac(log.identity.master, f"pass.{who.dev}.{who.gen}.{said}")
