"""A phone whose key was taken back: the farm is gone from it, what was written on it is not."""

from __future__ import annotations

import json

import pytest
from playwright.sync_api import expect

from bagtrail import ids

from .conftest import NewHands
from .harness import FarmServer, wait_until
from .harness_words import words

pytestmark = pytest.mark.browser


def test_A14_a_revoked_phone_shows_nothing_and_loses_nothing(
    new_hands: NewHands, server: FarmServer
) -> None:
    hands = new_hands("lost")
    api = server.device()
    batch, bag = ids.new_code("M"), ids.new_code("B")
    assert api.write("batch.mixed", [batch], name="25 Nov A1", moisture=6_000) == "ok"
    assert api.write("bag.filled", [batch], n=1, fill_g=2_400, to=[bag], first="A1") == "ok"
    page = hands.page
    page.reload()
    hands.phone.go(f"bag/{bag}")
    expect(page.locator(".bag-head")).to_be_visible()
    hands.name_strain("Fen 4")
    hands.phone.all_sent()
    written = hands.phone.outbox()

    # Out of reach it writes on; meanwhile its key is taken back.
    port = server.port
    server.stop()
    hands.name_strain("Fen 5")
    dev = json.loads(written[0])["dev"]
    server.cli("devices", "--revoke", dev, "--why", "lost in the woods")
    server.start()
    assert server.port == port
    page.reload()
    hands.phone.up()

    wait_until(lambda: "Fen 5" in "".join(server.log_texts()), "what waited was sent", 60)
    held = [one for row in api.get("sync/snapshot")["rows"] for one in row.get("held", ())]
    assert [one["why"] for one in held] == ["device"]
    hands.phone.go("find")
    expect(page.locator("#main [role=status]").first).not_to_contain_text("1", timeout=60_000)
    hands.phone.go(f"c/{bag}")
    expect(page.get_by_text(words("link.unpaired")).first).to_be_visible()
    hands.phone.quiet()
    expect(page.locator(".bag-head")).to_have_count(0)
    texts = hands.phone.outbox()
    assert set(written) < set(texts)
    assert any("Fen 5" in text for text in texts)
