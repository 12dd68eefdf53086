"""Epochs: incarnations of the log, and how one that was put back is noticed (sync.md 3.4).

A new epoch is begun when the log is empty, was restored by our tool, is older than the side file or
than a start of this process says, lies in another database or timeline than before, or is not what
a phone's proof shows. Whatever the cause, every phone then offers all that it keeps, and devices
may push but not pull until the owner has confirmed them.
"""

from __future__ import annotations

import json
import logging

from .intake import Caller
from .sidefile import SideFile
from .store import ZERO_HASH, Store, Top, new_epoch

log = logging.getLogger("bagtrail.epochs")

TWO_SERVERS = "two_servers"
SUSPICIONS = 3  # epochs begun at the word of phones that knew ours already, in one run
BROUGHT_BACK = ("restored", "older", "cluster", "rewound", "emptied")


class Epochs:
    """The epochs of one log, kept in its store."""

    def __init__(self, store: Store, side: SideFile) -> None:
        self.store = store
        self.side = side

    def check(self, now: int) -> Top:
        """Begins a new epoch where the log is not what it was; inside a write transaction."""
        top = self.store.top(lock=True)
        place, timeline = self.store.where()
        before = self.store.origin()
        why = ""
        if not top.epoch:
            why = "emptied" if self.side.gen() else "new"
            top = Top("", 0, ZERO_HASH, 0)
        elif top.gen < self.side.gen():
            why = "older"
        elif before[0] and before != (place, timeline):
            why = "cluster"
        if why:
            top = self.begin(top, why, now)
        self.store.set_origin(place, timeline)
        return top

    def current(self, now: int) -> Top:
        """Returns the locked head; a log put back under a running server begins a new epoch."""
        top = self.store.top(lock=True)
        if top.gen < self.side.gen():
            return self.begin(top, "older", now)
        return top

    def begin(self, top: Top, why: str, now: int, unsettle: bool = True) -> Top:
        """Begins a new epoch at the head and returns it; inside a write transaction.

        Args:
            unsettle: devices wait until the owner confirms them; not again where nothing changed
                since they were asked to.
        """
        gen = max(top.gen, self.side.gen())
        begun = Top(new_epoch(), top.pos, top.h, gen)
        self.store.set_top(begun)
        self.store.begin_epoch(begun.epoch, begun, now, why)
        if why != "new":
            if unsettle:
                self._unsettle()
            log.warning("the log was put back (%s) at %d: epoch %s", why, top.pos, begun.epoch)
        return begun

    def _unsettle(self) -> None:
        """Brings the devices up to the side file; those paired wait until they are confirmed."""
        self.store.drop_codes()
        rows = {row["dev"]: row for row in self.store.devices()}
        for dev, said in self.side.read()["devices"].items():
            known = rows.get(dev)
            newer = known is None or known["state"] == "seen" or said["gen"] > known["gen"]
            if newer or said["state"] == "revoked":
                seen = known["seen"] if known else 0
                rows[dev] = {**(known or {}), **said, "dev": dev, "seen": seen}
        for row in rows.values():
            if row["state"] == "paired":
                row["state"] = "unconfirmed"
            self.store.put_device(**row)

    def start(self, now: int) -> int:
        """Counts a start in the database and beside it; returns the number."""
        with self.store.writing():
            self.check(now)
            gen = self.store.raise_gen(self.side.gen())
        self.note()
        return gen

    def note(self) -> None:
        """Brings the side file up to the database: after every start, backup and pairing."""
        with self.store.reading():
            gen, devices = self.store.top().gen, self.store.devices()
        self.side.write(max(gen, self.side.gen()), devices)

    def proves(self, proof: str, who: Caller, top: Top, now: int) -> tuple[bool, Top]:
        """Tells whether what a device was shown is a place on this log; inside a transaction.

        Returns:
            (whether it is, the head: of a new epoch where the proof shows that this log was put
            back and no epoch was begun for it yet).
        """
        if not proof:
            return True, top
        epoch, pos, h = proof.split(".")
        if epoch == top.epoch:
            if int(pos) == 0 or self.store.hash_at(int(pos)) == h:
                return True, top
            return False, top if who.state == "revoked" else self.begin(top, "rewound", now)
        known = self.store.epoch(epoch)
        if who.state == "revoked" or (known and known["why"] not in ("lost", "met")):
            return False, top
        met = self.store.met(who.dev)
        knew = met["told"] == top.epoch and met["gen"] == top.gen
        if knew and self._two_servers(who.dev, epoch, top, now) > SUSPICIONS:
            return False, top  # it sees an epoch that it left, and stops (sync.md 3.4)
        if known is None or known["why"] == "met":
            # We lost it, and whoever knows it may have known the present epoch before: we were put
            # back without a word. Only a new epoch is new to all.
            settled = self._is_unmet(top) and self.side.gen() == top.gen
            self._lose(epoch, top, now, "lost")
            top = self.begin(top, "rewound", now, unsettle=not settled)
        return False, top

    def _is_unmet(self, top: Top) -> bool:
        """Tells whether the present epoch followed a restore and no device has met it yet."""
        row = self.store.epoch(top.epoch)
        if row is None or row["why"] not in BROUGHT_BACK:
            return False
        return not any(
            self.store.met(device["dev"])["told"] == top.epoch for device in self.store.devices()
        )

    def _lose(self, epoch: str, top: Top, now: int, why: str) -> None:
        """Enters an epoch that this log has lost: met in a proof, or only in receipts."""
        if self.store.epoch(epoch) is None:
            self.store.lost_epoch(epoch, top.epoch, now, why)
        elif why == "lost":
            self.store.met_epoch(epoch)

    def met_in_receipts(self, epochs: set[str], top: Top, now: int) -> None:
        """Takes in epochs of receipts of ours that this log does not know of."""
        for epoch in sorted(epochs - set(self.store.epochs())):
            self._lose(epoch, top, now, "met")

    def told(self, dev: str, proof: str, top: Top) -> None:
        """Keeps that a device proved to know the present epoch."""
        if not proof.startswith(top.epoch + "."):
            return
        met = self.store.met(dev)
        if (met["told"], met["gen"]) != (top.epoch, top.gen):
            self.store.put_met(dev=dev, told=top.epoch, gen=top.gen, held=met["held"])

    def _two_servers(self, dev: str, epoch: str, top: Top, now: int) -> int:
        """Keeps that another server told a device of its epoch; returns how often since a start.

        Once or twice may be a phone and its copy; two servers go on and on.
        """
        before = self.store.notice(TWO_SERVERS)
        said = json.loads(before[1]) if before else {}
        n = said["n"] + 1 if said.get("gen") == top.gen else 1
        log.error("device %s knows epoch %s of another server of this farm", dev, epoch)
        told = {"dev": dev, "epoch": epoch, "gen": top.gen, "n": n}
        self.store.put_notice(TWO_SERVERS, now, json.dumps(told))
        return int(n)

    def readmit(self, told: dict[str, dict[str, object]], now: int) -> None:
        """Brings devices up to what records of this farm that came back say of them.

        Args:
            told: by device, the folded fields of its ``device.paired`` and ``device.revoked``.
        """
        with self.store.writing():
            for dev, said in told.items():
                row = self.store.device(dev)
                if "gen" not in said or (row and row["state"] == "paired"):
                    continue
                if row is None or row["state"] == "seen":
                    row = {"dev": dev, "made": now, "seen": row["seen"] if row else 0}
                    names = ("gen", "role", "person", "name", "letter")
                    row |= {name: said[name] for name in names} | {"state": "unconfirmed"}
                if "revoked" in said:
                    row["state"] = "revoked"
                self.store.put_device(**row)
        self.note()
