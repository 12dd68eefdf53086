"""The tables as peewee sees them, and what a row of the log and its head are to the rest."""

from __future__ import annotations

from dataclasses import dataclass

import peewee as pw


class Head(pw.Model):
    one = pw.IntegerField(primary_key=True)
    epoch = pw.CharField()
    pos = pw.BigIntegerField()
    h = pw.CharField()
    gen = pw.BigIntegerField()


class Event(pw.Model):
    pos = pw.BigIntegerField(primary_key=True)
    id = pw.CharField()
    st = pw.CharField()
    sq = pw.BigIntegerField()
    dev = pw.CharField()
    text = pw.BlobField()
    mac = pw.CharField()
    receipt = pw.BlobField()
    rmac = pw.CharField()
    h = pw.CharField()
    rt = pw.BigIntegerField()


class Epoch(pw.Model):
    epoch = pw.CharField(primary_key=True)
    n = pw.BigIntegerField()  # its place in the order of epochs
    pos = pw.BigIntegerField()  # where the log stood when it began
    h = pw.CharField()
    at = pw.BigIntegerField()
    why = (
        pw.CharField()
    )  # new, emptied, restored, older, cluster, rewound; lost, met: not of this log


class CameBack(pw.Model):
    epoch = pw.CharField()
    dev = pw.CharField()
    n = pw.BigIntegerField()
    at = pw.BigIntegerField()

    class Meta:
        table_name = "came_back"
        primary_key = pw.CompositeKey("epoch", "dev")


class Origin(pw.Model):
    one = pw.IntegerField(primary_key=True)
    place = pw.CharField()  # which database of which cluster this is; "" on SQLite
    timeline = pw.BigIntegerField()
    backup_at = pw.BigIntegerField()  # when a scheduled backup was last begun


class Notice(pw.Model):
    what = pw.CharField(primary_key=True)
    at = pw.BigIntegerField()
    json = pw.BlobField()


class Device(pw.Model):
    dev = pw.CharField(primary_key=True)
    gen = pw.BigIntegerField()
    role = pw.CharField()
    person = pw.CharField()
    name = pw.CharField()
    letter = pw.CharField()
    # paired; unconfirmed: paired before the log was put back, the owner has yet to say so; seen:
    # known by its key only, after a restore; revoked
    state = pw.CharField()
    made = pw.BigIntegerField()
    seen = pw.BigIntegerField()


class Met(pw.Model):
    dev = pw.CharField(primary_key=True)
    told = pw.CharField()  # the newest epoch that the device itself proved to know
    gen = pw.BigIntegerField()  # the log's `gen` then
    held = pw.BigIntegerField()  # records taken from it since it was revoked

    class Meta:
        table_name = "met"


class Stream(pw.Model):
    st = pw.CharField(primary_key=True)
    dev = pw.CharField()
    contig = pw.BigIntegerField()
    top = pw.BigIntegerField()
    pending = pw.BigIntegerField()
    oldest = pw.BigIntegerField()
    seen = pw.BigIntegerField()


class Pairing(pw.Model):
    hash = pw.CharField(primary_key=True)
    role = pw.CharField()
    person = pw.CharField()
    expires = pw.BigIntegerField()
    used = pw.BigIntegerField()
    made_by = pw.CharField()


class Attempt(pw.Model):
    who = pw.CharField()
    at = pw.BigIntegerField()
    n = pw.IntegerField()

    class Meta:
        primary_key = False


class Pin(pw.Model):
    person = pw.CharField(primary_key=True)
    hash = pw.CharField()


class PinTry(pw.Model):
    who = pw.CharField(primary_key=True)
    wrong = pw.BigIntegerField()
    until = pw.BigIntegerField()

    class Meta:
        table_name = "pin_try"


class Snapshot(pw.Model):
    unit = pw.CharField(primary_key=True)
    pos = pw.BigIntegerField()
    json = pw.BlobField()


class Backup(pw.Model):
    name = pw.CharField(primary_key=True)
    folder = pw.CharField()
    at = pw.BigIntegerField()
    epoch = pw.CharField()
    pos = pw.BigIntegerField()
    h = pw.CharField()
    size = pw.BigIntegerField()
    verified = pw.BigIntegerField()  # when, 0 = not (yet)
    fault = pw.CharField()  # why not, one sentence
    elsewhere = pw.BooleanField()  # it lies on another disk than the database
    away = pw.BigIntegerField()  # when the owner confirmed that it was copied away, 0 = not
    gone = pw.BooleanField()  # the file was not found again


@dataclass(frozen=True, slots=True)
class Stored:
    """One row of the log: the record's text as it came, and what the server said of it."""

    pos: int
    id: str
    st: str
    sq: int
    dev: str
    text: str
    mac: str
    receipt: str
    rmac: str
    h: str
    rt: int


@dataclass(frozen=True)
class Top:
    """Where the log ends: its epoch, last position and the chain's hash there."""

    epoch: str
    pos: int
    h: str
    gen: int
