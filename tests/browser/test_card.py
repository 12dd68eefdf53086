"""A day that begins with blank tags, by hand scanner and command card alone: fill, stick labels,
load, inoculate, roll, look, pick, pack. The screen is only looked at; nothing is pressed."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from bagtrail.ids import check_symbol

from .conftest import NewHands
from .harness import FarmServer, wait_until
from .harness_words import words
from .test_round import DIGIT, DONE, LOOK, PICK, Gloves

pytestmark = pytest.mark.browser

# Numbers of command tags as they are printed: cards hang for years, so they never change.
INOCULATE, LOAD, ADOPT, FILL, ROLL, PACK = 30, 32, 33, 43, 44, 45
ALL_BUT, PASSED, FIRST_GRADE = 5, 180, 200


def blank(letter: str, n: int) -> str:
    """A tag as it comes from a roll of blank ones: nobody has said yet what it stands for."""
    body = f"{letter}CARD{n:03d}"
    return body + check_symbol(body)


def test_from_blank_tags_to_packed_without_a_touch(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands(size=(1280, 800))
    room = hands.name_place("Room 2", "room")
    trolley = hands.name_place("Trolley 4", "trolley")
    hands.name_strain("Fen 4")
    spawn = hands.receive_spawn("Fen 4")
    hands.phone.all_sent()
    server_tag = server.device().tag
    hands.phone.go("")
    gloves = Gloves(hands, server_tag)
    batch, load, crate = blank("M", 1), blank("H", 2), blank("K", 3)
    bags = [blank("B", n) for n in range(10, 14)]
    told = hands.page.locator(".round-told")

    gloves.card(FILL)
    hands.heading(words("purpose.fill"))
    gloves.scan(batch)
    gloves.card(DIGIT + 1, DIGIT + 2)
    gloves.card(DONE)

    gloves.card(ADOPT)
    gloves.scan(batch, *bags)
    gloves.told("taken")
    expect(hands.page.locator(".round-count b")).to_have_text("4")

    gloves.card(LOAD)
    gloves.scan(load, *bags)
    gloves.told("taken")
    gloves.card(PASSED, DONE)
    expect(told).to_have_count(0)

    gloves.card(INOCULATE)
    gloves.scan(spawn, *bags)
    # The rest of the trolley is told as a count: three of those without a label.
    gloves.card(DIGIT + 3)
    gloves.scan(batch)
    gloves.told("taken")
    expect(hands.page.locator(".round-count b")).to_have_text("7")
    gloves.card(ROLL)
    gloves.scan(trolley, room)
    gloves.told("taken")

    # The whole batch looked at but one bag: one record of one walk.
    gloves.card(LOOK, ALL_BUT)
    gloves.scan(batch, bags[1])
    gloves.card(DONE)

    gloves.card(PICK)
    gloves.scan(bags[0])
    gloves.grams("350")
    gloves.scan(crate)
    gloves.told("set")
    gloves.card(DONE)
    gloves.card(PACK, FIRST_GRADE)
    gloves.scan(crate)
    gloves.grams("340")
    gloves.card(DONE)
    wait_until(lambda: "crop.packed" in "".join(server.log_texts()), "the crate is packed", 60)
    hands.phone.all_sent()

    log = server.log()

    def of(kind: str) -> list[dict[str, Any]]:
        return [r for r in log if r["ty"] == kind]

    assert [r["sub"] for r in of("batch.mixed")] == [[batch]]
    assert [(r["sub"], r["d"]["n"]) for r in of("bag.filled")] == [([batch], 12)]
    stuck, counted = of("group.split")[:4], of("group.split")[4:]
    assert [r["d"]["to"] for r in stuck] == [[bag] for bag in bags]
    assert [r["d"]["n"] for r in counted] == [3]
    assert [r["sub"] for r in of("load.filled")] == [[load, bag] for bag in bags]
    assert [(r["sub"], r["d"]["result"]) for r in of("load.ran")] == [([load], "passed")]
    assert [(r["sub"], r["d"]["spawn"]) for r in of("bag.inoculated")] == [
        *[([bag], spawn) for bag in bags],
        ([f"g-{counted[0]['id']}"], spawn),
    ]
    assert [(r["sub"], r["except"]) for r in of("bag.checked")] == [([batch], [bags[1]])]
    assert [(r["sub"], r["d"]["to"]) for r in of("place.moved")] == [([trolley], room)]
    assert [(r["sub"], r["d"]["g"], r["d"]["crate"]) for r in of("bag.harvested")] == [
        ([bags[0]], 350, crate)
    ]
    assert [(r["sub"], r["d"]["g"], r["d"]["grade"]) for r in of("crop.packed")] == [
        ([crate], 340, "first")
    ]
    assert server.held() == []
