"""The owner's screens of a restore and of backups, over a real server that was put back."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from .conftest import NewHands
from .harness import FarmServer, wait_until
from .harness_browser import DESK
from .harness_words import saying, within, words

pytestmark = pytest.mark.browser


def test_P8_after_a_restore_the_owner_is_told_and_lets_phones_in_again(
    server: FarmServer, new_hands: NewHands
) -> None:
    owner, worker = new_hands("owner"), new_hands("worker")
    owner.name_strain("Fen 4")
    owner.phone.all_sent()
    page = owner.page

    # Back up: made, verified, on the same disk, so it does not count until it is copied away.
    owner.phone.go("settings")
    card = page.locator("[data-safety]")
    expect(card.get_by_text(words("health.no_backups"))).to_be_visible()
    for n in (1, 2):
        owner.touch("safety.make")
        expect(card.locator("[data-backup]")).to_have_count(n, timeout=60_000)
        expect(owner.handle("safety.make")).to_be_enabled()
    expect(card.get_by_text(words("safety.phones_only"))).to_be_visible()
    rows = card.locator("[data-backup]")
    backup = rows.last.get_attribute("data-backup")
    for _ in range(2):
        expect(rows.first).to_be_visible()
        before = card.get_by_role("button", name=words("safety.away")).count()
        if not before:
            break  # the folder lies on another disk here: both count already
        card.get_by_role("button", name=words("safety.away")).first.click()
        expect(card.get_by_role("button", name=words("safety.away"))).to_have_count(before - 1)
    expect(card.get_by_text(within("safety.durable"))).to_be_visible()

    # Records after the backups; then the farm's computer is put back to the first of them.
    for name in ("Fen 5", "Fen 6"):
        owner.name_strain(name)
    owner.phone.all_sent()
    server.stop()
    folder = Path(server.data) / "backups"
    server.cli("restore", "--yes", str(folder / str(backup)))
    server.start()
    worker.phone.all_sent()

    # Nobody may see the log before it is known in whose hands it is: the desk is paired anew.
    desk = new_hands("desk", size=DESK)
    page = desk.page
    desk.phone.go("answers")
    told = page.locator("[data-put-back]")
    expect(told).to_be_visible(timeout=60_000)
    wait_until(lambda: "Fen 6" in "".join(server.log_texts()), "the records came back", 60)
    # Where the day starts, before it is looked for.
    desk.phone.go("settings")
    desk.phone.go("")
    desk.heading(words("nav.home"))
    expect(told).to_contain_text("came back from", timeout=30_000)
    desk.phone.go("answers")
    expect(told).to_contain_text("came back from", timeout=30_000)
    text = told.inner_text()
    assert re.search(r"put back to ", text), text
    assert re.search(r"\d+ records? came back from \d+ phones?", text), text
    assert {"Fen 4", "Fen 5", "Fen 6"} <= {
        r["d"]["name"] for r in server.log() if r["ty"] == "strain.named"
    }
    expect(desk.handle("safety.confirm").or_(desk.handle("safety.read")).first).to_be_visible()
    while desk.handle("safety.confirm").count():
        left = desk.handle("safety.confirm").count()
        desk.handle("safety.confirm").first.click()
        expect(desk.handle("safety.confirm")).to_have_count(left - 1)
    # Let in again, the phones go on as if nothing had been.
    for hands in (owner, worker):
        hands.phone.go("setup/strains")
        expect(hands.page.get_by_role("link", name="Fen 6")).to_be_visible(timeout=60_000)
    desk.touch("safety.read")
    expect(told).to_have_count(0)
    # Read is read, also after the app was opened again.
    page.reload()
    desk.phone.up()
    desk.phone.go("answers")
    expect(page.get_by_role("heading", level=1)).to_have_text(saying("screen.answers"))
    page.wait_for_timeout(2_000)
    expect(told).to_have_count(0)
