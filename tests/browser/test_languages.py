"""Each language on a small phone: chosen by its own name, nothing wider than the screen."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, Playwright, expect

from .harness import FarmServer
from .harness_browser import PHONE, Phone
from .harness_words import I18N, words
from .test_axe import routes

pytestmark = pytest.mark.browser

# The screens with the longest words on the smallest targets; test_axe opens all, in English.
SCREENS = (
    "home", "more", "bag", "batch", "place", "contaminated", "harvest", "weigh", "inoculate from",
    "opening", "labels stock", "new in recipes", "settings", "act load.ran", "loads", "vessels",
)  # fmt: skip

# Elements that end beyond the screen, or whose text is wider than themselves, unless they are made
# to scroll sideways. #main scrolls down, so that the page's own width alone says nothing.
WIDE = """
() => {
  const rolls = (e) => e.id !== 'main' && e.parentElement !== null
    && (/auto|scroll/.test(getComputedStyle(e).overflowX) || rolls(e.parentElement));
  const found = [];
  for (const e of document.querySelectorAll('.frame *')) {
    const text = e.innerText?.trim().slice(0, 60);
    const box = e.getBoundingClientRect();
    const inline = getComputedStyle(e).display === 'inline';
    // What ends in dots says itself that there is more: the farm's name in the status bar.
    const dots = getComputedStyle(e).textOverflow === 'ellipsis';
    if (!text || box.width < 2 || inline || dots || rolls(e)) continue;
    if (box.right > innerWidth + 0.5) found.push(`ends at ${Math.round(box.right)} px: ${text}`);
    else if (e.scrollWidth > e.clientWidth + 2)
      found.push(`${e.scrollWidth} in ${e.clientWidth} px: ${text}`);
  }
  return found;
}
"""


@pytest.fixture
def phone(
    client: None, playwright: Playwright, tmp_path: Path
) -> Iterator[tuple[Phone, FarmServer]]:
    farm = FarmServer(tmp_path / "farm", demo=True).start()
    made = Phone(playwright, tmp_path / "phone", farm.url, size=PHONE).start()
    try:
        made.pair(farm.pair_code(), "Phone")
        made.all_sent()
        yield made, farm
        assert made.troubles == []
    finally:
        made.stop()
        farm.stop()


def text_of(language: str, message: str) -> str:
    """A text of the first screen in a language."""
    texts: dict[str, str] = json.loads((I18N / f"{language}.json").read_text(encoding="utf-8"))
    return texts[message]


def test_no_language_is_wider_than_a_phone(
    phone: tuple[Phone, FarmServer], playwright: Playwright, tmp_path: Path
) -> None:
    held, farm = phone
    page: Page = held.page
    all_routes = routes(farm.device(), farm.log())
    found = []
    for language in ("es", "zh-CN", "vi"):
        held.go("settings")
        page.get_by_role("radio", name=words(f"settings.language.{language}"), exact=True).click()
        home = page.get_by_role("link", name=text_of(language, "nav.home"), exact=True)
        expect(home).to_be_visible()
        expect(page.locator("html")).to_have_attribute("lang", language)
        for name in SCREENS:
            page.evaluate("route => { location.hash = '#/' + route }", all_routes[name])
            expect(page.get_by_role("heading", level=1)).to_be_attached()
            expect(page.get_by_text(text_of(language, "loading"))).to_have_count(0)
            page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true })")
            found += [f"{language}, {name}: {what}" for what in page.evaluate(WIDE)]
    assert not found, "\n".join(found)

    # Kept on this phone through a reload, and no matter to another phone of the same farm.
    page.reload()
    expect(page.locator("html")).to_have_attribute("lang", "vi")
    home = page.get_by_role("link", name=text_of("vi", "nav.home"), exact=True)
    expect(home).to_be_visible()
    other = Phone(playwright, tmp_path / "other", farm.url, size=PHONE).start()
    try:
        other.pair(farm.pair_code(), "Other phone")
        expect(other.page.locator("html")).to_have_attribute("lang", "en-GB")
    finally:
        other.stop()
