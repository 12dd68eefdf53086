"""What waits on a phone: seen, counted, kept through two tabs, sent once the line is back."""

from __future__ import annotations

import os
import re

import pytest
from playwright.sync_api import Page, expect

from .conftest import NewHands, NewPhone
from .harness import FarmServer
from .harness_farm import Hands
from .harness_words import saying, within, words

pytestmark = pytest.mark.browser

SENT_WITHIN_MS = 60_000
EACH_TAB = 100 if os.environ.get("BAGTRAIL_LONG") == "1" else 30

#: Fills in the note form and saves it, again and again, as fast as the screen lets it. Touching
#: through the driver would take a minute; these are the same elements and the same events.
WRITE_NOTES = """
async ([hash, words, tab, n]) => {
  const until = async (find) => {
    for (let i = 0; i < 1200; i += 1) {
      const found = find();
      if (found) return found;
      await new Promise((r) => setTimeout(r, 25));
    }
    throw new Error('the form did not come');
  };
  for (let i = 0; i < n; i += 1) {
    location.hash = hash;
    const box = await until(() => document.querySelector('[data-field="text"] .input'));
    box.value = `${tab}-${i}`;
    box.dispatchEvent(new Event('input', { bubbles: true }));
    const button = await until(() => [...document.querySelectorAll('#main button')]
      .find((b) => b.type === 'submit' && b.textContent.trim() === words && !b.disabled));
    await new Promise((r) => requestAnimationFrame(r));
    button.click();
    await until(() => !location.hash.includes('note.written'));
  }
}
"""


def start_batch(hands: Hands) -> str:
    """A farm with one batch; returns the batch's code."""
    hands.mix_and_fill(3, 2_400, "60")
    hands.touch("fill.to_batch")
    hands.page.wait_for_url(re.compile(r"#/batch/M\w{8}$"))
    hands.phone.all_sent()
    return hands.page.url[-9:]


def test_two_tabs_of_one_profile_write_all_their_rows(
    server: FarmServer, new_hands: NewHands
) -> None:
    hands = new_hands()
    batch = start_batch(hands)
    first = hands.page
    second = hands.phone.context.new_page()
    hands.phone.watch(second)
    second.goto(f"{server.url}/#/batch/{batch}")
    expect(second.get_by_role("heading", level=1)).to_be_visible()
    server.kill()

    def begin(page: Page, tab: str) -> None:
        page.evaluate(
            f"args => {{ window.written = ({WRITE_NOTES})(args).then(() => 'ok', String) }}",
            [f"#/act/note.written/{batch}", words("form.save"), tab, EACH_TAB],
        )

    begin(first, "one")
    begin(second, "two")
    for page in (first, second):
        assert page.evaluate("window.written") == "ok"
    # Two tabs of a profile are one device with one outbox: either one shows the whole of it.
    for page in (first, second):
        expect(page.locator(".status-unsent")).to_contain_text(f"{2 * EACH_TAB}")
    server.start()
    hands.phone.all_sent(SENT_WITHIN_MS)
    notes = [r for r in server.log() if r["ty"] == "note.written"]
    wanted = {f"{tab}-{i}" for tab in ("one", "two") for i in range(EACH_TAB)}
    assert {n["d"]["text"] for n in notes} == wanted
    assert len(notes) == 2 * EACH_TAB
    for stream in {n["st"] for n in notes}:
        numbers = [r["sq"] for r in server.log() if r["st"] == stream]
        assert sorted(numbers) == list(range(min(numbers), min(numbers) + len(numbers)))
    assert server.held() == []


def test_undo_is_a_void(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands()
    hands.name_strain("Fen 4")
    hands.touch("undo.do")
    hands.said("undo.done")
    hands.phone.all_sent()
    log = server.log()
    named = next(r for r in log if r["ty"] == "strain.named")
    voids = [r for r in log if r["ty"] == "record.voided"]
    assert [(v["d"]["target"], v["sub"]) for v in voids] == [(named["id"], named["sub"])]
    hands.phone.go("setup/strains")
    expect(hands.page.get_by_role("link", name="Fen 4")).to_have_count(0)
    hands.phone.go("records")
    expect(hands.page.get_by_text(words("history.voided"), exact=True)).to_be_visible()


def test_undo_takes_back_an_act_of_two_records(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands()
    hands.mix_and_fill(3, 2_400, "60")
    hands.touch("undo.do")
    hands.said("undo.done")
    hands.phone.all_sent()
    log = server.log()
    act = {r["id"] for r in log if r["ty"] in ("batch.mixed", "bag.filled")}
    assert {r["d"]["target"] for r in log if r["ty"] == "record.voided"} == act


def test_what_waits_is_always_in_sight_and_goes_by_itself(
    server: FarmServer, new_hands: NewHands, new_phone: NewPhone
) -> None:
    hands = new_hands()
    batch = start_batch(hands)
    server.kill()
    for text in ("first", "second"):
        hands.phone.go(f"act/note.written/{batch}")
        hands.fill("text", text)
        hands.touch("form.save")
        hands.said("act.saved")
    hands.phone.waiting(2)
    status = hands.page.locator(".status-unsent")
    for route in ("", "find", "scan", "more", "settings", f"batch/{batch}"):
        hands.phone.go(route)
        expect(status).to_be_visible()
        expect(status).to_contain_text(within("status.unsent_long"))
        expect(status).to_contain_text("2")
        # The age of the oldest: seconds or minutes, never empty.
        assert re.search(r"2\D*\d+ ?(s|min)|now", status.inner_text()), status.inner_text()
    expect(hands.page.locator(".status")).to_contain_text(words("link.silent"))

    opened = hands.page.evaluate("performance.timeOrigin")
    server.start()
    hands.phone.all_sent(SENT_WITHIN_MS)
    assert hands.page.evaluate("performance.timeOrigin") == opened, "the page was loaded anew"
    notes = [r["d"]["text"] for r in server.log() if r["ty"] == "note.written"]
    assert notes == ["first", "second"]
    expect(hands.page.get_by_text(saying("link.silent"))).to_have_count(0)
