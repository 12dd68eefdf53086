"""Devices: one-time codes, pairing, and who stands behind a bearer token.

A code is eight Crockford symbols, works once, for 15 minutes, and is stored only as a MAC. Pairing
gives a device its key, a letter (A, B, C, ...) for the names it makes offline, and a role; it is
also written into the log, so that it comes back after a restore and folds like anything else.
"""

from __future__ import annotations

import secrets
from typing import Any

from . import ids, keys
from .errors import (
    BadFields,
    NoDevice,
    NotAllowed,
    PairingRefused,
    Revoked,
    TooManyTries,
    Unconfirmed,
)
from .intake import Caller
from .sync import Log

CODE_SYMBOLS = 8
CODE_MS = 15 * 60_000
TRY_MS = 15 * 60_000
TRIES_EACH = 10  # wrong codes from one address in TRY_MS; 32^8 codes leave no hope to a guesser
TRIES_ALL = 100
ROLES = ("owner", "manager", "worker")
MAX_LETTERS = 26 + 26 * 26


def letter_of(index: int) -> str:
    """Returns the device letter for 0, 1, 2, ...: A to Z, then AA to ZZ."""
    if index < 26:
        return chr(65 + index)
    return chr(64 + index // 26) + chr(65 + index % 26)


def first_start(log: Log, name: str, zone: str) -> bool:
    """Writes the farm and its owner into a new log; returns whether it was new."""
    with log.store.writing():
        if log.store.top(lock=True).pos or log.epochs.side.gen():
            return False  # a farm was here before: its phones bring it back
        owner = ids.new_code("W")
        log.write("farm.named", [], {"name": name, "zone": zone}, owner)
        log.write("person.named", [owner], {"name": "Owner", "role": "owner"}, owner)
    log.live.catch_up()
    return True


def owner_of(log: Log) -> str:
    """Returns the code of the first person with the owner's role, "" when nobody has it."""
    people = log.live.ref("people")
    owners = [code for code, person in people.items() if person.get("role") == "owner"]
    return min(owners, default="")


def new_code(log: Log, role: str, person: str = "", made_by: str = "") -> dict[str, Any]:
    """Makes a one-time code and returns {"code", "expires": ms}.

    Args:
        role: owner, manager or worker.
        person: the code (W...) of whoever will hold the device; "" makes a new person at pairing.
        made_by: the device that asks; "" for the command line.

    Raises:
        BadFields: a person nobody knows.
    """
    if person and person not in log.live.ref("people"):
        raise BadFields(f"{person} is not a person of this farm.", details={"person": person})
    code = "".join(secrets.choice(keys.ALPHABET) for _ in range(CODE_SYMBOLS))
    expires = log.clock() + CODE_MS
    with log.store.writing():
        log.store.put_pairing(
            hash=keys.code_hash(log.identity.master, code), role=role, person=person,
            expires=expires, used=0, made_by=made_by,
        )  # fmt: skip
    return {"code": code, "expires": expires}


def start_code(log: Log) -> str | None:
    """Returns an owner's code for the first device, None once any device was paired.

    Codes that earlier starts printed and nobody used stop working.
    """
    with log.store.reading():
        if any(row["state"] == "paired" for row in log.store.devices()):
            return None
        log.store.drop_pairings("start")
    return str(new_code(log, "owner", owner_of(log), "start")["code"])


def pair(log: Log, code: str, name: str, person: str, who: str) -> dict[str, Any]:
    """Uses up a one-time code and returns the new device's key and place on the farm.

    Args:
        code: eight symbols as typed; case, hyphens, O for 0 and I or L for 1 do not matter.
        name: what the device is to be called.
        person: a name for the person who holds it, where the code names nobody yet.
        who: the address it came from; wrong tries are counted by it.

    Raises:
        TooManyTries: ten wrong codes from this address in 15 minutes, or a hundred from anywhere.
        PairingRefused: the code is wrong, used or expired.
    """
    now, who = log.clock(), who[:64]
    _limit(log, who, now)
    with log.store.writing():
        row = log.store.take_pairing(
            keys.code_hash(log.identity.master, ids.normalise(code)[:64]), now
        )
        if row is not None:
            device = _join(log, row, name, person, now)
    if row is None:
        with log.store.writing():
            log.store.note_attempt(who, now, TRY_MS)
        raise PairingRefused()
    log.epochs.note()
    log.live.catch_up()
    settings = log.live.ref("settings")
    return {
        "k": "pair1",
        "farm": log.identity.farm,
        "tag": log.identity.tag,
        "name": settings.get("name", ""),
        "zone": settings.get("zone", "UTC"),
        "dev": device["dev"],
        "gen": device["gen"],
        "key": log.identity.device_key(device["dev"], device["gen"]).hex(),
        "role": device["role"],
        "by": device["person"],
        "letter": device["letter"],
    }


def _limit(log: Log, who: str, now: int) -> None:
    with log.store.reading():
        mine = log.store.attempts(now - TRY_MS, who)
        if mine >= TRIES_EACH or log.store.attempts(now - TRY_MS) >= TRIES_ALL:
            raise TooManyTries(headers={"Retry-After": str(TRY_MS // 1000)})


def _join(log: Log, row: dict[str, Any], name: str, person: str, now: int) -> dict[str, Any]:
    """Writes the device and, where the code names nobody, the person; inside a transaction."""
    by = row["person"]
    if not by:
        by = ids.new_code("W")
        log.write("person.named", [by], {"name": person or name, "role": row["role"]}, by)
    letter = _free_letter(log)
    device = {
        "dev": "d" + secrets.token_hex(8), "gen": 1, "role": row["role"], "person": by,
        "name": name, "letter": letter, "state": "paired", "made": now, "seen": now,
    }  # fmt: skip
    log.store.put_device(**device)
    told = {k: device[k] for k in ("dev", "gen", "name", "role", "letter")}
    log.write("device.paired", [by], told, by)
    return device


def authenticate(log: Log, header: str) -> Caller:
    """Returns who delivers a request, from its ``Authorization: Bearer dev.gen.tag``.

    A token made from this farm's secret is believed even when its device is unknown here: the
    database may be older than the pairing. Such a device may push, not pull.

    Raises:
        NoDevice: no token, or one that this farm never gave out.
    """
    scheme, _, token = header.partition(" ")
    parts = token.strip().split(".")
    if scheme.lower() != "bearer" or len(parts) != 3:
        raise NoDevice()
    dev, gen, tag = parts
    if not (gen.isascii() and gen.isdecimal() and len(gen) <= 9 and len(dev) == 17):
        raise NoDevice()
    if not log.identity.token_ok(dev, int(gen), tag):
        raise NoDevice()
    with log.store.reading():
        row = log.store.device(dev)
    if row is None:
        return Caller(dev, int(gen))
    state = row["state"] if row["gen"] == int(gen) else "revoked"
    return Caller(dev, int(gen), row["role"], row["person"], state)


def need_role(caller: Caller, *roles: str) -> None:
    """Raises Unconfirmed, Revoked or NotAllowed unless it is paired and holds one of the roles."""
    if caller.state in ("unconfirmed", "seen"):
        # An owner's, too: asking an owner would send the owner in a circle.
        raise Unconfirmed()
    if caller.state == "revoked":
        raise Revoked()
    if caller.state != "paired" or caller.role not in roles:
        raise NotAllowed(details={"role": caller.role or "none", "needs": list(roles)})


def revoke(log: Log, dev: str, why: str, by: str) -> None:
    """Takes a device's key back: it may push what waits on it (held), and no longer pull.

    Raises:
        BadFields: no such device.
    """
    with log.store.writing():
        row = log.store.device(dev)
        if row is None:
            raise BadFields(f"There is no device {dev}.", details={"dev": dev})
        log.store.put_device(**{**row, "state": "revoked"})
        log.store.put_met(**{**log.store.met(dev), "held": 0})
        log.write("device.revoked", [], {"dev": dev, "why": why[:200]}, by)
    log.epochs.note()
    log.live.catch_up()


def confirm(log: Log, by: str, devs: list[str] | None = None) -> list[str]:
    """Lets devices pull again after the log was put back, and admits what they sent meanwhile.

    A device that only its key made known (its pairing was lost) comes in as a worker's.

    Args:
        by: the person who confirms.
        devs: which ones; all that wait when left out.

    Returns:
        The devices confirmed.

    Raises:
        BadFields: one of them is not known, or its key was taken back.
    """
    with log.store.writing():
        rows = {row["dev"]: row for row in log.store.devices()}
        waiting = [dev for dev, row in rows.items() if row["state"] in ("unconfirmed", "seen")]
        for dev in devs or []:
            if dev not in rows or rows[dev]["state"] == "revoked":
                raise BadFields(f"{dev} cannot be confirmed.", details={"dev": dev})
        done = [dev for dev in waiting if devs is None or dev in devs]
        for dev in done:
            row = rows[dev]
            if row["state"] == "seen":
                row = _adopt(log, row)
            log.store.put_device(**{**row, "state": "paired"})
    log.live.catch_up()
    with log.live.now() as farm:
        index = farm.index
        held = [
            line for line in index.lines.values()
            if line["dev"] in done and "unknown" in line.get("f", ()) and index.held(line["id"])
        ]  # fmt: skip
    with log.store.writing():
        for line in held:
            log.write("record.admitted", line["s"], {"target": line["id"]}, by)
    log.epochs.note()
    log.live.catch_up()
    return done


def _adopt(log: Log, row: dict[str, Any]) -> dict[str, Any]:
    """Gives a device that only its key made known a letter and a person, inside a transaction."""
    by = ids.new_code("W")
    letter = _free_letter(log)
    log.write("person.named", [by], {"name": f"Phone {letter}", "role": "worker"}, by)
    row = {**row, "role": "worker", "person": by, "name": f"Phone {letter}", "letter": letter}
    told = {k: row[k] for k in ("dev", "gen", "name", "role", "letter")}
    log.write("device.paired", [by], told, by)
    return row


def _free_letter(log: Log) -> str:
    taken = {d["letter"] for d in log.store.devices()}
    return next((x for x in map(letter_of, range(MAX_LETTERS)) if x not in taken), "?")
