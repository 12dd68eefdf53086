"""How everything does: certificate, addresses, phones, backups, disk, chain; and what to do."""

from __future__ import annotations

import shutil
import threading
import time
from typing import Any

from .. import receipts
from ..answers import heard
from ..settings import Settings
from ..store import ZERO_HASH
from ..sync import Log
from ..version import VERSION
from . import ca, lan, leaf, names, phones

WARN_DAYS = 30
WARN_FREE = 1 << 30  # bytes
SILENT_MS = 3 * 86_400_000
CLOCK_MS = 5 * 60_000
SLICE_S = 0.3


class Chain:
    """Checks the log's chain link by link, a little at each question, and remembers how far."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._pos, self._h, self._broken = 0, ZERO_HASH, 0

    def look(self, log: Log, seconds: float = SLICE_S) -> dict[str, Any]:
        """Returns {"verified": position up to which all is well, "head", "broken": position or 0}.

        Args:
            seconds: about how long to go on checking.
        """
        end = time.monotonic() + seconds
        with self._lock, log.store.reading():
            top = log.store.top()
            if log.store.hash_at(self._pos) != self._h and self._pos:
                self._pos, self._h = 0, ZERO_HASH  # the log was put back: from the start
            self._broken = 0
            while not self._broken and self._pos < top.pos and time.monotonic() < end:
                self._some(log)
            return {"verified": self._pos, "head": top.pos, "broken": self._broken}

    def _some(self, log: Log) -> None:
        rows = log.store.after(self._pos, 1000)
        for row in rows:
            h = receipts.chain(self._h, row.id, row.text, row.receipt)
            if row.pos != self._pos + 1 or row.h != h:
                self._broken = self._pos + 1
                return
            self._pos, self._h = row.pos, row.h
        if not rows:
            self._broken = self._pos + 1


def health(log: Log, settings: Settings, chain: Chain) -> dict[str, Any]:
    """Returns everything the owner or a monitor asks of the farm's server, times in ms UTC.

    Returns:
        {"k": "health1", "ok", "at", "version", "certificate": {...} or None, "addresses",
        "phones", "backups", "durable", "head", "disk", "chain", "sentences"}; ``ok`` is whether
        ``sentences`` is empty.
    """
    now = log.clock()
    with log.store.reading():
        top = log.store.top()
    found: dict[str, Any] = {
        "k": "health1",
        "ok": True,
        "at": now,
        "version": VERSION,
        "farm": log.identity.farm,
        "tag": log.identity.tag,
        "certificate": certificate(log, settings, now),
        "addresses": names.lan_addresses(),
        "phones": _phones(log),
        "backups": heard.backups(log),
        "durable": log.durable.pos(top),
        "head": top.pos,
        "disk": _disk(settings),
        "chain": chain.look(log),
    }
    said = sentences(found, now)
    return {**found, "ok": not said, "sentences": said}


def certificate(log: Log, settings: Settings, now: int) -> dict[str, Any] | None:
    """Returns what there is to know of the certificate; None while no phone is served."""
    stands = lan.standing(settings, log.identity.tag)
    if stands is None:
        return None
    found = leaf.read(stands.certificate)
    authority = stands.authority
    beside = lan.told(settings.data)
    return {
        "origin": stands.origin,
        "hosts": list(found.hosts) if found else [],
        "addresses": list(found.addresses) if found else [],
        "until": found.until if found else None,
        "days": found.days_left(now) if found else None,
        "mdns": beside["mdns"] if beside and authority else None,
        "authority": _authority(authority) if authority else None,
    }


def _authority(authority: ca.Authority) -> dict[str, Any]:
    return {
        "code": authority.code,
        "sha256": authority.fingerprint,
        "until": int(authority.root.not_valid_after_utc.timestamp() * 1000),
        "constrained": authority.constrained,
    }


def _phones(log: Log) -> list[dict[str, Any]]:
    rows = heard.devices(log)
    with log.store.reading():
        return [{**row, **phones.told(log, row["dev"])} for row in rows]


def _disk(settings: Settings) -> dict[str, int]:
    usage = shutil.disk_usage(settings.data)
    return {"free": usage.free, "total": usage.total}


def sentences(found: dict[str, Any], now: int) -> list[str]:
    """Returns what the owner has to do something about, in plain sentences."""
    said = []
    cert = found["certificate"]
    if cert is not None:
        said += _certificate_words(cert, found["addresses"])
    for phone in found["phones"]:
        said += _phone_words(phone, now)
    if found["head"] and found["durable"] == 0:
        said.append("Fewer than two good backups lie on another disk: the phones are the backup.")
    for row in found["backups"][:1]:
        if row["fault"]:
            said.append(f"The newest backup is not sound: {row['fault']}")
    if found["disk"]["free"] < WARN_FREE:
        said.append(f"Only {found['disk']['free'] >> 20} MiB are free on the farm’s disk.")
    if found["chain"]["broken"]:
        said.append(
            f"The log is damaged at record {found['chain']['broken']}: restore the newest backup."
        )
    return said


def _certificate_words(cert: dict[str, Any], here: list[str]) -> list[str]:
    said = []
    if cert["days"] is None:
        said.append("The server’s certificate cannot be read: start the server again.")
    elif cert["days"] < 0:
        said.append("The server’s certificate is over: phones take it for no network at all.")
    elif cert["days"] < WARN_DAYS:
        said.append(f"The server’s certificate ends in {cert['days']} days.")
    if cert["mdns"] and cert["mdns"]["fault"]:
        said.append(f"Phones do not find the farm by its name: {cert['mdns']['fault']}.")
    if cert["authority"] is not None and not here:
        said.append("This computer has no private address: phones find it by its name alone.")
    return said


def _phone_words(phone: dict[str, Any], now: int) -> list[str]:
    if phone["state"] == "revoked":
        return []
    name = phone["name"] or phone["dev"]
    said = []
    if phone["waiting"] and now - phone["seen"] > SILENT_MS:
        days = (now - phone["seen"]) // 86_400_000
        said.append(f"{name}: {phone['waiting']} records wait on it, not heard for {days} days.")
    off = phone["clock_ms"]
    if off is not None and abs(off) > CLOCK_MS:
        way = "fast" if off > 0 else "slow"
        said.append(f"{name}: its clock is {abs(off) // 60_000} minutes {way}.")
    return said
