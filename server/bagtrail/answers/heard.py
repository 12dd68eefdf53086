"""What was heard of every phone, what came back after a restore, and how safe the log is (P8)."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from ..durable import counts
from ..epochs import BROUGHT_BACK, TWO_SERVERS
from ..sync import Log

DAY_MS = 86_400_000


def devices(log: Log) -> list[dict[str, Any]]:
    """Returns every device with what is known of what waits on it or never arrived.

    Returns:
        [{"dev","name","letter","role","person","state","made","seen","waiting": records it said
        were left, "oldest": ms, "missing": [[stream, from, to], ...], "lost": how many}], oldest
        first. ``missing`` are numbers of its streams: gaps in what came, and what was left.
    """
    with log.store.reading():
        rows = log.store.devices()
        streams: dict[str, list[dict[str, Any]]] = {}
        for stream in log.store.streams():
            streams.setdefault(stream["dev"], []).append(stream)
        found = []
        for row in rows:
            missing: list[list[Any]] = []
            waiting = oldest = 0
            for stream in streams.get(row["dev"], []):
                for first, last in log.store.gaps(stream["st"], stream["contig"]):
                    missing.append([stream["st"], first, last])
                if stream["pending"]:
                    top = max(stream["top"], stream["contig"])
                    waiting += stream["pending"]
                    oldest = min(oldest or stream["oldest"], stream["oldest"])
                    missing.append([stream["st"], top + 1, top + stream["pending"]])
            lost = sum(last - first + 1 for _, first, last in missing)
            more = {"waiting": waiting, "oldest": oldest, "missing": missing, "lost": lost}
            found.append({**{k: v for k, v in row.items() if k != "gen"}, **more})
        return found


def put_back(log: Log) -> dict[str, Any] | None:
    """Returns what came back since the log was last put back; None if it never was.

    Returns:
        {"why","at": ms,"pos","back_to": when the last record it held had come, ms, 0 for an empty
        log, "records": how many came back, "phones": [[dev, n], ...], "unheard": [dev, ...]}.
    """
    with log.store.reading():
        epochs = [log.store.epoch(e) for e in log.store.epochs()]
        row = next((e for e in reversed(epochs) if e and e["why"] in BROUGHT_BACK), None)
        if row is None:
            return None
        last = log.store.at(row["pos"])
        back = log.store.came_back(row["epoch"])
        unheard = [
            d["dev"] for d in log.store.devices()
            if d["state"] != "revoked" and d["seen"] < row["at"] and d["made"] < row["at"]
        ]  # fmt: skip
    return {
        "why": row["why"],
        "at": row["at"],
        "pos": row["pos"],
        "back_to": last.rt if last else 0,
        "records": sum(back.values()),
        "phones": [list(item) for item in back.items()],
        "unheard": unheard,
    }


def backups(log: Log) -> list[dict[str, Any]]:
    """Returns every backup, newest first, each with whether it counts as durable."""
    with log.store.reading():
        return [{**row, "counts": counts(row, log.store)} for row in log.store.backups()]


def state(log: Log) -> dict[str, Any]:
    """Returns all of the above, and the owner's plain sentences."""
    with log.store.reading():
        top = log.store.top()
        two = log.store.notice(TWO_SERVERS)
        if two and two[0] < log.clock() - DAY_MS:
            two = None  # whoever it was has not been met again
    found: dict[str, Any] = {
        "k": "state1",
        "epoch": top.epoch,
        "head": top.pos,
        "durable": log.durable.pos(top),
        "put_back": put_back(log),
        "two_servers": {"at": two[0], **json.loads(two[1])} if two else None,
        "devices": devices(log),
        "backups": backups(log),
    }
    zone = str(log.live.ref("settings").get("zone", "UTC"))
    return {**found, "sentences": sentences(found, zone)}


def sentences(found: dict[str, Any], zone: str) -> list[str]:
    """Returns what the owner must know, in plain sentences; times in the farm's zone."""
    names = {
        d["dev"]: d["name"] or f"phone {d['letter'] or d['dev'][:5]}" for d in found["devices"]
    }
    said = []
    two = found["two_servers"]
    if two and two["n"] > 1:
        name = names.get(two["dev"], two["dev"])
        said.append(f"Two servers answer for this farm: {name} has met another one. Stop one.")
    back = found["put_back"]
    if back:
        said.append(_back(back, names, found["devices"], zone))
    for device in found["devices"]:
        if device["lost"]:
            said.append(f"{names[device['dev']]}: {_lost(device, zone)}.")
    if found["durable"] == 0:
        said.append("The phones are the only backup: fewer than two good backups lie elsewhere.")
    return said


def _back(
    back: dict[str, Any], names: dict[str, str], devices: list[dict[str, Any]], zone: str
) -> str:
    until = _clock(back["back_to"], zone) if back["back_to"] else "empty"
    phones = len(back["phones"])
    text = f"The server was put back to {until}; {_count(back['records'], 'record')} came back"
    text += f" from {_count(phones, 'phone')}" if phones else ""
    waits = {d["dev"]: d["waiting"] for d in devices}
    for dev in back["unheard"]:
        text += f"; {names[dev]} not heard from (last reported {waits[dev]} waiting)"
    return text + "."


def _lost(device: dict[str, Any], zone: str) -> str:
    ranges = ", ".join(f"{a}" if a == b else f"{a}-{b}" for _, a, b in device["missing"])
    told = f"{_count(device['lost'], 'record')}, sq {ranges}, never arrived"
    return f"{told} (last heard {_clock(device['seen'], zone)})"


def heard_of(device: dict[str, Any], zone: str) -> str:
    """Returns one sentence about a phone that is gone: what is lost with it, or that nothing is."""
    if device["lost"]:
        return _lost(device, zone)
    return f"0 waiting at {_clock(device['seen'], zone)}"


def _count(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"


def _clock(ms: int, zone: str) -> str:
    at = datetime.fromtimestamp(ms / 1000, ZoneInfo(zone))
    today = datetime.now(ZoneInfo(zone)).date() == at.date()
    return at.strftime("%H:%M" if today else "%H:%M on %d %b %Y")
