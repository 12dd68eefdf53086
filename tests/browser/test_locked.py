"""A round through a locked screen, a call that takes the camera, and a browser killed."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from .conftest import NewHands
from .harness import FarmServer
from .harness_camera import Camera
from .harness_farm import Hands
from .harness_words import words

pytestmark = pytest.mark.browser

#: Counts what is asked of the browser's wake lock; a real one is not to be had without a screen.
WAKE = """
(() => {
  globalThis.locks = [];
  Object.defineProperty(navigator, 'wakeLock', { value: {
    async request(type) {
      const lock = new EventTarget();
      Object.assign(lock, { type, released: false, async release() {
        lock.released = true;
        lock.dispatchEvent(new Event('release'));
      } });
      globalThis.locks.push(lock);
      return lock;
    },
  } });
})()
"""

#: Headless pages are never hidden; the event and the property are what a phone gives. A browser
#: lets go of the wake lock by itself when the page is hidden.
HIDE = """hidden => {
  Object.defineProperty(document, 'hidden', { value: hidden, configurable: true });
  const state = hidden ? 'hidden' : 'visible';
  Object.defineProperty(document, 'visibilityState', { value: state, configurable: true });
  document.dispatchEvent(new Event('visibilitychange'));
  if (hidden) for (const lock of globalThis.locks ?? []) if (!lock.released) lock.release();
}"""

CALLED = """() => {
  const [track] = document.querySelector('.finder video').srcObject.getTracks();
  // stop() is the page's own and fires nothing; a call that takes the camera fires this.
  track.stop();
  track.dispatchEvent(new Event('ended'));
}"""


def live(page: Page) -> None:
    expect(page.locator('.finder[data-state="live"]')).to_be_visible()


def held(page: Page) -> list[bool]:
    """Whether each wake lock so far is still held."""
    now: list[bool] = page.evaluate("locks.map((lock) => !lock.released)")
    return now


def count(hands: Hands, n: int) -> None:
    expect(hands.page.locator(".round-count b")).to_have_text(str(n))


def test_a_round_lives_through_lock_call_and_kill(
    server: FarmServer, new_hands: NewHands, camera: Camera
) -> None:
    hands = new_hands(camera=camera)
    page = hands.page
    _, bags = hands.mix_and_fill(5, 2_400, "60")
    hands.phone.all_sent()
    hands.phone.shell_ready()
    tag = server.device().tag
    server.kill()
    page.add_init_script(WAKE)
    page.reload()
    camera.show([hands.labels[bags[0]]])
    hands.phone.go("round/look")
    live(page)
    count(hands, 1)
    assert held(page) == [True]

    # Locked: the camera rests, the lock is gone; unlocked, both are back and the round goes on.
    page.evaluate("() => { globalThis.old = document.querySelector('video').srcObject; }")
    page.evaluate(HIDE, True)
    expect(page.locator('.finder[data-state="off"]')).to_be_visible()
    assert page.evaluate("old.getTracks().every((track) => track.readyState === 'ended')")
    assert held(page) == [False]
    camera.show([hands.labels[bags[1]]])
    page.evaluate(HIDE, False)
    live(page)
    count(hands, 2)
    assert held(page) == [False, True]

    # A call takes the camera: said, with the scanner still heard, and one touch brings it back.
    page.evaluate(CALLED)
    expect(page.locator(".scan-said")).to_contain_text(words("scan.camera.lost"))
    hands.wedge(f"{tag}.{bags[2]}")
    count(hands, 3)
    camera.show([hands.labels[bags[3]]])
    page.get_by_role("button", name=words("scan.camera.again")).click()
    live(page)
    count(hands, 4)

    # The browser is killed: by itself it is back in the round, with its lines and its misfits.
    hands.wedge(f"{tag}.B0000001K")
    expect(page.locator('.round-told[data-outcome="misfit"]')).to_be_visible()
    hands.phone.kill()
    camera.show([hands.labels[bags[4]]])
    hands.phone.start()
    hands.phone.open()
    hands.heading(words("purpose.look"))
    count(hands, 5)
    hands.touch("round.end")
    page = hands.page
    expect(page.get_by_role("heading", level=2, name=re.compile("^1 "))).to_be_visible()
    expect(page.locator(".item-still", has_text="B00 000 01K")).to_be_visible()
    server.start()
    hands.phone.all_sent(60_000)
    looked = [bag for r in server.log() if r["ty"] == "bag.checked" for bag in r["sub"]]
    assert sorted(looked) == sorted(bags)


def test_a_sweep_starts_again_after_a_lock(new_hands: NewHands, camera: Camera) -> None:
    hands = new_hands(camera=camera)
    page = hands.page
    _, bags = hands.mix_and_fill(2, 2_400, "60")
    camera.show([hands.labels[bags[0]]])
    hands.phone.go("sweep")
    count(hands, 1)
    page.evaluate(HIDE, True)
    expect(page.locator('.finder[data-state="off"]')).to_be_visible()
    camera.show([hands.labels[bags[1]]])
    page.evaluate(HIDE, False)
    live(page)
    count(hands, 2)
