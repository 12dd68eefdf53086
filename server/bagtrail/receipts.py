"""What the server says of a record once, and keeps: its receipt, its time, its link in the chain.

Pure but for the keys passed in. A receipt is one compact JSON string of at most 250 bytes with a
128-bit MAC that only the server verifies; a phone sends it along when it re-offers a record, so a
server put back to an older backup takes over what was decided before (design 7.6).
"""

from __future__ import annotations

import base64
import hashlib
import json
import uuid
from typing import Any

from . import keys

MAX_BYTES = 250
DAY_MS = 86_400_000
# How old may a clock say a record is? A phone may lie in a drawer for a year (sync.md 3.7, C4).
OLDEST_MS = 400 * DAY_MS
# How far may a clock run ahead before it is corrected? (sync.md 3.7)
AHEAD_MS = 2 * 60_000
QUALITIES = ("sync", "stale", "none", "jump")


def text_hash(text: str) -> str:
    """Returns the SHA-256 of a record's text, base64url without padding (43 characters)."""
    return _hash(hashlib.sha256(text.encode()).digest())


def _hash(digest: bytes) -> str:
    return base64.urlsafe_b64encode(digest).decode().rstrip("=")


def derived_id(id_: str, text: str) -> str:
    """Returns the id under which a second text with a known id is kept: always the same one.

    A UUID of version 8 (RFC 9562 section 5.8: made by the application) from both.
    """
    raw = bytearray(hashlib.sha256(f"{id_}\n{text}".encode()).digest()[:16])
    raw[6] = 0x80 | (raw[6] & 0x0F)
    raw[8] = 0x80 | (raw[8] & 0x3F)
    return str(uuid.UUID(bytes=bytes(raw)))


def make(
    key: bytes,
    *,
    id_: str,
    text: str,
    epoch: str,
    pos: int,
    eff: int,
    quality: str,
    flags: list[str],
    role: str,
    dev: str,
    digest: bytes = b"",
) -> tuple[str, str]:
    """Returns a receipt and its MAC; ``digest`` is the SHA-256 of the text, if it is at hand."""
    # Every value is of our own making and holds nothing that JSON would escape; written out
    # because building an encoder for each cost as much as the two digests.
    receipt = (
        f'{{"id":"{id_}","h":"{_hash(digest) if digest else text_hash(text)}","e":"{epoch}",'
        f'"p":{pos},"t":{eff},"q":"{quality}","f":"{" ".join(flags)}","a":"{role}","dev":"{dev}"}}'
    )
    return receipt, keys.mac(key, receipt)


def read(key: bytes, receipt: str, rmac: str, text: str) -> dict[str, Any] | None:
    """Returns a sent receipt's content if this farm made it for this very text, else None."""
    try:
        if len(receipt) > MAX_BYTES or not keys.same(keys.mac(key, receipt), rmac):
            return None
        said = json.loads(receipt)
    except ValueError:  # a lone surrogate; anything else was made by us and parses
        return None
    return said if said["h"] == text_hash(text) else None


def chain(before: str, id_: str, text: str, receipt: str, digest: bytes = b"") -> str:
    """Returns h(p) from h(p-1), hex: SHA-256 over the one before, the id and both digests."""
    digest = digest or hashlib.sha256(text.encode()).digest()
    said = hashlib.sha256(receipt.encode()).digest()
    link = b"".join((bytes.fromhex(before), id_.encode(), digest, said))
    return hashlib.sha256(link).digest()[:16].hex()


def effective(
    *, at: int, quality: str, received: int, skew: int | None, floor: int
) -> tuple[int, list[str]]:
    """Returns the time a record counts with, decided once at ingestion, and its flags.

    Args:
        at: ms UTC by the phone's corrected clock.
        quality: of that clock: sync, stale, none or jump.
        received: ms UTC by the server's clock.
        skew: server minus phone as this request shows it, None where the record is not the
            sender's own.
        floor: the least it may be: after what the writer had seen (sync.md 3.7).

    Returns:
        (ms UTC, flags): "skew" when the phone had never met a clock and this request's was used,
        "clk" when the time was beyond belief and the arrival stands for it.
    """
    flags: list[str] = []
    eff = at
    if quality == "none" and skew:
        eff = at + skew
        flags.append("skew")
    if not received - OLDEST_MS <= eff <= received + AHEAD_MS:
        eff = received
        flags = ["clk"]
    return max(eff, floor), flags
