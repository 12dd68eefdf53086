"""The farm's identity and every key that follows from its one secret.

    master -- dev.gen --> device key K -- "stream" + st --> stream key (mac of a record)
                                       -- "token"        --> bearer tag (who delivers)
           -- "receipt" --> receipt key (what the server once said of a record)
           -- "pairing" --> key under which one-time codes are stored
           -- "foreign" --> key of records that came from another farm's file (foreign.py)

Nothing but the master secret has to be kept, so a server put back from a backup still knows
phones that were paired after it. All MACs are HMAC-SHA256; those beside records are cut to 128
bits and written in hex.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import re
import secrets
from dataclasses import dataclass
from pathlib import Path

from .errors import BadData

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
FILE = "identity.json"


def _hmac(key: bytes, text: str) -> bytes:
    return hmac.digest(key, text.encode("utf-8"), hashlib.sha256)


def same(a: str, b: str) -> bool:
    """Returns whether two secrets are equal, in a time that does not tell where they differ."""
    return hmac.compare_digest(a.encode("utf-8", "replace"), b.encode("utf-8", "replace"))


def device_key(master: bytes, dev: str, gen: int) -> bytes:
    """Returns K, the 32-byte key a device gets when it is paired."""
    return _hmac(master, f"{dev}.{gen}")


def stream_key(device: bytes, st: str) -> bytes:
    """Returns the key of one stream, so that a cloned phone can mint a new stream offline."""
    return _hmac(device, "stream" + st)


def bearer_tag(device: bytes) -> str:
    """Returns the last part of the bearer token ``dev.gen.tag``, hex."""
    return _hmac(device, "token").hex()


def mac(key: bytes, text: str) -> str:
    """Returns the 128-bit MAC of a text, hex.

    Raises:
        UnicodeEncodeError: the text holds a lone surrogate and so has no UTF-8 form.
    """
    return _hmac(key, text)[:16].hex()


def receipt_key(master: bytes) -> bytes:
    """Returns the key under which receipts are made; only the server ever verifies one."""
    return _hmac(master, "receipt")


def foreign_key(master: bytes) -> bytes:
    """Returns the key that says: this farm took the text from another farm's file, on trust."""
    return _hmac(master, "foreign")


def reset_text(farm: str, epoch: str, nonce: str) -> str:
    """Returns what the MAC of a reset reply covers, so that no portal can forge one."""
    return f"reset.{farm}.{epoch}.{nonce}"


def revoked_text(farm: str, nonce: str) -> str:
    """Returns what the MAC of "your key was taken back" covers: a phone lets its view go on it."""
    return f"revoked.{farm}.{nonce}"


def code_hash(master: bytes, code: str) -> str:
    """Returns the form in which a one-time code is stored, hex."""
    return _hmac(_hmac(master, "pairing"), code).hex()


@dataclass(frozen=True)
class Identity:
    """Who this farm is: its id, its tag of four Crockford symbols, its secret, its own device."""

    farm: str
    tag: str
    master: bytes
    dev: str

    def device_key(self, dev: str, gen: int) -> bytes:
        """Returns the key of a device of this farm."""
        return device_key(self.master, dev, gen)

    def stream_key(self, dev: str, gen: int, st: str) -> bytes:
        """Returns the key of a stream of a device of this farm."""
        return stream_key(self.device_key(dev, gen), st)

    def token_ok(self, dev: str, gen: int, tag: str) -> bool:
        """Returns whether a bearer token was made from this farm's secret."""
        return same(bearer_tag(self.device_key(dev, gen)), tag)


def new_identity() -> Identity:
    """Returns a farm nobody had before."""
    return Identity(
        farm="f" + secrets.token_hex(8),
        tag="".join(secrets.choice(ALPHABET) for _ in range(4)),
        master=secrets.token_bytes(32),
        dev="d" + secrets.token_hex(8),
    )


def load_identity(folder: Path) -> Identity:
    """Returns the identity kept in the data folder, made at the first call.

    The file is written whole, flushed and then linked to its name, so two processes that start
    together agree and a cut never leaves half a secret.

    Raises:
        BadData: the file is there but cannot be read as an identity.
    """
    path = folder / FILE
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        _write(path, new_identity())
    try:
        raw = json.loads(path.read_text(encoding="ascii"))
        known = Identity(raw["farm"], raw["tag"], bytes.fromhex(raw["secret"]), raw["dev"])
    except (OSError, ValueError, KeyError, TypeError) as bad:
        raise BadData(f"The farm's identity in {path} cannot be read ({bad}).") from bad
    if len(known.master) != 32 or not re.fullmatch(r"d[0-9a-f]{16}", known.dev):
        raise BadData(f"The farm's identity in {path} is damaged.")
    return known


def _write(path: Path, identity: Identity) -> None:
    temporary = path.with_name(f"{FILE}.{secrets.token_hex(4)}")
    text = json.dumps(
        {
            "v": 1,
            "farm": identity.farm,
            "tag": identity.tag,
            "secret": identity.master.hex(),
            "dev": identity.dev,
        }
    )
    handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(text + "\n")
            file.flush()
            os.fsync(file.fileno())
        try:
            os.link(temporary, path)
        except FileExistsError:
            pass  # another process was first; its identity counts
    finally:
        temporary.unlink(missing_ok=True)
