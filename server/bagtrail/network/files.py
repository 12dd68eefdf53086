"""Files that hold keys: whole or not at all, and for their owner only."""

from __future__ import annotations

import os
import secrets
from pathlib import Path


def make_folder(path: Path) -> None:
    """Makes a folder that only its owner may look into."""
    path.mkdir(mode=0o700, parents=True, exist_ok=True)
    path.chmod(0o700)


def write(path: Path, data: bytes) -> None:
    """Writes a file of mode 600 in one step: a reader meets the old one or the new one."""
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)
