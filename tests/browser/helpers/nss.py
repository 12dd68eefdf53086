"""A browser's own store of certificates, filled as by its user: no flag passes over anything."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest


def need_certutil() -> None:
    """Skip, with the reason said, where the program is not installed."""
    if shutil.which("certutil") is None:
        pytest.skip("no certutil: install libnss3-tools (tests/run does)")


def make_store(home: Path) -> Path:
    """Make an empty store where Chromium looks for it below `home`."""
    store = home / ".pki" / "nssdb"
    if not store.exists():
        store.mkdir(parents=True)
        _certutil("-N", "-d", f"sql:{store}", "--empty-password")
    return store


def trust(home: Path, certificate: Path) -> None:
    """Import a certificate as an authority for servers, as a person does in the settings."""
    store = make_store(home)
    _certutil("-A", "-d", f"sql:{store}", "-t", "C,,", "-n", certificate.name, "-i",
              str(certificate))  # fmt: skip


def _certutil(*words: str) -> None:
    done = subprocess.run(["certutil", *words], capture_output=True, text=True, timeout=30)
    assert done.returncode == 0, done.stderr
