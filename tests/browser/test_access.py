"""Without a mouse, with text doubled, without motion, and with what a screen reader speaks."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Page, Playwright, expect

from .conftest import NewHands, looking
from .harness import FarmServer
from .harness_browser import PHONE
from .harness_farm import Hands
from .harness_words import words
from .test_axe import routes, show
from .test_languages import WIDE

pytestmark = pytest.mark.browser

#: What Tab has to reach: everything in the page that can be operated and is drawn.
OPERABLE = """() => [...document.querySelectorAll(
    'a[href], button, input, select, textarea, summary, [tabindex="0"]')]
  .filter((e) => !e.disabled && e.tabIndex >= 0 && e.checkVisibility()
    && !(e.closest('details:not([open])') && !e.matches('summary'))
    && e.type !== 'file')
  .map((e, i) => { e.dataset.stop = i; return i; }).length"""

#: The focused element: its number, whether a person sees where it is, and what lies over it.
FOCUS = """() => {
  const e = document.activeElement;
  const box = e.getBoundingClientRect();
  const drawn = (x) => getComputedStyle(x).outlineStyle !== 'none'
    && parseFloat(getComputedStyle(x).outlineWidth) >= 2;
  const at = document.elementFromPoint(box.x + box.width / 2, box.y + Math.min(box.height / 2, 20));
  return {
    stop: e.dataset.stop ?? '',
    name: e.innerText?.slice(0, 40) || e.getAttribute('aria-label') || e.tagName,
    // A frame around a field may bear its ring.
    ring: drawn(e) || drawn(e.parentElement),
    seen: box.bottom > 0 && box.top < innerHeight
      && (e === at || e.contains(at) || at?.contains(e)),
  };
}"""

#: Text that its own box cuts off, where nothing scrolls and no dots say so.
CUT = """() => [...document.querySelectorAll('.frame *')]
  .filter((e) => {
    const s = getComputedStyle(e);
    const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    return own && e.checkVisibility() && !e.classList.contains('unseen')
      && s.overflowY !== 'visible' && e.scrollHeight > e.clientHeight + 4
      && !/auto|scroll/.test(s.overflowY);
  })
  .map((e) => `${e.scrollHeight} in ${e.clientHeight} px high: ${e.innerText.slice(0, 60)}`)"""

#: The screens of a day, for the long way round with the Tab key.
DAY = ("home", "find", "more", "bag", "place", "contaminated", "weigh", "inoculate from", "bench",
       "rooms", "rounds", "round: look", "round: contaminated", "sweep a shelf", "day sheet",
       "new batch", "settings")  # fmt: skip


@pytest.fixture(scope="module")
def hands(
    playwright: Playwright, demo: FarmServer, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Hands]:
    with looking(playwright, demo, tmp_path_factory.mktemp("phone"), size=PHONE) as found:
        yield found


def unfold(page: Page) -> None:
    page.evaluate("document.querySelectorAll('#main details').forEach((d) => { d.open = true })")


#: What moves by itself or slides, whatever the person's settings say.
MOVING = """() => [...document.querySelectorAll('*')].filter((e) => {
  const s = getComputedStyle(e);
  return s.animationName !== 'none' || parseFloat(s.transitionDuration) > 0
    || s.scrollBehavior === 'smooth';
}).map((e) => `moves: ${e.className || e.tagName}`).concat(document.getAnimations().map(String))"""


def test_large_text_loses_nothing_and_nothing_moves(demo: FarmServer, hands: Hands) -> None:
    """WCAG 1.4.4, 1.4.10 and 2.3.3: with text doubled no text is cut off and no control is lost;
    for whom motion makes ill nothing moves. All screens with --long, else those of the day."""
    page = hands.page
    every = routes(demo.device("Observer of large text"), demo.log())
    names = every if os.environ.get("BAGTRAIL_LONG") else DAY
    page.emulate_media(reduced_motion="reduce")
    found: list[str] = []
    for name in names:
        show(hands, every[name])
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        unfold(page)
        seen = page.evaluate(WIDE) + page.evaluate(CUT) + page.evaluate(MOVING)
        found += [f"{name}: {what}" for what in seen]
        room = page.evaluate("document.querySelector('#main').clientHeight")
        if room < PHONE[1] * 0.4:
            found.append(f"{name}: {room} px are left for the screen itself")
    # The longest word for the link, beside the count.
    page.evaluate("""word => {
      const bar = document.querySelector('.status');
      bar.dataset.link = 'unconfirmed';
      bar.lastElementChild.lastElementChild.className = '';
      bar.lastElementChild.lastElementChild.textContent = word;
    }""", words("link.unconfirmed"))  # fmt: skip
    found += [f"status: {what}" for what in page.evaluate(WIDE)]
    # The rule that stills what may come later is there: what would slide is stopped by it.
    stilled = page.evaluate("""() => {
      const e = document.querySelector('h1');
      e.style.transition = 'opacity 3s';
      return parseFloat(getComputedStyle(e).transitionDuration);
    }""")
    page.emulate_media(reduced_motion="no-preference")
    page.evaluate("document.documentElement.style.fontSize = ''")
    assert not found, "\n".join(found)
    assert stilled == 0


def test_every_control_of_the_day_is_reached_by_tab(demo: FarmServer, hands: Hands) -> None:
    """WCAG 2.1.1, 2.4.3, 2.4.7, 2.4.11: reached, once around, with a ring, not hidden."""
    page = hands.page
    all_routes = routes(demo.device("Observer of keys"), demo.log())
    found: list[str] = []
    for name in DAY:
        show(hands, all_routes[name])
        hands.phone.quiet()
        stops = page.evaluate(OPERABLE)
        page.evaluate("document.querySelector('#main h1').focus()")
        reached: dict[str, Any] = {}
        for _ in range(stops + 6):
            page.keyboard.press("Tab")
            at = page.evaluate(FOCUS)
            reached.setdefault(at["stop"], at)
        if missed := {str(i) for i in range(stops)} - set(reached):
            which = page.evaluate(
                "all => all.map((n) =>"
                " document.querySelector(`[data-stop='${n}']`)?.outerHTML.slice(0, 90))",
                sorted(missed)[:3],
            )
            found.append(f"{name}: {len(missed)} of {stops} controls not reached: {which}")
        for stop in reached.values():
            if stop["stop"] and not (stop["ring"] and stop["seen"]):
                found.append(f"{name}: {stop}")
    assert not found, "\n".join(found)


def test_a_record_is_written_by_keyboard_alone(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands()
    page = hands.page
    _, bags = hands.mix_and_fill(1, 2_400, "60")
    hands.phone.all_sent()
    hands.phone.go("")

    def to(text: str) -> None:
        """Go on with Tab to what bears a name, and press it."""
        for _ in range(80):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.innerText?.split('\\n')[0].trim()") == text:
                page.keyboard.press("Enter")
                return
        raise AssertionError(f"Tab does not come to {text}")

    # Slowly, as a person types: quick keys would be a hand scanner.
    to(words("nav.find"))
    # The new screen's heading takes the focus a moment after it is drawn.
    expect(page.get_by_role("heading", level=1, name=words("nav.find"))).to_be_focused()
    page.get_by_role("searchbox").focus()
    page.keyboard.type(bags[0], delay=90)
    expect(page.get_by_role("searchbox")).to_have_value(bags[0])
    page.keyboard.press("Enter")
    page.wait_for_url("**/#/bag/**")
    page.locator("details", has_text=words("act.bag_checked")).last.locator("summary").focus()
    page.keyboard.press("Enter")
    to(words("act.bag_checked"))
    page.wait_for_url("**/#/act/bag.checked/**")
    to(words("form.save"))
    hands.said("act.saved")
    hands.phone.all_sent()
    assert [r["sub"] for r in server.log() if r["ty"] == "bag.checked"] == [[bags[0]]]


def test_each_scan_is_announced_in_a_region_that_was_there(
    server: FarmServer, new_hands: NewHands
) -> None:
    """A reader speaks what changes inside a region it knows; one that comes with it is mute."""
    hands = new_hands()
    page = hands.page
    _, bags = hands.mix_and_fill(2, 2_400, "60")
    tag = server.device().tag
    hands.phone.go("round/look")
    region = page.locator("main [aria-live=assertive]")
    expect(region).to_contain_text(words("round.word.ready"))
    region.evaluate("e => { globalThis.known = e; }")
    shapes = {}
    for code, outcome in (
        (bags[0], "taken"),
        (bags[1], "taken"),
        (bags[0], "before"),
        ("B0000001K", "misfit"),
    ):
        hands.wedge(f"{tag}.{code}")
        expect(region.locator(f'[data-outcome="{outcome}"]')).to_be_visible()
        expect(region).to_contain_text(words(f"round.word.{outcome}"))
        assert page.evaluate("known.isConnected && known.textContent.trim().length > 0")
        shapes[outcome] = region.locator("svg").inner_html()
    # The same three without any colour: by shape as well as by word.
    assert len(set(shapes.values())) == 3
