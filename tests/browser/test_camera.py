"""Camera to reading in a real Chromium: real frames, worker, decoder; only the lens is a file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Playwright, Route
from stdnum import luhn

from .harness_words import words
from .helpers.camera_browser import camera_browser
from .helpers.camera_feed import Placed, label_picture, scene, write_feed
from .helpers.folder_server import FolderServer, serve_folder
from .helpers.scan_page import build_scan_page, open_scan_page

pytestmark = pytest.mark.browser

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


def code(stem: str) -> str:
    return stem + luhn.calc_check_digit(stem, alphabet=ALPHABET)


BAG, NEXT_BAG, FAR_BAG = code("B7M2Q4TW"), code("B0HXZ91K"), code("BAAAA000")


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FolderServer]:
    folder = build_scan_page(tmp_path_factory.mktemp("page") / "dist")
    with serve_folder(folder) as running:
        yield running


@pytest.fixture
def feed(tmp_path: Path) -> Path:
    """One label of ours, a little turned, as held in front of a phone."""
    return write_feed(
        tmp_path / "feed.y4m",
        [(scene(Placed(label_picture(f"7K3Q.{BAG}"), degrees=7)), 1.0)],
    )


def test_a_label_is_read_once_through_the_worker(
    playwright: Playwright, server: FolderServer, feed: Path
) -> None:
    with (
        camera_browser(playwright, feed) as browser,
        open_scan_page(browser, server) as opened,
    ):
        asked: list[str] = []
        opened.page.on("request", lambda request: asked.append(request.url))
        [scan] = opened.wait_for_scans()
        assert scan["reading"] == {"kind": "code", "code": BAG, "farm": "7K3Q"}
        assert scan["again"] is False
        # Without its file Chromium plays a test pattern: this must be our feed.
        track = opened.track()
        assert track["label"] == str(feed.resolve())
        assert (track["width"], track["height"]) == (1280, 720)
        assert opened.page.evaluate("page.decodesIn()") == "worker"
        assert [worker.url for worker in opened.page.workers if "decoder.worker" in worker.url]
        # It stays in view: the loop goes on, and nothing new is told.
        opened.page.wait_for_timeout(2500)
        assert len(opened.scans()) == 1
        # The decoder's file comes from our own origin, never from its makers' address.
        assert any(path.endswith(".wasm") for path in server.asked)
        assert [url for url in asked if not url.startswith(server.url)] == []


def test_the_same_label_is_read_on_the_page_where_no_worker_is_wanted(
    playwright: Playwright, server: FolderServer, feed: Path
) -> None:
    with (
        camera_browser(playwright, feed) as browser,
        open_scan_page(browser, server, decode="page") as opened,
    ):
        [scan] = opened.wait_for_scans()
        assert scan["reading"]["code"] == BAG
        assert opened.page.evaluate("page.decodesIn()") == "page"
        assert opened.page.workers == []


@pytest.mark.parametrize(
    "missing", ["VideoFrame", "VideoFrame OffscreenCanvas", "Worker"], ids=lambda m: f"no {m}"
)
def test_older_browsers_read_it_another_way(
    playwright: Playwright, server: FolderServer, feed: Path, missing: str
) -> None:
    with camera_browser(playwright, feed) as browser:
        context = browser.new_context()
        for name in missing.split():
            context.add_init_script(f"delete globalThis.{name}")
        page = context.new_page()
        page.goto(f"{server.url}/?farm=7K3Q")
        page.wait_for_function("() => globalThis.page?.scans.length > 0", timeout=20_000)
        assert page.evaluate("page.scans[0].reading.code") == BAG
        assert page.evaluate("page.decodesIn()") == ("page" if missing == "Worker" else "worker")
        context.close()


def test_of_several_labels_the_one_in_the_ring_is_read(
    playwright: Playwright, server: FolderServer, tmp_path: Path
) -> None:
    shelf = scene(
        Placed(label_picture(f"7K3Q.{FAR_BAG}"), x=0.32, y=0.4, width=240),
        Placed(label_picture(f"7K3Q.{BAG}"), x=0.53, y=0.48, width=240),
        Placed(label_picture(f"7K3Q.{NEXT_BAG}"), x=0.7, y=0.62, width=240),
    )
    feed = write_feed(tmp_path / "shelf.y4m", [(shelf, 1.0)])
    with (
        camera_browser(playwright, feed) as browser,
        open_scan_page(browser, server) as opened,
    ):
        opened.wait_for_scans()
        opened.page.wait_for_timeout(1500)
        assert [scan["reading"]["code"] for scan in opened.scans()] == [BAG]


def test_labels_are_told_as_they_come_and_one_that_comes_back_as_again(
    playwright: Playwright, server: FolderServer, tmp_path: Path
) -> None:
    """A loop: a bag, 1.8 s nothing, the bag again, another bag, 4 s nothing.

    With frames read late that lies well between gone (1.5 s) and long ago (3 s).
    """
    one, other = (scene(label_picture(f"7K3Q.{each}")) for each in (BAG, NEXT_BAG))
    feed = write_feed(
        tmp_path / "row.y4m", [(one, 1.2), (scene(), 1.8), (one, 1.2), (other, 1.2), (scene(), 4.0)]
    )
    with (
        camera_browser(playwright, feed) as browser,
        open_scan_page(browser, server) as opened,
    ):
        scans = opened.wait_for_scans(5, timeout_s=40)[1:]
        told = [(scan["reading"]["code"], scan["again"]) for scan in scans]
        # Where in the loop it starts is the browser's matter; the first scan may be cut short.
        loop = [(BAG, False), (BAG, True), (NEXT_BAG, False)]
        assert told in [[loop[(start + i) % 3] for i in range(len(told))] for start in range(3)]


@pytest.mark.parametrize(
    ("payload", "reading"),
    [
        (f"9ZZZ.{BAG}", {"kind": "other_farm", "tag": "9ZZZ"}),
        ("HTTPS://EXAMPLE.TEST/", {"kind": "not_ours", "text": "HTTPS://EXAMPLE.TEST/"}),
    ],
    ids=["another farm's label", "no label of ours"],
)
def test_a_foreign_label_is_told_as_such(
    playwright: Playwright,
    server: FolderServer,
    tmp_path: Path,
    payload: str,
    reading: dict[str, str],
) -> None:
    feed = write_feed(tmp_path / "foreign.y4m", [(scene(label_picture(payload, "?")), 1.0)])
    with (
        camera_browser(playwright, feed) as browser,
        open_scan_page(browser, server) as opened,
    ):
        [scan] = opened.wait_for_scans()
        assert scan["reading"] == reading
        [flash] = opened.page.evaluate("flashes")
        assert "note-bad" in flash[0]
        assert words("scan.told.wrong") in flash[1]


def test_a_blank_label_is_helped_along_after_a_while(
    playwright: Playwright, server: FolderServer, tmp_path: Path
) -> None:
    blank = label_picture(BAG)
    blank.paste(250, (0, 0, 400, 240))
    feed = write_feed(tmp_path / "blank.y4m", [(scene(blank), 1.0)])
    with (
        camera_browser(playwright, feed) as browser,
        open_scan_page(browser, server) as opened,
    ):
        before = opened.wait_for_state("live")
        opened.page.wait_for_function(
            "before => document.querySelector('.scan-said p').innerText !== before", arg=before
        )
        assert opened.page.inner_text(".scan-said p") == words("scan.hint.nothing")
        assert opened.scans() == []


def test_a_small_blurred_picture_as_motion_jpeg_is_read(
    playwright: Playwright, server: FolderServer, tmp_path: Path
) -> None:
    picture = scene(Placed(label_picture(f"7K3Q.{BAG}"), width=150), size=(640, 480), blur=0.6)
    feed = write_feed(tmp_path / "small.mjpeg", [(picture, 1.0)])
    with (
        camera_browser(playwright, feed) as browser,
        open_scan_page(browser, server) as opened,
    ):
        [scan] = opened.wait_for_scans()
        assert scan["reading"]["code"] == BAG
        assert opened.track()["label"] == str(feed.resolve())


def test_the_camera_rests_while_the_page_is_hidden(
    playwright: Playwright, server: FolderServer, feed: Path
) -> None:
    with (
        camera_browser(playwright, feed) as browser,
        open_scan_page(browser, server) as opened,
    ):
        opened.wait_for_scans()
        # Headless pages are never hidden; the event and the property are what a phone gives.
        hide = """hidden => {
          Object.defineProperty(document, 'hidden', { value: hidden, configurable: true });
          document.dispatchEvent(new Event('visibilitychange'));
        }"""
        opened.page.evaluate(
            "() => { window.old = document.querySelector('video').srcObject.getTracks()[0]; }"
        )
        opened.page.evaluate(hide, True)
        opened.wait_for_state("off")
        assert opened.page.evaluate("old.readyState") == "ended"
        assert opened.track() == {}
        opened.page.evaluate(hide, False)
        opened.wait_for_state("live")
        opened.page.wait_for_timeout(2000)
        assert opened.track()["state"] == "live"


def test_a_denied_camera_is_told_and_started_when_allowed(
    playwright: Playwright, server: FolderServer, feed: Path
) -> None:
    with (
        camera_browser(playwright, feed, denied=True) as browser,
        open_scan_page(browser, server) as opened,
    ):
        assert opened.wait_for_state("fault") == words("scan.camera.denied")
        assert opened.scans() == []
        opened.page.evaluate(
            """() => {
              const devices = navigator.mediaDevices;
              const ask = devices.getUserMedia.bind(devices);
              window.asked = 0;
              devices.getUserMedia = (wish) => ((window.asked += 1), ask(wish));
            }"""
        )
        opened.page.get_by_role("button", name=words("scan.camera.again")).click()
        opened.page.wait_for_function("() => asked === 1")
        assert opened.wait_for_state("fault") == words("scan.camera.denied")


def test_no_camera_is_told(playwright: Playwright, server: FolderServer) -> None:
    with (
        camera_browser(playwright, None) as browser,
        open_scan_page(browser, server) as opened,
    ):
        assert opened.wait_for_state("fault") == words("scan.camera.none")


def test_a_page_without_https_is_told(
    playwright: Playwright, server: FolderServer, feed: Path
) -> None:
    with (
        camera_browser(
            playwright, feed, flags=("--host-resolver-rules=MAP farm.test 127.0.0.1",)
        ) as browser,
        open_scan_page(browser, server, origin=f"http://farm.test:{server.port}") as opened,
    ):
        assert opened.wait_for_state("fault") == words("scan.camera.insecure")


def test_an_unplugged_camera_is_told_and_tried_again(
    playwright: Playwright, server: FolderServer, feed: Path
) -> None:
    with (
        camera_browser(playwright, feed) as browser,
        open_scan_page(browser, server) as opened,
    ):
        opened.wait_for_scans()
        opened.page.evaluate(
            """() => {
              const [track] = document.querySelector('video').srcObject.getTracks();
              // stop() is the page's own and fires nothing; a pulled plug fires this.
              track.stop();
              track.dispatchEvent(new Event('ended'));
            }"""
        )
        assert opened.wait_for_state("fault") == words("scan.camera.lost")
        opened.page.get_by_role("button", name=words("scan.camera.again")).click()
        opened.wait_for_state("live")


def test_a_decoder_that_cannot_be_had_is_told_and_tried_again(
    playwright: Playwright, server: FolderServer, feed: Path
) -> None:
    with camera_browser(playwright, feed) as browser:
        # The service worker fetches the same file when it installs: not what is looked at here.
        context = browser.new_context(service_workers="block")
        context.route("**/*.wasm", lambda route: route.abort())
        page = context.new_page()
        page.goto(f"{server.url}/?farm=7K3Q")
        page.wait_for_selector(".scan-view[data-state=fault]")
        assert page.inner_text(".scan-said p") == words("scan.camera.decoder")
        context.unroute("**/*.wasm")
        page.get_by_role("button", name=words("scan.camera.again")).click()
        page.wait_for_function("() => page.scans.length > 0", timeout=20_000)
        assert page.evaluate("page.scans[0].reading.code") == BAG
        context.close()


def test_where_the_workers_own_fetch_fails_the_page_fetches_for_it(
    playwright: Playwright, server: FolderServer, feed: Path
) -> None:
    """As in Firefox without network: there a worker's fetch goes past the service worker."""
    with camera_browser(playwright, feed) as browser:
        # The service worker fetches the same file when it installs: not what is looked at here.
        context = browser.new_context(service_workers="block")
        tries: list[str] = []

        def first_fails(route: Route) -> None:
            tries.append(route.request.url)
            route.abort() if len(tries) == 1 else route.continue_()

        context.route("**/*.wasm", first_fails)
        page = context.new_page()
        page.goto(f"{server.url}/?farm=7K3Q")
        page.wait_for_function("() => globalThis.page?.scans.length > 0", timeout=20_000)
        assert page.evaluate("page.scans[0].reading.code") == BAG
        assert page.evaluate("page.decodesIn()") == "worker"
        assert len(tries) == 2
        context.close()
