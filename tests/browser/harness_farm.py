"""What a grower's hands do: the acts of a day through the app's own screens, touch by touch."""

from __future__ import annotations

import re
import time
from pathlib import Path

from PIL import Image
from playwright.sync_api import Locator, Page, expect

from .harness_browser import WAIT_MS, Phone
from .harness_camera import Camera, labels_of
from .harness_words import saying, within, words

#: When this page was loaded, and how many toasts it has shown.
TOLD = "[performance.timeOrigin, (globalThis.told ?? []).length]"


def plain(code: str) -> str:
    """Return a code as stored: the screen writes it in groups."""
    return re.sub(r"\s", "", code)


class Hands:
    """A person with a phone, the labels printed so far, and (with `camera`) those held up to it."""

    def __init__(self, phone: Phone, folder: Path, camera: Camera | None = None) -> None:
        self.phone = phone
        self.folder = folder
        self.camera = camera
        self.labels: dict[str, Image.Image] = {}
        self._prints = 0
        # How many toasts of the page that is loaded now lie before the last touch.
        self._heard: tuple[float, int] = (0, 0)

    @property
    def page(self) -> Page:
        """The tab in the hand."""
        return self.phone.page

    # --- Touches ----------------------------------------------------------------------------------

    def touch(self, message: str) -> None:
        """Touch the button or link of a message."""
        self.listen()
        self.handle(message).first.click()

    def handle(self, message: str) -> Locator:
        """The buttons and links that carry a message."""
        name = saying(message)
        return self.page.get_by_role("button", name=name).or_(
            self.page.get_by_role("link", name=name)
        )

    def choose(self, name: str) -> None:
        """Touch one of several choices by its name; what it looks like stands behind it."""
        self.listen()
        pattern = re.compile(rf"^{re.escape(name)}(\s|$)")
        self.page.get_by_role("radio", name=pattern).first.click()

    def fill(self, field: str, text: str) -> None:
        """Type into a field of a form by the catalogue's name of it."""
        self.page.locator(f'[data-field="{field}"]').get_by_role("textbox").fill(text)

    def listen(self) -> None:
        """From here on: what was said before is no answer to what is done next."""
        self._heard = tuple(self.page.evaluate(TOLD))

    def said(self, message: str) -> None:
        """Wait until the app says a message (a toast, told to a reader as well).

        Counts what was said since the last touch, choice or scan and not waited for yet: the same
        words of an earlier act stay in sight for seconds.
        """
        pattern, told = within(message), list[str]()

        def heard() -> bool:
            nonlocal told
            page, told = self.page.evaluate("[performance.timeOrigin, globalThis.told ?? []]")
            first = self._heard[1] if self._heard[0] == page else 0
            for i in range(first, len(told)):
                if pattern.search(told[i]):
                    self._heard = (page, i + 1)
                    return True
            return False

        end = time.monotonic() + WAIT_MS / 1000
        while not heard():
            assert time.monotonic() < end, f"{message} was not said; said so far: {told}"
            self.page.wait_for_timeout(50)

    def heading(self, text: str | re.Pattern[str]) -> None:
        """Wait until the screen is headed so."""
        expect(self.page.get_by_role("heading", level=1)).to_have_text(text)

    def under_heading(self) -> str:
        """The line under the screen's heading."""
        return self.page.locator(".screen-head p").inner_text()

    def type_code(self, code: str) -> None:
        """Type a code where the screen offers it, unfolding the field if need be."""
        if self.handle("code.go").count() == 0 or not self.handle("code.go").first.is_visible():
            self.page.locator("summary", has_text=saying("code.or_type")).first.click()
        box = self.page.get_by_label(words("code.type")).first
        box.fill(code)
        box.press("Enter")

    def wedge(self, text: str, host: dict[str, str] | None = None) -> None:
        """A hand scanner: keys 3 ms apart by the events' own times, then Enter.

        Args:
            text: what the label holds.
            host: what the computer's keyboard layout makes of a US key, where it differs.
        """
        self.listen()
        session = self.phone.context.new_cdp_session(self.page)
        at = self.page.evaluate("Date.now() / 1000")
        for symbol in text:
            at += 0.003
            code = "Period" if symbol == "." else ("Digit" if symbol.isdigit() else "Key") + symbol
            key = (host or {}).get(symbol, symbol)
            shift = 8 if symbol.isalpha() else 0
            press = {"code": code, "key": key, "timestamp": at, "modifiers": shift}
            session.send("Input.dispatchKeyEvent", {"type": "keyDown", "text": key, **press})
            session.send("Input.dispatchKeyEvent", {"type": "keyUp", **press})
        enter = {"code": "Enter", "key": "Enter", "timestamp": at + 0.003}
        enter |= {"windowsVirtualKeyCode": 13, "text": "\r"}
        session.send("Input.dispatchKeyEvent", {"type": "keyDown", **enter})
        session.send("Input.dispatchKeyEvent", {"type": "keyUp", **enter})
        session.detach()

    # --- The camera -------------------------------------------------------------------------------

    def hold_up(self, *codes: str) -> None:
        """Open the screen's camera anew with these labels before it, one after the other."""
        assert self.camera is not None, "this person has no camera"
        close, start = self.handle("scan.close"), self.handle("scan.open")
        expect(close.or_(start).first).to_be_visible()
        if close.count():
            close.first.click()
        self.camera.show([self.labels[code] for code in codes])
        start.first.click()

    def scan_one(self, code: str) -> None:
        """Scan one label on the scan screen, and land on the page of its code."""
        assert self.camera is not None, "this person has no camera"
        self.phone.go("")
        self.heading(words("nav.home"))
        self.camera.show([self.labels[code]])
        self.touch("home.scan")
        self.page.wait_for_url(re.compile(rf"#/\w+/{code}$"))

    # --- The farm's own things --------------------------------------------------------------------

    def name_place(self, name: str, kind: str, inside: str = "") -> str:
        """Name a place and print its tag; returns its code."""
        self.phone.go("setup/places/new")
        self.fill("name", name)
        self.choose(words(f"choice.type.{kind}"))
        if inside:
            self.choose(inside)
        return self._tagged(name)

    def name_strain(self, name: str, species: str = "Lentinula edodes") -> None:
        """Name a strain."""
        self.phone.go("setup/strains/new")
        self.fill("name", name)
        self.fill("species", species)
        self.touch("setup.save")
        self.said("setup.saved")
        # The form goes back to where it was opened from: a touch before that would be lost.
        self.page.wait_for_url(re.compile("^(?!.*/strains/new)"))

    def receive_spawn(self, strain: str) -> str:
        """Enter a lot of bought spawn and print its tag; returns its code."""
        self.phone.go("setup/spawn/new")
        self.choose(strain)
        return self._tagged(strain)

    def _tagged(self, title: str) -> str:
        self.touch("setup.save")
        self.heading(title)
        expect(self.handle("print.make")).to_be_visible()
        code = plain(self.under_heading())
        self.print_here()
        return code

    # --- Labels -----------------------------------------------------------------------------------

    def print_here(self, stock: str = "a4-24") -> list[str]:
        """Print what the screen offers, rasterise it, keep the labels; returns their codes."""
        self.choose(words(f"stock.{stock}"))
        self.touch("print.make")
        with self.page.expect_download() as download:
            self.touch("print.keep")
        self._prints += 1
        pdf = self.folder / f"print{self._prints}.pdf"
        download.value.save_as(pdf)
        printed = labels_of(pdf, stock)
        assert printed, "nothing can be read on the print"
        self.labels |= printed
        return list(printed)

    # --- The life of a batch ----------------------------------------------------------------------

    def mix_and_fill(self, bags: int, fill_g: int, moisture: str) -> tuple[str, list[str]]:
        """Mix a batch, fill bags, print a label for each; returns its name and the bags' codes."""
        self.phone.go("")
        self.touch_choice("home.batch")
        name = self.page.locator('[data-field="name"]').get_by_role("textbox").input_value()
        self.fill("moisture", moisture)
        self.touch("batch.to_filling")
        self.fill("n", str(bags))
        self.fill("fill_g", str(fill_g))
        self.choose(words("labelling.each"))
        self.touch("fill.save")
        self.heading(name)
        codes = self.print_here()
        assert len(codes) == bags
        return name, codes

    def touch_choice(self, message: str) -> None:
        """Touch one of the big buttons of the start page, which say more than their name."""
        pattern = re.compile(rf"^{re.escape(words(message))}(\s|$)")
        self.page.get_by_role("button", name=pattern).click()

    def weigh(self, grams: str) -> None:
        """Type a weight on the keypad and save it: the last touch saves."""
        for digit in grams:
            self.page.get_by_role("button", name=digit, exact=True).click()
        self.touch("harvest.save")

    def batch_page(self, name: str) -> Page:
        """Find a batch by its name as a person does, and open its page."""
        self.phone.go("find")
        self.page.get_by_role("searchbox", name=words("find.label")).fill(name)
        self.page.get_by_role("link", name=name, exact=True).click()
        self.heading(name)
        return self.page
