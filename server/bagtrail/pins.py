"""PINs: who stands at a tablet that several people share.

A PIN tells people apart. Shown to the server it also gives a pass: the person's own rights at that
device, for minutes (passes.py); without the server it only says who. Four digits are soon guessed,
so guessing is made slow: each wrong PIN counts against the person and against the device, in the
database, and each further one doubles the wait. A new start of the server forgets nothing. The hash
is Argon2id over a MAC with the farm's secret, so that a stolen database alone cannot be tried out.
"""

from __future__ import annotations

import hashlib
import hmac
import math
import threading

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from . import devices, passes
from .errors import BadFields, PinRefused, PinWait
from .intake import Caller
from .sync import Log

# 19 MiB, two passes, one lane: a setting of OWASP's notes on password storage (from memory).
_HASHER = PasswordHasher(time_cost=2, memory_cost=19_456, parallelism=1)
_AT_ONCE = threading.Semaphore(2)  # a small computer has little memory to lend
_NOBODY = _HASHER.hash("nobody's")  # a person without a PIN costs as much time as one with

FREE_PERSON = 3  # wrong PINs before anyone waits
FREE_DEVICE = 10  # more people, more slips
FIRST_WAIT_MS = 30_000
MOST_WAIT_MS = 3_600_000
FORGET_MS = 86_400_000  # a day without a wrong PIN


def set_pin(log: Log, who: Caller, person: str, pin: str) -> None:
    """Gives a person a PIN, or a new one; what was guessed wrong for the person is forgotten.

    Args:
        who: people set their own from a device of their own; owner and manager set anyone's, a
            manager never an owner's.

    Raises:
        NotAllowed: another person's PIN.
        BadFields: nobody of that code, or a PIN that is guessed first.
    """
    people = log.live.ref("people")
    if person != who.by or who.state != "paired":
        devices.need_role(who, "owner", "manager")
        # Records name roles too, and any device may write one: the paired devices decide as well.
        if "owner" in (people.get(person, {}).get("role"), passes.role_of(log, person)):
            devices.need_role(who, "owner")
    if person not in people:
        raise BadFields(f"{person} is not a person of this farm.", details={"person": person})
    if _is_plain(pin):
        raise BadFields("This PIN is among the first that anybody tries.",
                        "Take digits that are neither all the same nor in a row.")  # fmt: skip
    hashed = _hash(_keyed(log, person, pin))
    with log.store.writing():
        log.store.put_pin(person, hashed)
        log.store.put_pin_try(person, 0, 0)


def enter(log: Log, who: Caller, person: str, pin: str) -> str:
    """Returns the name of the person whose PIN it is.

    Raises:
        NotAllowed: the device is not paired.
        PinWait: too many were wrong, for this person or on this device.
        PinRefused: it is wrong, or the person has none.
    """
    devices.need_role(who, *devices.ROLES)
    people = log.live.ref("people")
    now = log.clock()
    # Counted before it is looked at: guesses that come side by side all count.
    with log.store.writing():
        _, until = log.store.pin_try(who.dev)
        wait = max(_count(log, person, FREE_PERSON, now), _count(log, who.dev, FREE_DEVICE, now))
        if not wait:
            _add(log, person, FREE_PERSON, now)
            _add(log, who.dev, FREE_DEVICE, now)
        kept = log.store.pin(person)
    if wait:
        raise PinWait(headers={"Retry-After": str(math.ceil(wait / 1000))})
    right = _verify(kept or _NOBODY, _keyed(log, person, pin)) and bool(kept)
    if not right or person not in people:
        raise PinRefused()
    with log.store.writing():
        log.store.put_pin_try(person, 0, 0)
        # What others guessed wrong here stays: knowing one PIN buys no more tries at another.
        wrong, waits = log.store.pin_try(who.dev)
        log.store.put_pin_try(who.dev, wrong - 1, min(waits, until))
    return str(people[person].get("name", ""))


def _count(log: Log, who: str, free: int, now: int) -> int:
    """Returns how many ms are still to be waited."""
    wrong, until = log.store.pin_try(who)
    return max(0, until - now) if wrong >= free else 0


def _add(log: Log, who: str, free: int, now: int) -> None:
    wrong, until = log.store.pin_try(who)
    wrong = 1 if wrong and until + FORGET_MS < now else wrong + 1
    over = wrong - free
    wait = 0 if over < 0 else min(MOST_WAIT_MS, FIRST_WAIT_MS << min(over, 16))
    log.store.put_pin_try(who, wrong, now + wait)


def _is_plain(pin: str) -> bool:
    row = "01234567890"
    return len(set(pin)) == 1 or pin in row or pin in row[::-1]


def _keyed(log: Log, person: str, pin: str) -> str:
    told = f"pin\0{person}\0{pin}".encode()
    return hmac.new(log.identity.master, told, hashlib.sha256).hexdigest()


def _hash(keyed: str) -> str:
    with _AT_ONCE:
        return _HASHER.hash(keyed)


def _verify(kept: str, keyed: str) -> bool:
    with _AT_ONCE:
        try:
            return _HASHER.verify(kept, keyed)
        except (VerificationError, InvalidHashError):
            return False
