"""P1: a device that is full while records are saved: no tick without storage (A7)."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from .conftest import NewHands
from .harness import FarmServer
from .harness_sync import notes_in
from .harness_words import within
from .test_offline import SENT_WITHIN_MS, start_batch

pytestmark = pytest.mark.browser

# The browser looks for room only now and then, and lets through what fits its last look.
MOST = 600


def test_P1_A7_a_full_device_says_so_saves_no_half_and_takes_the_same_note_once_there_is_room(
    server: FarmServer, new_hands: NewHands
) -> None:
    hands = new_hands()
    batch = start_batch(hands)
    hands.phone.shell_ready()
    page = hands.page
    server.kill()
    before = len(hands.phone.outbox())
    asks = hands.phone.context.new_cdp_session(page)
    used = int(asks.send("Storage.getUsageAndQuota", {"origin": server.url})["usage"])
    asks.send("Storage.overrideQuotaForOrigin", {"origin": server.url, "quotaSize": used + 60_000})
    # Notes as long as they may be, until the device is full: each says what became of it.
    told, text = [], ""
    for n in range(MOST):
        if n and n % 40 == 0:
            # The browser tidied its files up meanwhile and found room: there is none but this.
            used = int(asks.send("Storage.getUsageAndQuota", {"origin": server.url})["usage"])
            asks.send("Storage.overrideQuotaForOrigin", {"origin": server.url, "quotaSize": used})
        text = f"{n} ".ljust(1_990, "x")
        hands.phone.go(f"act/note.written/{batch}")
        hands.fill("text", text)
        # What an earlier act said must be gone, or it would be taken for the word on this one.
        page.evaluate("document.querySelector('.toast')?.click()")
        expect(page.locator(".toast")).to_have_count(0)
        hands.touch("form.save")
        saved = page.locator(".toast").filter(has_text=within("act.saved"))
        failed = page.get_by_text(re.compile("could not store it, so nothing was saved"))
        expect(saved.or_(failed).first).to_be_visible()
        if failed.count():
            break
        told.append(text)
    else:
        raise AssertionError("the device never was full")
    expect(failed.first).to_contain_text("Its storage is full")
    # No tick without storage, and no storage without a tick; the note in hand is still in the form.
    texts = hands.phone.outbox()
    assert len(texts) == before + len(told)
    assert told, "nothing was saved before it was full"
    box = page.locator('[data-field="text"]').get_by_role("textbox")
    assert box.input_value() == text
    expect(page.locator(".status-unsent")).to_contain_text(f"{len(told)}")

    asks.send("Storage.overrideQuotaForOrigin", {"origin": server.url})
    hands.touch("form.save")
    hands.said("act.saved")
    told.append(text)
    server.start()
    hands.phone.now()
    hands.phone.all_sent(SENT_WITHIN_MS)
    assert notes_in(server) == sorted(one.strip() for one in told)
    assert server.held() == []
