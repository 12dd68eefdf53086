"""A disk whose power can be cut: a file system in an image, shut down without flushing anything.

Linux' ext4 has a call for it (EXT4_IOC_SHUTDOWN with NOLOGFLUSH, as file systems' own tests use):
from that moment nothing reaches the image any more. What was written and not synced is gone after
the next mount, which replays the journal as after a power loss. It needs root and a loop device.
"""

from __future__ import annotations

import os
import shutil
import struct
import subprocess
import sys
import time
from pathlib import Path

EXT4_IOC_SHUTDOWN = 0x8004_587D  # _IOR('X', 125, __u32)
NO_LOG_FLUSH = 2
SIZE = 96 << 20  # bytes; the image is sparse


class Disk:
    """A mounted image. `at` is the folder to write to."""

    def __init__(self, folder: Path, size: int = SIZE) -> None:
        self.image, self.at = folder / "disk.img", folder / "disk"
        self.at.mkdir()
        with self.image.open("wb") as file:
            file.truncate(size)
        _run("mkfs.ext4", "-q", "-F", "-m", "0", str(self.image))
        self._mount()

    def cut(self) -> None:
        """Cut the power: every write from now on fails, and what was not synced is lost."""
        import fcntl  # Windows has none, and gets no further than disk()

        handle = os.open(self.at, os.O_RDONLY)
        try:
            fcntl.ioctl(handle, EXT4_IOC_SHUTDOWN, struct.pack("I", NO_LOG_FLUSH))
        finally:
            os.close(handle)

    def back(self) -> None:
        """Power is back: mount what the image holds. Nobody may have a file of it open any more."""
        self.close()
        self._mount()

    def close(self) -> None:
        """Take the disk out."""
        for _ in range(50):
            if subprocess.run(["umount", str(self.at)], capture_output=True).returncode == 0:
                return
            time.sleep(0.1)
        _run("umount", "--lazy", str(self.at))

    def _mount(self) -> None:
        # The journal is committed by syncs, not by a clock: what is lost is no luck.
        _run("mount", "-o", "loop,commit=300", str(self.image), str(self.at))


def disk(folder: Path, size: int = SIZE) -> Disk | str:
    """Return a disk that was seen to lose what was not synced, or why there can be none here."""
    if sys.platform != "linux" or os.geteuid() != 0:
        return "only root of a Linux machine can mount an image"
    if not all(shutil.which(tool) for tool in ("mkfs.ext4", "mount", "umount")):
        return "mkfs.ext4, mount or umount is missing"
    try:
        made = Disk(folder, size)
    except OSError as no:
        return str(no)
    try:
        (made.at / "synced").write_text("kept")
        with (made.at / "synced").open() as file:
            os.fsync(file.fileno())
        (made.at / "unsynced").write_text("lost")
        made.cut()
        made.back()
    except OSError as no:
        made.close()
        return f"the power of an image cannot be cut here: {no}"
    lost = made.at / "unsynced"
    if (made.at / "synced").read_text() != "kept" or (lost.exists() and lost.read_text()):
        made.close()
        return "a cut image here does not lose just what was not synced"
    return made


def _run(*words: str) -> None:
    done = subprocess.run(words, capture_output=True, text=True)
    if done.returncode:
        raise OSError(f"{words[0]}: {(done.stderr or done.stdout).strip()}")
