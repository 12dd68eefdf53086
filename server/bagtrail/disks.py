"""On which disk a folder lies: a backup beside its database dies with it (design 7.9)."""

from __future__ import annotations

import os
import sys
from pathlib import Path

# What is gone after a restart is no place for a backup.
VOLATILE = ("tmpfs", "ramfs", "overlay", "squashfs")
MOUNTS = Path("/proc/self/mountinfo")
BLOCKS = Path("/sys/dev/block")


def disk_of(path: Path) -> str | None:
    """Returns a name of the disk or network share that holds a path; None if it cannot be told.

    On Linux two partitions of one drive are one disk, and a file system in memory is none.
    Elsewhere a volume is taken for a disk.
    """
    try:
        real = path.resolve(strict=True)
        device = real.stat().st_dev
    except OSError:
        return None
    if not sys.platform.startswith("linux"):
        return f"volume:{device}"
    number = f"{os.major(device)}:{os.minor(device)}"
    kind, source = _mount(number)
    if kind in VOLATILE or not kind:
        return None
    if os.major(device) == 0:  # no block device: a share of the network, or a pool of disks
        return f"{kind}:{source}"
    return f"disk:{_drive(number)}"


def _mount(number: str) -> tuple[str, str]:
    """Returns (type, source) of the file system with a device number, from mountinfo(5)."""
    try:
        lines = MOUNTS.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return "", ""
    for line in lines:
        before, _, after = line.partition(" - ")
        if before.split()[2:3] == [number]:
            return after.split()[0], after.split()[1]
    return "", ""


def _drive(number: str) -> str:
    """Returns the drive's name of a partition's number; the number where sysfs does not tell."""
    try:
        real = (BLOCKS / number).resolve(strict=True)
    except OSError:
        return number
    return real.parent.name if (real / "partition").exists() else real.name


def elsewhere(folder: Path, database: Path | None, database_here: bool) -> bool:
    """Tells whether a folder surely lies on another disk than the database.

    Args:
        database: the database's file, None for one behind a server.
        database_here: that server runs on this machine, where its files lie nobody tells us.
    """
    mine = disk_of(folder)
    if mine is None:
        return False
    if database is None:
        return not database_here
    other = disk_of(database)
    return other is not None and other != mine
