"""The recovery key: with it and a backup, a bare machine becomes the farm's server again.

160 random bits, printed as eight groups of four symbols and one that checks them, under which the
farm's identity lies in every backup (ChaCha20-Poly1305, RFC 8439; key derived by HKDF, RFC 5869).
The server keeps the key beside the identity: who can read the one can read the other.
"""

from __future__ import annotations

import base64
import json
import os
import secrets
from pathlib import Path
from typing import Any

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from . import ids
from .errors import BadData, BadSheet

FILE = "recovery.key"
KEY_BYTES = 20
GROUPS = 8
SEALED = ("identity.json",)  # files of the data folder; whole folders of keys follow
SEALED_FOLDERS = ("ca",)


def groups_of(key: bytes) -> list[str]:
    """Returns a key as printed: eight groups of five symbols, the fifth checks group and place."""
    number = int.from_bytes(key, "big")
    symbols = "".join(ids.ALPHABET[(number >> shift) & 31] for shift in range(155, -1, -5))
    parts = [symbols[i : i + 4] for i in range(0, 32, 4)]
    return [part + ids.check_symbol(ids.ALPHABET[i] + part) for i, part in enumerate(parts)]


def key_of(text: str) -> bytes:
    """Returns the key from its groups as typed; case, spaces, O for 0 do not matter.

    Raises:
        BadSheet: a group is missing or does not check; ``details`` name which (from 1).
    """
    bare = ids.normalise(text)
    groups = [bare[i : i + 5] for i in range(0, len(bare), 5)]
    if len(groups) != GROUPS or len(bare) != 5 * GROUPS:
        raise BadSheet(f"The recovery key has {GROUPS} groups of five symbols.")
    number = 0
    for i, group in enumerate(groups):
        good = all(c in ids.ALPHABET for c in group)
        if not good or ids.check_symbol(ids.ALPHABET[i] + group[:4]) != group[4]:
            raise BadSheet(
                f"Group {i + 1} of the recovery key ({group}) does not check.",
                details={"group": i + 1},
            )
        for symbol in group[:4]:
            number = number << 5 | ids.ALPHABET.index(symbol)
    return number.to_bytes(KEY_BYTES, "big")


def load_key(folder: Path) -> tuple[bytes, bool]:
    """Returns the farm's recovery key, made at the first call, and whether it is new.

    Raises:
        BadData: the file is there but holds no key.
    """
    path = folder / FILE
    new = False
    if not path.exists():
        new = keep_key(folder, secrets.token_bytes(KEY_BYTES))
    try:
        return key_of(path.read_text(encoding="ascii")), new
    except (OSError, ValueError, BadSheet) as bad:
        raise BadData(f"The recovery key in {path} cannot be read.") from bad


def keep_key(folder: Path, key: bytes) -> bool:
    """Writes the key into the data folder; False when one was there already."""
    path = folder / FILE
    temporary = path.with_name(f"{FILE}.{secrets.token_hex(4)}")
    handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(" ".join(groups_of(key)) + "\n")
            file.flush()
            os.fsync(file.fileno())
        os.link(temporary, path)
    except FileExistsError:
        return False  # another process was first; its key counts
    finally:
        temporary.unlink(missing_ok=True)
    return True


def secrets_of(folder: Path) -> dict[str, str]:
    """Returns the files of a data folder that make it this farm's, by name, in base64."""
    paths = [folder / name for name in SEALED]
    for name in SEALED_FOLDERS:
        paths += sorted(p for p in (folder / name).rglob("*") if p.is_file())
    return {
        p.relative_to(folder).as_posix(): base64.b64encode(p.read_bytes()).decode() for p in paths
    }


def put_secrets(folder: Path, files: dict[str, str]) -> None:
    """Writes such files into a new data folder; none that is there is written over."""
    for name, text in files.items():
        path = folder / name
        if not path.resolve().is_relative_to(folder.resolve()) or path.exists():
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(base64.b64decode(text))


def seal(key: bytes, farm: str, files: dict[str, str]) -> bytes:
    """Returns files encrypted under the recovery key, bound to the farm's id."""
    nonce = secrets.token_bytes(12)
    box = ChaCha20Poly1305(_derive(key)).encrypt(nonce, json.dumps(files).encode(), farm.encode())
    return json.dumps(
        {"v": 1, "farm": farm, "nonce": nonce.hex(), "box": base64.b64encode(box).decode()}
    ).encode()


def unseal(key: bytes, sealed: bytes) -> dict[str, str]:
    """Returns the files again.

    Raises:
        BadSheet: the key is another farm's, or the box was changed.
    """
    try:
        said: dict[str, Any] = json.loads(sealed)
        machine = ChaCha20Poly1305(_derive(key))
        nonce, box = bytes.fromhex(said["nonce"]), base64.b64decode(said["box"])
        files: dict[str, str] = json.loads(machine.decrypt(nonce, box, said["farm"].encode()))
    except (InvalidTag, ValueError, KeyError, TypeError) as bad:
        raise BadSheet("This recovery key does not open this backup.") from bad
    return files


def _derive(key: bytes) -> bytes:
    return HKDF(SHA256(), 32, salt=None, info=b"bagtrail identity 1").derive(key)
