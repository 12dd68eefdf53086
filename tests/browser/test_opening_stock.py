"""A farm that starts with 800 unlabelled bags by count, labels some, never labels others."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from .conftest import NewHands
from .harness import FarmServer, wait_until
from .harness_farm import Hands
from .harness_words import saying, within, words

pytestmark = pytest.mark.browser

STOCK = 800
LABELLED = 30
MOVED = 120
DUMPED = 7


def test_800_bags_by_count_get_right_totals(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands()
    hands.name_place("Run room", "room")
    hands.name_place("Fruiting room", "room")
    hands.name_strain("Fen 4")

    batch = open_stock(hands)
    code = batch_code(hands)
    label_some(hands, batch)
    some(hands, batch, MOVED, "act.bag_moved")
    hands.choose("Fruiting room")
    hands.said("move.saved")
    some(hands, batch, DUMPED, "act.bag_finished")
    hands.choose(words("choice.cause.dumped"))
    hands.fill("why", "mites")
    hands.touch("form.save")
    hands.said("act.saved")
    hands.phone.all_sent()

    live = STOCK - DUMPED
    page = hands.batch_page(batch)
    expect(page.locator(".figure").first).to_contain_text(str(live))
    for name, n in (("Run room", live - MOVED), ("Fruiting room", MOVED)):
        row = page.get_by_role("link", name=re.compile(rf"^{name}"))
        expect(row.locator(".qty")).to_have_text(re.compile(rf"^{n}\d\d?([.]\d+)?\s?%$"))
    ended = page.get_by_role("listitem").filter(has_text=words("end.dumped"))
    expect(ended.locator(".qty")).to_have_text(re.compile(rf"^{DUMPED}\d\d?([.]\d+)?\s?%$"))

    page.get_by_role("link", name=re.compile("^Run room")).click()
    hands.heading("Run room")

    def standing() -> int:
        texts = page.locator(".list .qty").all_inner_texts()
        return sum(int(re.sub(r"\D", "", text)) for text in texts)

    wait_until(lambda: standing() == live - MOVED, "the room's list adds up")

    answer = server.device().get(f"answers/batch/{code}")
    assert answer["sums"]["bags"] == STOCK
    assert answer["sums"]["live"] == live
    assert answer["sums"]["ends"] == {"dumped": DUMPED}
    assert {p["path"][-1]["name"]: p["n"] for p in answer["places"]} == {
        "Run room": live - MOVED,
        "Fruiting room": MOVED,
    }
    tagged = [part for c, part in answer["parts"].items() if c.startswith("B")]
    assert len(tagged) == LABELLED
    assert sum(part["n"] for part in tagged) == LABELLED
    assert answer["questions"] == []


def open_stock(hands: Hands) -> str:
    """Count what stands there, without a single label; returns the name it is given."""
    hands.phone.go("opening")
    name = "Before 25 Nov"
    hands.fill("name", name)
    hands.fill("n", str(STOCK))
    hands.choose("Fen 4")
    hands.choose("Run room")
    hands.choose(words("labelling.never"))
    hands.touch("opening.save")
    hands.said("opening.saved")
    return name


def batch_code(hands: Hands) -> str:
    hands.touch("fill.to_batch")
    hands.page.wait_for_url(re.compile(r"#/batch/M\w{8}$"))
    return hands.page.url[-9:]


def group_page(hands: Hands, batch: str) -> None:
    """Open the page of the largest group of a batch."""
    page = hands.batch_page(batch)
    page.get_by_text(saying("batch.members")).click()
    members = page.locator("details", has=page.get_by_text(saying("batch.members")))
    rows = members.get_by_role("link")
    expect(rows.first).to_be_visible()
    hands.phone.quiet()
    best = max(range(rows.count()), key=lambda i: bags_of(rows.nth(i).locator("b").inner_text()))
    rows.nth(best).click()
    page.wait_for_url(re.compile(r"#/bag/g-"))


def bags_of(name: str) -> int:
    """Bags a part's name stands for: '763 bags' or 'Bag A12'."""
    found = re.match(r"([\d,]+)\s", name)
    return int(found[1].replace(",", "")) if found else 1


def label_some(hands: Hands, batch: str) -> None:
    """New labels for some of the bags, printed: more than one sheet."""
    group_page(hands, batch)
    act(hands, "act.group_split")
    hands.page.get_by_label(within("label.how_many")).fill(str(LABELLED))
    hands.touch("label.make")
    assert len(hands.print_here()) == LABELLED


def act(hands: Hands, message: str) -> None:
    link = hands.handle(message).first
    expect(hands.page.get_by_role("region", name=words("bag.acts"))).to_be_visible()
    if not link.is_visible():
        hands.page.get_by_text(words("bag.other_acts")).click()
    link.click()


def some(hands: Hands, batch: str, n: int, message: str) -> None:
    """Begin an act on some bags of the group, by count."""
    group_page(hands, batch)
    act(hands, message)
    hands.page.get_by_label(words("many.some")).fill(str(n))
