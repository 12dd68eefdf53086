"""The whole day on the farm's own computer: no phone, no camera, a hand scanner, localhost."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from .conftest import NewHands
from .harness import FarmServer, wait_until
from .harness_browser import DESK
from .harness_farm import Hands
from .harness_words import words

pytestmark = pytest.mark.browser

BAGS = 4
#: What a French keyboard makes of a scanner set to US; the other keys are the same.
AZERTY = dict(zip("QWAZM1234567890.", "AZQW?&é\"'(-è_çà:", strict=True))


def test_a_whole_day_with_a_hand_scanner(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands("desk", size=DESK)
    tag = server.device().tag
    shelf = hands.name_place("Shelf 3", "shelf")
    hands.name_strain("Fen 4")
    lot = hands.receive_spawn("Fen 4")
    batch, bags = hands.mix_and_fill(BAGS, 2_400, "60")

    # Steamed.
    hands.touch("act.load_ran")
    hands.choose(words("choice.result.passed"))
    hands.touch("form.save")
    hands.said("act.saved")

    # Inoculated: the lot's tag, then bag after bag, on a screen that shows no camera at all.
    hands.phone.go("inoculate")
    hands.wedge(f"{tag}.{lot}")
    expect(hands.page.get_by_role("heading", level=2, name=re.compile("Fen 4"))).to_be_visible()
    scan_fast(hands, [f"{tag}.{bag}" for bag in bags])

    # Moved: the shelf first.
    hands.phone.go("move")
    hands.heading(words("move.title"))
    hands.wedge(f"{tag}.{shelf}")
    expect(hands.page.get_by_text(words("move.shelf.next"))).to_be_visible()
    scan_fast(hands, [f"{tag}.{bag}" for bag in bags])
    # Another shelf, and the bags first this time: the one they stand on is scanned last.
    hands.touch("move.shelf.other")
    for code in (*bags[:2], shelf):
        hands.wedge(f"{tag}.{code}")
    hands.said("move.saved")

    # From wherever one stands, a scan opens the bag; this scanner speaks French.
    hands.phone.go("records")
    hands.heading(words("screen.records"))
    hands.wedge(f"{tag}.{bags[0]}", AZERTY)
    hands.page.wait_for_url(re.compile(rf"#/bag/{bags[0]}$"))
    contaminated(hands)

    # A scan into a text field leaves the field as it was.
    hands.phone.go("find")
    box = hands.page.get_by_role("searchbox", name=words("find.label"))
    box.fill("Oct")
    box.focus()
    hands.wedge(f"{tag}.{bags[1]}")
    hands.page.wait_for_url(re.compile(rf"#/bag/{bags[1]}$"))

    # Opened as a whole batch, picked bag by bag.
    hands.batch_page(batch)
    hands.phone.go("act/bag.opened/" + batch_code(hands))
    hands.choose(words("choice.how.top_cut"))
    hands.touch("form.save")
    hands.said("act.saved")
    hands.phone.go("harvest")
    hands.heading(words("harvest.title"))
    for number, grams in ((2, "300"), (3, "250"), (4, "410")):
        # Scanned while the weight before is still being saved.
        hands.wedge(f"{tag}.{bags[number - 1]}")
        in_hand = hands.page.get_by_role("group", name=words("field.bag_harvested.flush"))
        expect(in_hand).to_contain_text(f"A{number}")
        hands.page.get_by_label(words("harvest.weight")).fill(grams)
        hands.touch("harvest.save")
    wait_until(
        lambda: sum('"bag.harvested"' in text for text in hands.phone.outbox()) == 3, "all is saved"
    )
    hands.phone.all_sent()

    page = hands.batch_page(batch)
    expect(page.locator(".figures")).to_contain_text("960 g")
    log = server.log()
    counts = {k: sum(r["ty"] == k for r in log) for k in ("bag.inoculated", "bag.moved",
                                                          "bag.harvested", "load.ran")}  # fmt: skip
    assert counts == {"bag.inoculated": 4, "bag.moved": 6, "bag.harvested": 3, "load.ran": 1}
    answer = server.device().get(f"answers/part/{bags[0]}")
    assert answer["part"]["bad"]["sign"] == "green_mould"
    assert answer["part"]["place"] == shelf
    assert server.held() == []


def scan_fast(hands: Hands, texts: list[str]) -> None:
    """Scan without a look at the screen: each label counts, however quick the hand."""
    for text in texts:
        hands.wedge(text)
    done = re.compile(rf"(?<!\d){len(texts)}\s")
    expect(hands.page.locator(".screen-head")).to_contain_text(done)


def batch_code(hands: Hands) -> str:
    found = re.search(r"#/batch/(M\w{8})$", hands.page.url)
    assert found, hands.page.url
    return found[1]


def contaminated(hands: Hands) -> None:
    link = hands.handle("act.bag_contaminated").first
    expect(hands.page.get_by_role("region", name=words("bag.acts"))).to_be_visible()
    if not link.is_visible():
        hands.page.get_by_text(words("bag.other_acts")).click()
    link.click()
    hands.choose(words("choice.sign.green_mould"))
    hands.choose(words("choice.where.side"))
    hands.choose(words("choice.kept.kept_apart"))
    hands.said("bad.saved")
