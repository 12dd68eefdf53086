"""A phone or the farm's own computer: real Chromium whose profile outlives a kill."""

from __future__ import annotations

import json
import re
import time
from pathlib import Path
from typing import Any

import psutil
from playwright.sync_api import BrowserContext, Error, Page, Playwright, expect

from .harness_pages import GO, KEPT, OUTBOX, QUEUED, QUIET, ROWS, STORED
from .harness_words import words
from .helpers.camera_browser import camera_flags, chromium_path

PHONE = (360, 740)
DESK = (1280, 800)
# Longer than the 15 s after which a phone asks the farm's computer by itself.
WAIT_MS = 25_000
expect.set_options(timeout=WAIT_MS)


class Phone:
    """One browser profile. `page` is its first tab; `troubles` collects what nobody would see."""

    def __init__(
        self,
        playwright: Playwright,
        folder: Path,
        url: str,
        *,
        feed: Path | None = None,
        denied: bool = False,
        size: tuple[int, int] = PHONE,
        theme: str = "light",
    ) -> None:
        self.url = url
        self.size = size
        self.troubles: list[str] = []
        self._playwright = playwright
        self._profile = folder / "profile"
        self._home = folder
        self._theme = theme
        self._feed, self._denied = feed, denied
        self._context: BrowserContext | None = None
        self.page: Page

    @property
    def context(self) -> BrowserContext:
        """The running browser's context."""
        assert self._context is not None, "this phone is off"
        return self._context

    def start(self) -> Phone:
        """Start the browser on this profile."""
        self._profile.mkdir(parents=True, exist_ok=True)
        width, height = self.size
        self._context = self._playwright.chromium.launch_persistent_context(
            str(self._profile),
            executable_path=chromium_path(),
            chromium_sandbox=False,
            args=[*camera_flags(self._feed, denied=self._denied), "--disable-gpu"],
            env={"HOME": str(self._home)},
            viewport={"width": width, "height": height},
            has_touch=self.size == PHONE,
            color_scheme="dark" if self._theme == "dim" else "light",
            locale="en-GB",
            permissions=[] if self._denied else ["camera"],
        )
        self._context.set_default_timeout(WAIT_MS)
        self._context.add_init_script(KEPT)
        self.page = self._context.pages[0]
        self.watch(self.page)
        return self

    def watch(self, page: Page) -> None:
        """Collect what goes wrong unseen in a tab: exceptions, and what the policy blocks."""
        page.on("pageerror", lambda error: self.troubles.append(f"pageerror: {error}"))
        page.on("console", self._console)

    def _console(self, message: Any) -> None:
        text = str(message.text)
        # A machine without a sound card says so for itself; it is no fault of the page.
        quiet = ("Failed to load resource", "AudioContext encountered an error")
        if message.type == "error" and not any(known in text for known in quiet):
            self.troubles.append(f"console: {text}")

    def kill(self) -> None:
        """SIGKILL every process of this browser, as a phone that loses its power."""
        mine = [p for p in psutil.process_iter(["cmdline"]) if self._is_mine(p)]
        assert mine, "no browser to kill"
        for process in mine:
            try:
                family = [*process.children(recursive=True), process]
            except psutil.NoSuchProcess:
                continue  # it went with its parent
            for each in family:
                try:
                    each.kill()
                except psutil.NoSuchProcess:
                    pass
        psutil.wait_procs(mine, timeout=10)
        self.stop()

    def _is_mine(self, process: psutil.Process) -> bool:
        return f"--user-data-dir={self._profile}" in (process.info["cmdline"] or [])

    def stop(self) -> None:
        """Close the browser; a killed one is only forgotten."""
        context, self._context = self._context, None
        if context is None:
            return
        try:
            context.close()
        except Error as gone:
            if "closed" not in str(gone):
                raise

    def open(self, route: str = "") -> Page:
        """Load the app's page at a route."""
        self.page.goto(f"{self.url}/#/{route}")
        return self.page

    def go(self, route: str) -> Page:
        """Change the route within the app, as a link does; the same one is come to again."""
        for _ in range(10):
            if self.page.evaluate(GO, route):
                break
        return self.page

    def pair(self, code: str, name: str = "Phone") -> Phone:
        """Pair by typing the one-time code and a name for the device."""
        page = self.page
        page.goto(self.url)
        page.get_by_label(words("pair.code")).fill(code)
        page.get_by_label(words("pair.device")).fill(name)
        page.get_by_role("button", name=words("pair.do")).click()
        self.up()
        return self

    def up(self) -> None:
        """Wait until the app stands with its rail."""
        expect(self.page.get_by_role("navigation", name=words("nav.label"))).to_be_visible()

    def shell_ready(self) -> None:
        """Wait until the app would start without any network."""
        self.until("navigator.serviceWorker?.controller?.state === 'activated'")

    def until(self, expression: str, seconds: float = 25) -> None:
        """Wait until an expression holds on the page.

        The driver's own waiting evaluates text on the page from its second look on, which the
        policy of the app's pages forbids.
        """
        end = time.monotonic() + seconds
        while not self.page.evaluate(f"Boolean({expression})"):
            assert time.monotonic() < end, f"not within {seconds} s: {expression}"
            self.page.wait_for_timeout(50)

    def quiet(self, for_ms: int = 200) -> None:
        """Wait until nothing on the page changed for so long: all it looks up is there."""
        self.page.evaluate(QUIET, for_ms)

    def outbox(self) -> list[str]:
        """Return the exact texts of all records ever written here, in order, from the store."""
        return self.page.evaluate(STORED, OUTBOX) or []

    def row_texts(self) -> list[str]:
        """Return what the phone has stored of the farm's rows, as it is stored."""
        return self.page.evaluate(STORED, ROWS) or []

    def rows(self) -> dict[str, Any]:
        """Return the same by unit, read."""
        return {row["unit"]: row for row in map(json.loads, self.row_texts())}

    def now(self) -> None:
        """Tell the app that the network is back, so that it does not wait out its patience."""
        self.page.evaluate("() => window.dispatchEvent(new Event('online'))")

    # --- What the status bar always shows ---------------------------------------------------------

    def all_sent(self, within_ms: int = WAIT_MS) -> None:
        """Wait until nothing waits on this device, and the status bar says so.

        The bar counts a saved act a moment after its tick, so the store is asked first. An act that
        is not saved yet counts nowhere: wait for its tick before.
        """
        end = time.monotonic() + within_ms / 1000
        while self.page.evaluate(STORED, QUEUED):
            assert time.monotonic() < end, f"not all sent within {within_ms} ms"
            self.page.wait_for_timeout(50)
        status = self.page.get_by_role("link", name=words("status.all_sent"), exact=True)
        expect(status).to_be_visible(timeout=within_ms)

    def waiting(self, n: int) -> None:
        """Wait until the status bar counts n unsent records."""
        end = time.monotonic() + WAIT_MS / 1000
        while (now := self.unsent()) != n:
            assert time.monotonic() < end, f"{now} records wait, not {n}"
            self.page.wait_for_timeout(50)

    def unsent(self) -> int:
        """The count of unsent records as the status bar says it."""
        text = self.page.locator(".status-unsent").inner_text().strip()
        if text == words("status.all_sent"):
            return 0
        found = re.match(r"[\d,]+", text)
        assert found, text
        return int(found[0].replace(",", ""))
