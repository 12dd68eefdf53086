"""The picture of the rooms with no farm computer: counts by shelf and stage, one batch lit."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Locator, expect

from .conftest import NewHands
from .harness import FarmServer
from .harness_farm import Hands
from .harness_words import words

pytestmark = pytest.mark.browser


def move(hands: Hands, tag: str, shelf: str, *bags: str) -> None:
    """Carry bags to a shelf in a round, by hand scanner."""
    hands.phone.go(f"round/move/{shelf}")
    for n, bag in enumerate(bags, 1):
        hands.wedge(f"{tag}.{bag}")
        expect(hands.page.locator(".round-count b")).to_have_text(str(n))
    hands.page.get_by_role("button", name=words("round.end")).click()
    hands.touch("round_end.close")
    hands.page.wait_for_url(re.compile(r"#/$"))  # by itself: a touch before would be lost


def shelf_of(hands: Hands, code: str) -> Locator:
    return hands.page.locator(f'a.shelf[href="#/place/{code}"]')


def test_rooms_are_drawn_with_no_network(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands()
    hands.name_place("Room 1", "room")
    hands.name_place("Rack A", "rack", "Room 1")
    upper = hands.name_place("Shelf A1", "shelf", "Rack A")
    lower = hands.name_place("Shelf A2", "shelf", "Rack A")
    hands.name_strain("Fen 4")
    spawn = hands.receive_spawn("Fen 4")
    first, ours = hands.mix_and_fill(4, 2_400, "60")
    _, theirs = hands.mix_and_fill(3, 2_400, "60")
    hands.phone.all_sent()
    tag = server.device().tag
    hands.phone.shell_ready()
    server.kill()

    move(hands, tag, upper, *ours[:3], theirs[0])
    move(hands, tag, lower, *theirs[1:])
    hands.phone.go(f"round/inoculate/{spawn}")
    for n, bag in enumerate(ours[:2], 1):
        hands.wedge(f"{tag}.{bag}")
        expect(hands.page.locator(".round-count b")).to_have_text(str(n))

    # The phone is switched off and on: the picture comes from its own memory.
    hands.phone.kill()
    hands.phone.start()
    hands.phone.open("rooms")
    room = hands.page.get_by_role("region", name="Room 1")
    expect(room.get_by_role("heading", name="Rack A")).to_be_visible()
    filled, run = words("stage.filled"), words("stage.spawn_run")
    above, below = shelf_of(hands, upper), shelf_of(hands, lower)
    expect(above.locator(".num")).to_have_text("4")
    expect(above.locator("small")).to_have_text(f"{filled} 2 · {run} 2")
    expect(above.locator("svg g")).to_have_count(4)
    expect(below.locator("small")).to_have_text(f"{filled} 2")
    expect(hands.page.locator(".shelf-wanted")).to_have_count(0)

    # The wanted batch is lit by a frame and by words, and only where it stands.
    hands.page.locator("summary", has_text=words("rooms.light")).click()
    hands.choose(first)
    expect(above).to_have_class("shelf shelf-wanted")
    expect(above.locator("small")).to_contain_text("3")
    expect(hands.page.locator(".shelf-wanted")).to_have_count(1)
    # One is carried down, and the picture follows; a scan lights its batch as well.
    move(hands, tag, lower, ours[0])
    hands.phone.go("rooms")
    hands.wedge(f"{tag}.{ours[1]}")
    expect(hands.page.locator(".shelf-wanted")).to_have_count(2)
    expect(above.locator(".num")).to_have_text("3")
    expect(below.locator("small")).to_contain_text(f"{filled} 2 · {run} 1")
