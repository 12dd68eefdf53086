"""The server's settings: one table, read from the environment or given to ``create_app``."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from .errors import BadSetting


@dataclass(frozen=True)
class Setting:
    """One setting: environment variable, default as text, what it does."""

    name: str
    default: str
    doc: str


SETTINGS = (
    Setting("BAGTRAIL_DATA", "", "Data folder: database, farm identity. Default: the user's own."),
    Setting("BAGTRAIL_DATABASE", "", "Database URL. Default: sqlite file farm.db in the folder."),
    Setting("BAGTRAIL_HOST", "127.0.0.1", "Address to listen on; 0.0.0.0 for every network card."),
    Setting("BAGTRAIL_PORT", "8765", "Port to listen on."),
    Setting("BAGTRAIL_NAME", "My farm", "Name of the farm, used when the farm is first made."),
    Setting("BAGTRAIL_ZONE", "", "Time zone of the farm when first made. Default: the machine's."),
    Setting("BAGTRAIL_STATIC", "",
            "Folder of the built client. Default: the packaged one, else client/dist."),
    Setting("BAGTRAIL_BACKUPS", "", "Folder for backups, best on another disk. Default: in data."),
    Setting("BAGTRAIL_BACKUP_HOURS", "6", "Hours between backups of the server; 0 for none."),
    Setting("BAGTRAIL_BACKUP_KEEP", "28", "How many backups of the schedule are kept."),
)  # fmt: skip


@dataclass(frozen=True)
class Settings:
    """The settings in use; paths made absolute, nothing created yet."""

    data: Path
    database: str
    host: str
    port: int
    name: str
    zone: str
    static: Path | None
    backups: Path
    backup_hours: int
    backup_keep: int


def default_data() -> Path:
    """Returns the folder where this system keeps a user's program data."""
    home = Path.home()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", home / "AppData" / "Local")) / "Bagtrail"
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "Bagtrail"
    return Path(os.environ.get("XDG_DATA_HOME") or home / ".local" / "share") / "bagtrail"


def machine_zone() -> str:
    """Returns the machine's IANA zone, or UTC when it does not say."""
    candidates = [os.environ.get("TZ", "")]
    try:
        candidates.append(Path("/etc/timezone").read_text(encoding="ascii").strip())
    except (OSError, UnicodeDecodeError):
        pass
    try:
        candidates.append(str(Path("/etc/localtime").resolve()).partition("zoneinfo/")[2])
    except OSError:
        pass
    for name in candidates:
        if name and _is_zone(name):
            return "UTC" if name in ("Etc/UTC", "Etc/UCT", "UCT") else name
    return "UTC"


def _is_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ValueError, OSError, LookupError):
        return False
    return True


def load(given: Mapping[str, str] | None = None, env: Mapping[str, str] | None = None) -> Settings:
    """Returns the settings from ``given``, else the environment, else the defaults.

    Raises:
        BadSetting: a port that is no port, a zone nobody knows.
    """
    environ = os.environ if env is None else env
    value = {
        s.name: (given or {}).get(s.name) or environ.get(s.name) or s.default for s in SETTINGS
    }
    data = Path(value["BAGTRAIL_DATA"] or default_data()).expanduser().absolute()
    port = value["BAGTRAIL_PORT"]
    if not (port.isascii() and port.isdigit() and 0 < int(port) < 65536):
        raise BadSetting(
            f"BAGTRAIL_PORT is {port!r}, not a port.", "Give a whole number from 1 to 65535."
        )
    zone = value["BAGTRAIL_ZONE"] or machine_zone()
    if not _is_zone(zone):
        raise BadSetting(
            f"BAGTRAIL_ZONE is {zone!r}, not a time zone.", "Give one like Europe/London."
        )
    return Settings(
        data=data,
        database=value["BAGTRAIL_DATABASE"] or f"sqlite:///{data / 'farm.db'}",
        host=value["BAGTRAIL_HOST"],
        port=int(port),
        name=value["BAGTRAIL_NAME"][:60],
        zone=zone,
        static=Path(value["BAGTRAIL_STATIC"]).absolute() if value["BAGTRAIL_STATIC"] else None,
        backups=Path(value["BAGTRAIL_BACKUPS"] or data / "backups").expanduser().absolute(),
        backup_hours=_whole(value, "BAGTRAIL_BACKUP_HOURS", 0, 24 * 31),
        backup_keep=_whole(value, "BAGTRAIL_BACKUP_KEEP", 2, 10_000),
    )


def _whole(value: Mapping[str, str], name: str, least: int, most: int) -> int:
    text = value[name]
    if not (text.isascii() and text.isdigit() and least <= int(text) <= most):
        raise BadSetting(
            f"{name} is {text!r}, not a whole number.", f"Give one from {least} to {most}."
        )
    return int(text)
