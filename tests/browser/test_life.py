"""A bag's whole life on real parts: printed page, camera, worker, service worker, stores, server.

Nothing is stubbed. The line is cut in two ways: the farm's server killed (the browser thinks it is
online), and the network off (the browser knows).
"""

from __future__ import annotations

import json
import re
from collections import Counter
from typing import Any

import pytest
from playwright.sync_api import expect

from .conftest import NewHands, NewPhone
from .harness import FarmServer
from .harness_browser import Phone
from .harness_camera import Camera
from .harness_farm import Hands
from .harness_words import saying, within, words

pytestmark = pytest.mark.browser

BAGS = 5
FILL_G = 2_400
DRY_SHARE = 40  # %: 60 % moisture, wet basis
PICKED = {0: 412, 1: 388}
SENT_WITHIN_MS = 60_000


class Line:
    """The line between phone and farm, cut and mended in one of the two ways it fails."""

    def __init__(self, how: str, server: FarmServer, hands: Hands) -> None:
        self.how, self._server, self._hands = how, server, hands

    def cut(self) -> None:
        if self.how == "killed":
            self._server.kill()
        else:
            self._hands.phone.context.set_offline(True)

    def after_restart(self) -> None:
        """A new browser process knows nothing of the old one's switch."""
        if self.how == "offline":
            self._hands.phone.context.set_offline(True)

    def mend(self) -> None:
        if self.how == "killed":
            self._server.start()
        else:
            self._hands.phone.context.set_offline(False)


@pytest.fixture(params=["killed", "offline"])
def how(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def test_a_bags_life_scanned_without_signal_arrives_once(
    how: str, server: FarmServer, new_hands: NewHands, new_phone: NewPhone, camera: Camera
) -> None:
    hands = new_hands("phone", camera)
    phone = hands.phone
    shelf = hands.name_place("Shelf 3", "shelf")
    hands.name_strain("Fen 4")
    lot = hands.receive_spawn("Fen 4")
    batch, bags = hands.mix_and_fill(BAGS, FILL_G, "60")
    phone.all_sent()
    phone.shell_ready()
    before = server.log()

    line = Line(how, server, hands)
    line.cut()
    from_cache = reload_from_cache(hands)
    assert from_cache, "the page came from somewhere else than the service worker"
    expect(hands.page.locator(".status")).to_contain_text(
        re.compile("|".join((words("link.offline"), words("link.silent"))))
    )

    inoculate(hands, lot, bags)
    move(hands, shelf, bags)
    contaminate(hands, bags[2])
    harvest(hands, camera, {bags[i]: grams for i, grams in PICKED.items()})
    made = expected(lot, shelf, bags)
    # The last saved act is counted a moment after its tick.
    phone.waiting(len(made))

    phone.kill()
    phone.start()
    line.after_restart()
    phone.open()
    phone.up()
    phone.waiting(len(made))  # none was lost with the browser
    yields(hands, batch)

    line.mend()
    phone.all_sent(SENT_WITHIN_MS)
    log = server.log()
    assert len({r["id"] for r in log}) == len(log)
    assert sorted(phone.outbox()) == sorted(own_texts(server, phone)), (
        "another text than was stored"
    )
    new = log[len(before) :]
    assert Counter(what(r) for r in new) == Counter(made), "each record once, and no other"
    assert server.held() == []

    second = new_phone("second").pair(server.pair_code("worker"), "Second phone")
    other = Hands(second, phone._home)
    yields(other, batch)
    members = other.page.locator("details", has=other.page.get_by_text(saying("batch.members")))
    members.locator("summary").click()
    expect(members.get_by_role("link", name=re.compile("Shelf 3"))).to_have_count(BAGS)


def own_texts(server: FarmServer, phone: Phone) -> list[str]:
    """The log's texts of the streams that this phone has written."""
    mine = {json.loads(text)["st"] for text in phone.outbox()}
    return [text for text in server.log_texts() if json.loads(text)["st"] in mine]


def reload_from_cache(hands: Hands) -> bool:
    """Load the page anew without a network; returns whether the service worker answered."""
    reply = hands.page.reload()
    hands.phone.up()
    return reply is not None and reply.from_service_worker


def inoculate(hands: Hands, lot: str, bags: list[str]) -> None:
    """The lot's tag first, then bag after bag."""
    hands.phone.go("")
    hands.touch_choice("home.inoculate")
    hands.hold_up(lot)
    expect(hands.page.get_by_role("heading", level=2, name=re.compile("Fen 4"))).to_be_visible()
    hands.hold_up(*bags)
    expect(hands.page.locator(".screen-head")).to_contain_text(
        re.compile(rf"(?<!\d){len(bags)}\s"), timeout=40_000
    )
    hands.touch("round.finish")


def move(hands: Hands, shelf: str, bags: list[str]) -> None:
    """Bags first, then the shelf."""
    hands.phone.go("")
    hands.touch_choice("home.move")
    hands.hold_up(*bags)
    chips = hands.page.get_by_role("button", name=within("move.leave_out"))
    expect(chips).to_have_count(len(bags), timeout=40_000)
    hands.hold_up(shelf)
    hands.said("move.saved")
    expect(chips).to_have_count(0)


def contaminate(hands: Hands, bag: str) -> None:
    """Three touches from the bag's page."""
    hands.scan_one(bag)
    expect(hands.page.get_by_role("region", name=words("bag.acts"))).to_be_visible()
    link = hands.handle("act.bag_contaminated")
    if not link.first.is_visible():
        hands.page.get_by_text(words("bag.other_acts")).click()
    link.first.click()
    hands.choose(words("choice.sign.green_mould"))
    hands.choose(words("choice.where.top"))
    hands.choose(words("choice.kept.kept_apart"))
    hands.said("bad.saved")


def harvest(hands: Hands, camera: Camera, picked: dict[str, int]) -> None:
    """Scan, weigh, save; the next bag without going back."""
    hands.phone.go("")
    hands.touch_choice("home.harvest")
    for bag, grams in picked.items():
        hands.hold_up(bag)
        expect(hands.page.get_by_label(words("harvest.weight"))).to_be_visible()
        # The bag goes on the scale: after saving, the camera opens again and sees no label.
        camera.show([])
        hands.weigh(str(grams))
        hands.said("harvest.saved")


def expected(lot: str, shelf: str, bags: list[str]) -> list[tuple[str, str, str]]:
    """The records of the round as (kind, subject, the datum that matters)."""
    return [
        *(("bag.inoculated", bag, lot) for bag in bags),
        *(("bag.moved", bag, shelf) for bag in bags),
        ("bag.contaminated", bags[2], "green_mould"),
        *(("bag.harvested", bags[i], str(grams)) for i, grams in PICKED.items()),
    ]


def what(record: dict[str, Any]) -> tuple[str, str, str]:
    datum = {"bag.inoculated": "spawn", "bag.moved": "to", "bag.contaminated": "sign",
             "bag.harvested": "g"}[record["ty"]]  # fmt: skip
    assert len(record["sub"]) == 1
    return record["ty"], record["sub"][0], str(record["d"][datum])


def yields(hands: Hands, batch: str) -> None:
    """The batch's page says what was picked, and its efficiency on the dry mass of its bags."""
    page = hands.batch_page(batch)
    grams = sum(PICKED.values())
    efficiency = 100 * grams / (BAGS * FILL_G * DRY_SHARE / 100)
    expect(page.locator(".figures")).to_contain_text(f"{grams} g")
    expect(page.locator(".figures")).to_contain_text(f"{efficiency:.1f}")
