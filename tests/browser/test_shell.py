"""The service worker in a real Chromium: start with no server, new versions on request only."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, Playwright

from .helpers.camera_browser import camera_browser
from .helpers.camera_feed import label_picture, scene, write_feed
from .helpers.folder_server import FolderServer, serve_folder
from .helpers.scan_page import build_scan_page

pytestmark = pytest.mark.browser

CODE = "B0000000N"


@pytest.fixture(scope="module")
def versions(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Two builds of the same page that differ in their version."""
    folder = tmp_path_factory.mktemp("versions")
    return build_scan_page(folder / "v1", "v1"), build_scan_page(folder / "v2", "v2")


@pytest.fixture
def server(versions: tuple[Path, Path]) -> Iterator[FolderServer]:
    with serve_folder(versions[0]) as running:
        yield running


@pytest.fixture
def context(playwright: Playwright, tmp_path: Path) -> Iterator[BrowserContext]:
    feed = write_feed(tmp_path / "feed.y4m", [(scene(label_picture(f"7K3Q.{CODE}")), 1.0)])
    with camera_browser(playwright, feed) as browser:
        yield browser.new_context()


def open_ready(context: BrowserContext, url: str) -> Page:
    page = context.new_page()
    page.goto(url)
    page.wait_for_function("() => globalThis.page?.shell() === 'ready'")
    return page


def look_for_update(page: Page) -> None:
    """Ask until the browser has found another worker.


    A page that just loaded has a check of its own under way: one asked for meanwhile joins it
    and gets the old answer.
    """
    page.evaluate(
        """async () => {
          for (;;) {
            const found = await (await navigator.serviceWorker.getRegistration()).update();
            if (found.installing || found.waiting) return;
            await new Promise(resolve => setTimeout(resolve, 200));
          }
        }"""
    )


def version(page: Page) -> str:
    return page.evaluate("page.version")


def test_the_app_starts_and_scans_with_its_server_gone(
    context: BrowserContext, server: FolderServer
) -> None:
    # The camera is off: the decoder's files must come from the first install, not from use.
    open_ready(context, f"{server.url}/?camera=off").close()
    server.stop()
    page = context.new_page()
    # Any address inside the app, also one never opened.
    page.goto(f"{server.url}/bag/{CODE}?farm=7K3Q")
    page.wait_for_function("() => globalThis.page?.scans.length > 0")
    assert page.evaluate("page.scans[0].reading.code") == CODE
    assert page.evaluate("page.decodesIn()") == "worker"


def test_the_same_in_flight_mode(context: BrowserContext, server: FolderServer) -> None:
    open_ready(context, f"{server.url}/?camera=off").close()
    context.set_offline(True)
    page = context.new_page()
    page.goto(f"{server.url}/?farm=7K3Q")
    page.wait_for_function("() => globalThis.page?.scans.length > 0")
    assert page.evaluate("page.scans[0].reading.code") == CODE


def test_the_farms_data_and_other_files_never_come_from_the_cache(
    context: BrowserContext, server: FolderServer
) -> None:
    page = open_ready(context, f"{server.url}/?camera=off")
    server.asked.clear()
    statuses = page.evaluate(
        """() => Promise.all(['/api/farm', '/licences.txt', '/assets/'].map(
             path => fetch(path).then(answer => answer.status)))"""
    )
    # This server has none of them; what counts is that it was asked and its answer came through.
    assert statuses == [404, 404, 200]
    # The browser may look for a newer worker at any time.
    asked = sorted(path for path in server.asked if path != "/sw.js")
    assert asked == ["/api/farm", "/assets/", "/licences.txt"]
    other = context.new_page()
    answer = other.goto(f"{server.url}/licences.txt")
    assert answer is not None
    assert answer.status == 404


def test_a_new_version_waits_until_asked_for_and_idle(
    context: BrowserContext, server: FolderServer, versions: tuple[Path, Path]
) -> None:
    page = open_ready(context, f"{server.url}/?camera=off")
    second = open_ready(context, f"{server.url}/?camera=off")
    server.folder = versions[1]
    look_for_update(page)
    page.wait_for_function("() => page.shell() === 'waiting'")
    # Loading anew changes nothing while it waits.
    page.reload()
    page.wait_for_function("() => globalThis.page?.shell() === 'waiting'")
    assert version(page) == "v1"

    page.evaluate("page.setBusy(true)")
    assert page.evaluate("page.update()") is False
    page.evaluate("page.setBusy(false)")
    second.evaluate("page.setBusy(true)")
    assert page.evaluate("page.update()") is True
    page.wait_for_function("() => globalThis.page?.version === 'v2'")
    # The other page has something in flight: it goes on as it is until that is done.
    second.wait_for_timeout(700)
    assert version(second) == "v1"
    second.evaluate("page.setBusy(false)")
    second.wait_for_function("() => globalThis.page?.version === 'v2'")
    names = page.evaluate("caches.keys()")
    assert names == ["bagtrail-shell-v2"]


def test_a_version_that_does_not_come_whole_is_not_taken(
    context: BrowserContext, server: FolderServer, versions: tuple[Path, Path], tmp_path: Path
) -> None:
    page = open_ready(context, f"{server.url}/?camera=off")
    broken = build_scan_page(tmp_path / "broken", "v3")
    next((broken / "assets").glob("*.wasm")).unlink()
    server.folder = broken
    server.asked.clear()
    look_for_update(page)
    page.evaluate(
        """async () => {
          const registration = await navigator.serviceWorker.getRegistration();
          while (registration.installing) await new Promise(resolve => setTimeout(resolve, 50));
        }"""
    )
    assert any(path.endswith(".wasm") for path in server.asked)
    assert page.evaluate("page.shell()") == "ready"
    page.reload()
    page.wait_for_function("() => globalThis.page?.shell() === 'ready'")
    assert version(page) == "v1"


def test_the_first_install_that_fails_is_told(
    context: BrowserContext, server: FolderServer, tmp_path: Path
) -> None:
    broken = build_scan_page(tmp_path / "broken", "v3")
    next((broken / "assets").glob("*.wasm")).unlink()
    server.folder = broken
    page = context.new_page()
    page.goto(f"{server.url}/?camera=off")
    page.wait_for_function("() => globalThis.page?.shell() === 'refused'")
