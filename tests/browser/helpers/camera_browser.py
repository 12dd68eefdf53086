"""A real Chromium whose camera is a file, none, or forbidden."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Playwright


def chromium_path() -> str:
    """Return the system's Chromium; BAGTRAIL_CHROMIUM names another one."""
    named = os.environ.get("BAGTRAIL_CHROMIUM")
    found = named or shutil.which("chromium") or shutil.which("chromium-browser")
    if not found:
        raise FileNotFoundError("no Chromium: install the package chromium")
    return found


def camera_flags(feed: Path | None, *, denied: bool = False) -> list[str]:
    """Return the flags for a camera that plays `feed`; without one there is no camera at all."""
    if feed is None:
        return [
            "--use-fake-ui-for-media-stream",
            "--use-fake-device-for-media-stream=device-count=0",
        ]
    return [
        f"--use-fake-ui-for-media-stream{'=deny' if denied else ''}",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={feed.resolve()}",
    ]


@contextmanager
def camera_browser(
    playwright: Playwright, feed: Path | None, *, denied: bool = False, flags: tuple[str, ...] = ()
) -> Iterator[Browser]:
    """Start a browser of its own (one feed a process) and close it."""
    browser = playwright.chromium.launch(
        executable_path=chromium_path(),
        chromium_sandbox=False,
        args=[*camera_flags(feed, denied=denied), *flags],
    )
    try:
        yield browser
    finally:
        browser.close()
