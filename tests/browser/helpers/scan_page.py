"""The client's scanning part alone on a page (tests/client/scan/page): built, served, opened."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from playwright.sync_api import Browser, Page

from .folder_server import FolderServer

_ROOT = Path(__file__).resolve().parents[3]
_BUILD = _ROOT / "tests/client/scan/page/build.mjs"


def build_scan_page(out: Path, version: str = "v1") -> Path:
    """Build page, worker, decoder and service worker into `out`; returns it."""
    done = subprocess.run(
        ["node", str(_BUILD), str(out), version], capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise RuntimeError(f"the scan page did not build:\n{done.stdout}{done.stderr}")
    return out


class ScanPage:
    """An open scan page: what it read so far, and how to wait for more."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def scans(self) -> list[dict[str, Any]]:
        """Return {reading, again, at} of each scan so far."""
        return self.page.evaluate("page.scans")

    def wait_for_scans(self, count: int = 1, timeout_s: float = 20) -> list[dict[str, Any]]:
        """Wait for at least `count` scans."""
        self.page.wait_for_function(
            "count => page.scans.length >= count", arg=count, timeout=timeout_s * 1000
        )
        return self.scans()

    def wait_for_state(self, state: str, timeout_s: float = 20) -> str:
        """Wait for a state of the viewfinder (off, starting, live, fault); returns what it says."""
        self.page.wait_for_selector(f".scan-view[data-state={state}]", timeout=timeout_s * 1000)
        return self.page.inner_text(".scan-said p")

    def track(self) -> dict[str, Any]:
        """Return label, size and state of the camera's track, or {} when there is none."""
        return self.page.evaluate(
            """() => {
              const track = document.querySelector('video').srcObject?.getVideoTracks()[0];
              if (!track) return {};
              const { width, height } = track.getSettings();
              return { label: track.label, state: track.readyState, width, height };
            }"""
        )


#: Keeps the class and text of each flash, which lasts for a moment.
FLASHES = """
globalThis.flashes = [];
new MutationObserver((all) => all.forEach((one) => one.addedNodes.forEach((node) => {
  if (node.matches?.('.scan-flash')) globalThis.flashes.push([node.className, node.textContent]);
}))).observe(document, { childList: true, subtree: true });
"""


@contextmanager
def open_scan_page(
    browser: Browser, server: FolderServer, *, origin: str | None = None, **query: str
) -> Iterator[ScanPage]:
    """Open the page with `query` in a context of its own; fails when the page had an error."""
    context = browser.new_context(viewport={"width": 390, "height": 844})
    context.add_init_script(FLASHES)
    page = context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(f"{origin or server.url}/?{urlencode({'farm': '7K3Q'} | query)}")
    yield ScanPage(page)
    context.close()
    assert errors == []
