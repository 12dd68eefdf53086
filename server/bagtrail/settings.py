"""The server's settings: one table, read from the environment or given to ``create_app``."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
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
    Setting("BAGTRAIL_LAN", "off", "on: serve phones on the network too, over https."),
    Setting("BAGTRAIL_TLS_PORT", "", "Port for https. Default: the one phones know, else 8443."),
    Setting("BAGTRAIL_WELCOME_PORT", "8080", "Port of the plain page that phones meet first."),
    Setting("BAGTRAIL_CA_CONSTRAINTS", "on",
            "off: the farm's authority is made without name constraints; counts at its making."),
    Setting("BAGTRAIL_CERT", "", "PEM chain of a real domain, in place of the farm's own."),
    Setting("BAGTRAIL_KEY", "", "PEM key (PKCS#8) of that certificate."),
    Setting("BAGTRAIL_ORIGIN", "", "Address of the farm under that domain. Default: its name."),
    Setting("BAGTRAIL_HOSTS", "", "Further names this server answers to, as behind a proxy."),
    Setting("BAGTRAIL_SCALE", "", "Port of a bench scale, as /dev/ttyUSB0 or COM3."),
    Setting("BAGTRAIL_SCALE_BAUD", "9600", "Speed of that port; 8 data bits, no parity."),
    Setting("BAGTRAIL_PHOTOS_GB", "20", "Most that photographs may take up; 0 for no bound."),
    Setting("BAGTRAIL_MONITOR_TOKEN", "", "Bearer token, 20 symbols or more, for /api/health."),
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
    lan: bool
    tls_port: int  # 0: the one phones know
    welcome_port: int
    ca_constraints: bool
    cert: Path | None
    key: Path | None
    origin: str
    hosts: tuple[str, ...]
    monitor_token: str
    scale: str
    scale_baud: int
    photos_gb: int


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
    zone = value["BAGTRAIL_ZONE"] or machine_zone()
    if not _is_zone(zone):
        raise BadSetting(
            f"BAGTRAIL_ZONE is {zone!r}, not a time zone.", "Give one like Europe/London."
        )
    return Settings(
        data=data,
        database=value["BAGTRAIL_DATABASE"] or f"sqlite:///{data / 'farm.db'}",
        host=value["BAGTRAIL_HOST"],
        port=_port(value, "BAGTRAIL_PORT"),
        name=value["BAGTRAIL_NAME"][:60],
        zone=zone,
        static=Path(value["BAGTRAIL_STATIC"]).absolute() if value["BAGTRAIL_STATIC"] else None,
        backups=Path(value["BAGTRAIL_BACKUPS"] or data / "backups").expanduser().absolute(),
        backup_hours=_whole(value, "BAGTRAIL_BACKUP_HOURS", 0, 24 * 31),
        backup_keep=_whole(value, "BAGTRAIL_BACKUP_KEEP", 2, 10_000),
        lan=_switch(value, "BAGTRAIL_LAN"),
        tls_port=_port(value, "BAGTRAIL_TLS_PORT") if value["BAGTRAIL_TLS_PORT"] else 0,
        welcome_port=_port(value, "BAGTRAIL_WELCOME_PORT"),
        ca_constraints=_switch(value, "BAGTRAIL_CA_CONSTRAINTS"),
        **_own_domain(value),
        hosts=tuple(value["BAGTRAIL_HOSTS"].lower().replace(",", " ").split()),
        monitor_token=_token(value["BAGTRAIL_MONITOR_TOKEN"]),
        scale=value["BAGTRAIL_SCALE"],
        scale_baud=_whole(value, "BAGTRAIL_SCALE_BAUD", 300, 1_000_000),
        photos_gb=_whole(value, "BAGTRAIL_PHOTOS_GB", 0, 100_000),
    )


def _port(value: Mapping[str, str], name: str) -> int:
    port = value[name]
    if not (port.isascii() and port.isdigit() and 0 < int(port) < 65536):
        raise BadSetting(f"{name} is {port!r}, not a port.", "Give a whole number from 1 to 65535.")
    return int(port)


def _switch(value: Mapping[str, str], name: str) -> bool:
    said = value[name].lower()
    if said not in ("on", "off"):
        raise BadSetting(f"{name} is {value[name]!r}.", "Say on or off.")
    return said == "on"


def _own_domain(value: Mapping[str, str]) -> dict[str, Any]:
    cert, key, origin = (value[f"BAGTRAIL_{n}"] for n in ("CERT", "KEY", "ORIGIN"))
    if bool(cert) != bool(key):
        raise BadSetting("A certificate and its key go together.", "Give both --cert and --key.")
    if origin and not re.fullmatch(r"https://[A-Za-z0-9.-]+(:\d{1,5})?", origin):
        raise BadSetting(
            f"BAGTRAIL_ORIGIN is {origin!r}, not an address.",
            "Give one like https://farm.example:8443, without a slash at the end.",
        )
    paths = {n: Path(t).expanduser().absolute() if t else None for n, t in
             (("cert", cert), ("key", key))}  # fmt: skip
    return {**paths, "origin": origin.lower()}


def _token(text: str) -> str:
    if text and len(text) < 20:
        raise BadSetting("BAGTRAIL_MONITOR_TOKEN is short.", "Give 20 random symbols or more.")
    return text


def _whole(value: Mapping[str, str], name: str, least: int, most: int) -> int:
    text = value[name]
    if not (text.isascii() and text.isdigit() and least <= int(text) <= most):
        raise BadSetting(
            f"{name} is {text!r}, not a whole number.", f"Give one from {least} to {most}."
        )
    return int(text)
