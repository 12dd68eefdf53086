"""Records that cannot be counted, at the desk: seen with their reason, written again."""

from __future__ import annotations

import json

import pytest
from playwright.sync_api import Locator, expect

from bagtrail import ids

from .conftest import NewHands
from .harness import FarmServer
from .harness_browser import DESK
from .harness_farm import Hands
from .harness_words import saying, within, words

pytestmark = pytest.mark.browser


def cards(hands: Hands, why: str = "") -> Locator:
    return hands.page.locator(f'[data-held^="{why}"]' if why else "[data-held]")


def again(hands: Hands, card: Locator) -> None:
    card.get_by_role("link", name=saying("mend.again")).click()
    hands.heading(words("mend.title"))


def test_P5_B4_held_records_are_seen_and_mended_at_the_desk(
    new_hands: NewHands, server: FarmServer
) -> None:
    desk = new_hands("desk", size=DESK)
    api = server.device()
    batch, bag, other = ids.new_code("M"), ids.new_code("B"), ids.new_code("B")
    assert api.write("batch.mixed", [batch], name="25 Nov A1", moisture=6_000) == "ok"
    assert api.write("bag.filled", [batch], n=2, fill_g=2_400, to=[bag, other], first="A1") == "ok"
    told = api.write("bag.harvested", [bag], g=-250, of=[[batch, ""]], flush=2, grade="second")
    garbled = '{"ty":"bag.checked","sub":["' + other
    told_all = [told, api.send(garbled), api.write("bag.sung_to", [bag], song="low"),
                api.write("bag.moved", [bag])]  # fmt: skip
    assert told_all == ["held"] * 4
    desk.page.reload()  # asks at once instead of in a while
    desk.phone.go("answers")
    expect(cards(desk)).to_have_count(4)
    expect(cards(desk, "unread")).to_contain_text(words("held.unread"))
    expect(cards(desk, "kind")).to_contain_text(words("held.kind"))
    expect(cards(desk, "field:g")).to_contain_text(words("held.field.todo"))

    # A figure that cannot be: everything else stands in the form already.
    again(desk, cards(desk, "field:g"))
    desk.fill("g", "250")
    desk.touch("mend.save")
    desk.said("mend.saved")
    expect(cards(desk)).to_have_count(3)

    # A text that cannot be read is shown as it came, and the act is written anew.
    unread = cards(desk, "unread")
    unread.locator("summary", has_text=saying("mend.came")).click()
    expect(unread.locator("pre")).to_have_text(garbled)
    again(desk, unread)
    desk.page.get_by_label(words("mend.kind")).select_option("bag.checked")
    desk.type_code(other)
    desk.touch("mend.save")
    desk.said("mend.saved")
    expect(cards(desk)).to_have_count(2)

    # One without a place cannot be saved again without one; then it is.
    shelf = ids.new_code("P")
    assert api.write("place.named", [shelf], name="Shelf 3", type="shelf") == "ok"
    expect(cards(desk, "field:to")).to_be_visible()
    again(desk, cards(desk, "field:to"))
    desk.touch("mend.save")
    expect(desk.page.locator('[data-field="to"]').get_by_role("alert")).to_be_visible()
    choice = desk.page.locator('[data-field="to"]').get_by_text("Shelf 3")
    expect(choice).to_be_visible()
    choice.click()
    desk.touch("mend.save")
    desk.said("mend.saved")

    # What nobody can tell is laid to rest.
    cards(desk, "kind").get_by_role("button", name=saying("held.void")).click()
    expect(desk.page.get_by_text(within("answers.none")).first).to_be_visible()
    desk.phone.all_sent()

    log = [json.loads(text) for text in server.log_texts() if text != garbled]
    came = {r["id"]: r for r in log if r.get("ty") == "bag.harvested" and r["d"]["g"] == -250}
    (harvest,) = [r for r in log if r.get("ty") == "bag.harvested" and r["d"]["g"] == 250]
    (wrong,) = came.values()
    assert harvest["d"] == {**wrong["d"], "g": 250}
    assert abs(harvest["on"]["ms"] - wrong["at"]) < 5_000  # it counts for when it was written
    voided = {r["d"]["target"] for r in log if r["ty"] == "record.voided"}
    assert wrong["id"] in voided
    assert len(voided) == 4
    assert [r["sub"] for r in log if r["ty"] == "bag.checked"] == [[other]]
    assert api.get(f"answers/part/{bag}")["part"]["place"] == shelf
    assert api.get(f"answers/part/{bag}")["part"]["g"] == 250
