"""A wedge scanner at a real Chromium: bursts of real key events, in a field and outside."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Page, Playwright
from stdnum import luhn

from .helpers.camera_browser import camera_browser
from .helpers.folder_server import FolderServer, serve_folder
from .helpers.scan_page import ScanPage, build_scan_page, open_scan_page

pytestmark = pytest.mark.browser

STEM = "B7M2Q4TW"
CODE = STEM + luhn.calc_check_digit(STEM, alphabet="0123456789ABCDEFGHJKMNPQRSTVWXYZ")
PAYLOAD = f"7K3Q.{CODE}"

# What a French keyboard's host makes of a scanner set to US; the rest is the same.
AZERTY = dict(zip("QWAZM1234567890.", "AZQW?&é\"'(-è_çà:", strict=True))


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FolderServer]:
    folder = build_scan_page(tmp_path_factory.mktemp("page") / "dist")
    with serve_folder(folder) as running:
        yield running


@pytest.fixture
def opened(playwright: Playwright, server: FolderServer) -> Iterator[ScanPage]:
    with (
        camera_browser(playwright, None) as browser,
        open_scan_page(browser, server, camera="off") as scan_page,
    ):
        yield scan_page


def send(page: Page, text: str, gap_ms: float, *, end: str = "Enter", host: Any = None) -> None:
    """Press the keys of `text` and the end key, `gap_ms` apart by the events' own times.

    The times are given with the events, so a busy test machine is no slow scanner.
    """
    session = page.context.new_cdp_session(page)
    at = page.evaluate("Date.now() / 1000")
    for symbol in [*text, end]:
        at += gap_ms / 1000
        name = {".": "Period", "Enter": "Enter", "Tab": "Tab"}.get(symbol)
        code = name or (f"Digit{symbol}" if symbol.isdigit() else f"Key{symbol.upper()}")
        shown = (host or {}).get(symbol, symbol)
        event = {"key": shown, "code": code, "timestamp": at}
        if len(symbol) == 1:
            event |= {"text": shown, "modifiers": 8 if symbol.isupper() else 0}
        else:
            event |= {"windowsVirtualKeyCode": {"Enter": 13, "Tab": 9}[symbol], "text": "\r"}
        session.send("Input.dispatchKeyEvent", {"type": "keyDown", **event})
        session.send("Input.dispatchKeyEvent", {"type": "keyUp", **event})
    session.detach()


def field(page: Page, name: str) -> str:
    return page.evaluate("id => document.getElementById(id).value", name)


OURS = {"kind": "code", "code": CODE, "farm": "7K3Q"}


def test_a_burst_is_a_scan_with_nothing_in_focus(opened: ScanPage) -> None:
    send(opened.page, PAYLOAD, 2)
    assert opened.page.evaluate("page.wedge") == [OURS]


def test_a_burst_leaves_the_field_as_it_was_and_sends_no_form(opened: ScanPage) -> None:
    page = opened.page
    page.fill("#note", "wet corner")
    page.evaluate("document.getElementById('note').setSelectionRange(3, 3)")
    page.focus("#note")
    heard = "window.heard = []; note.addEventListener('input', () => heard.push(note.value))"
    page.evaluate(f"() => {{ {heard} }}")
    send(page, PAYLOAD, 3)
    assert page.evaluate("page.wedge") == [OURS]
    assert field(page, "note") == "wet corner"
    assert page.evaluate("document.getElementById('note').selectionStart") == 3
    assert page.evaluate("page.submitted") == []
    # The symbols did go in, and whoever listens was told that they are gone again.
    assert page.evaluate("heard.length") > 4
    assert page.evaluate("heard.at(-1)") == "wet corner"


def test_a_burst_into_a_figure_field_is_taken_out_again(opened: ScanPage) -> None:
    page = opened.page
    page.fill("#grams", "350")
    page.focus("#grams")
    send(page, CODE, 2, end="Tab")
    assert page.evaluate("page.wedge.map(reading => reading.code)") == [CODE]
    assert field(page, "grams") == "350"
    # Tab ended the scan; it must not move on to the next field as well.
    assert page.evaluate("document.activeElement.id") == "grams"


def test_slow_typing_is_left_alone(opened: ScanPage) -> None:
    page = opened.page
    page.focus("#note")
    send(page, PAYLOAD, 120)
    assert page.evaluate("page.wedge") == []
    assert field(page, "note") == PAYLOAD
    assert page.evaluate("page.submitted") == [PAYLOAD]


def test_real_typing_at_the_keyboard_is_left_alone(opened: ScanPage) -> None:
    page = opened.page
    page.focus("#note")
    page.keyboard.type("bags", delay=110)
    page.wait_for_timeout(110)
    page.keyboard.press("Enter")
    assert page.evaluate("page.wedge") == []
    assert page.evaluate("page.submitted") == ["bags"]


def test_a_scanner_set_to_another_layout_is_understood(opened: ScanPage) -> None:
    page = opened.page
    page.focus("#note")
    send(page, PAYLOAD, 2, host=AZERTY)
    assert page.evaluate("page.wedge") == [OURS]
    assert field(page, "note") == ""


def test_a_button_in_focus_is_not_pressed_by_a_scan(opened: ScanPage) -> None:
    page = opened.page
    page.fill("#note", "x")
    page.focus("button")
    send(page, PAYLOAD, 2)
    assert page.evaluate("page.wedge") == [OURS]
    assert page.evaluate("page.submitted") == []
