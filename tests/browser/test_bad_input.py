"""What people do wrong: each slip gets a sentence that says what is wrong and what to do."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Playwright, expect

from bagtrail import ids

from .harness import ApiDevice, FarmServer
from .harness_browser import Phone
from .harness_camera import Camera
from .harness_farm import Hands
from .harness_words import saying, within, words
from .helpers.camera_feed import label_picture

pytestmark = pytest.mark.browser


@dataclass
class Bench:
    """One farm and one phone for all slips; five bags, one of them dumped, one shelf, one lot."""

    hands: Hands
    api: ApiDevice
    server: FarmServer
    camera: Camera
    batch: str
    bags: list[str]
    dumped: str
    shelf: str
    lot: str

    def records(self, kind: str, code: str) -> list[dict[str, object]]:
        """What the log holds of a kind about a code, as soon as it holds any."""
        until = time.monotonic() + 20
        while True:
            self.hands.phone.all_sent()
            found = [r["d"] for r in self.server.log() if r["ty"] == kind and r["sub"] == [code]]
            if found or time.monotonic() > until:
                return found

    def written(self, kind: str, code: str) -> list[dict[str, object]]:
        """What this phone has ever written of a kind about a code, sent or not."""
        texts = map(json.loads, self.hands.phone.outbox())
        return [r["d"] for r in texts if r["ty"] == kind and r["sub"] == [code]]


@pytest.fixture(scope="module")
def bench(
    playwright: Playwright, client: None, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Bench]:
    folder = tmp_path_factory.mktemp("slips")
    server = FarmServer(folder / "farm").start()
    camera = Camera(folder)
    phone = Phone(playwright, folder / "phone", server.url, feed=camera.feed).start()
    try:
        phone.pair(server.pair_code())
        api = server.device()
        batch, shelf, lot = (ids.new_code(letter) for letter in "MPS")
        *bags, dumped = (ids.new_code("B") for _ in range(5))
        told = [
            api.write("place.named", [shelf], name="Shelf 3", type="shelf"),
            api.write("batch.mixed", [batch], name="25 Nov A1", moisture=6_000),
            api.write("bag.filled", [batch], n=5, fill_g=2_400, to=[*bags, dumped], first="A1"),
            api.write("bag.finished", [dumped], cause="dumped"),
        ]
        assert told == ["ok"] * 4
        hands = Hands(phone, folder, camera)
        yield Bench(hands, api, server, camera, batch, bags, dumped, shelf, lot)
        assert phone.troubles == []
    finally:
        phone.stop()
        server.stop()


@pytest.fixture
def hands(bench: Bench) -> Hands:
    """The person at the start page, with everything pulled and nothing before the camera."""
    bench.camera.show([])
    bench.hands.phone.open()
    bench.hands.page.reload()  # opened at the same address it would only go on
    bench.hands.phone.up()
    bench.hands.phone.go("")  # the page of the test before may still have been on its way
    expect(bench.hands.page.get_by_text(words("home.standing"))).to_be_visible()
    return bench.hands


def other_symbol(code: str, at: int) -> str:
    """Return the code with one symbol wrong."""
    wrong = next(s for s in ids.ALPHABET if s != code[at])
    return code[:at] + wrong + code[at + 1 :]


# --- Codes ----------------------------------------------------------------------------------------


def test_a_mistyped_code_is_told_by_the_symbol_that_may_be_wrong(
    bench: Bench, hands: Hands
) -> None:
    bag = bench.bags[0]
    hands.phone.go("scan")
    hands.type_code(other_symbol(bag, 4))
    note = hands.page.get_by_role("alert").filter(has_text=within("scan.read.mistyped_symbol"))
    expect(note).to_contain_text("5")
    expect(note.locator("mark")).to_have_text(bag[4])
    note.get_by_role("button").click()
    hands.page.wait_for_url(re.compile(rf"#/bag/{bag}$"))


def test_a_code_one_symbol_short_says_so(hands: Hands, bench: Bench) -> None:
    hands.phone.go("scan")
    hands.type_code(bench.bags[0][:-1])
    expect(hands.page.get_by_role("alert")).to_have_text(within("scan.read.too_short"))


def test_another_farms_label_is_told_and_opens_nothing(bench: Bench, hands: Hands) -> None:
    tag = "ZZZZ" if bench.api.tag != "ZZZZ" else "YYYY"
    bench.camera.show([label_picture(f"{tag}.{ids.new_code('B')}")])
    hands.touch("home.scan")
    hands.said("scan.read.other_farm")
    expect(hands.page.locator(".toast")).to_contain_text(tag)
    assert hands.page.url.endswith("#/scan")


def test_a_code_never_issued_says_what_to_do(hands: Hands) -> None:
    hands.phone.go("scan")
    code = ids.new_code("B")
    hands.type_code(code)
    alert = hands.page.get_by_role("alert")
    expect(alert).to_contain_text(words("unknown.todo"))
    expect(hands.handle("unknown.again")).to_be_visible()


def test_a_tag_of_the_wrong_type_is_told(bench: Bench, hands: Hands) -> None:
    hands.phone.go("roll/" + bench.shelf)
    hands.type_code(bench.bags[0])
    expect(
        hands.page.get_by_role("alert").filter(has_text=within("scan.wrong_type"))
    ).to_be_visible()
    assert bench.written("place.moved", bench.shelf) == []
    hands.phone.go("harvest")
    bench.camera.show([label_picture(f"{bench.api.tag}.{bench.shelf}")])
    hands.handle("scan.close").click()
    hands.handle("scan.open").click()
    hands.said("harvest.empty_place")


def test_a_blank_label_brings_a_hint_and_the_way_by_hand(bench: Bench, hands: Hands) -> None:
    picture = label_picture(f"{bench.api.tag}.{bench.bags[0]}")
    picture.paste(255, (0, 0, 120, 240))  # torn off: two of the three finder patterns are gone
    bench.camera.show([picture])
    hands.touch("home.scan")
    expect(hands.page.get_by_text(words("scan.hint.nothing"))).to_be_visible()
    hands.type_code(bench.bags[0])
    hands.page.wait_for_url(re.compile(rf"#/bag/{bench.bags[0]}$"))


# --- Harvest --------------------------------------------------------------------------------------


def weight_box(hands: Hands, bag: str) -> None:
    hands.phone.go(f"harvest/{bag}")
    expect(hands.page.get_by_label(words("harvest.weight"))).to_be_visible()


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("0", "weight.wrong.zero"),
        ("-5", "weight.wrong.negative"),
        ("twelve", "weight.wrong.not_number"),
    ],
)
def test_a_weight_that_is_none_is_not_saved(
    bench: Bench, hands: Hands, typed: str, message: str
) -> None:
    bag = bench.bags[0]
    weight_box(hands, bag)
    hands.page.get_by_label(words("harvest.weight")).fill(typed)
    hands.touch("harvest.save_bare")
    alert = hands.page.get_by_role("alert").filter(has_text=within(message))
    expect(alert).to_contain_text(within(f"{message}.todo"))
    assert bench.written("bag.harvested", bag) == []


def test_an_absurd_weight_is_asked_about_and_kept_if_meant(bench: Bench, hands: Hands) -> None:
    bag = bench.bags[1]
    weight_box(hands, bag)
    hands.page.get_by_label(words("harvest.weight")).fill("41200")
    hands.touch("harvest.save")
    expect(hands.page.get_by_role("alert")).to_have_text(within("harvest.absurd"))
    assert bench.written("bag.harvested", bag) == []
    hands.touch("harvest.save_anyway")
    hands.said("harvest.saved")
    assert [d["g"] for d in bench.records("bag.harvested", bag)] == [41_200]


def test_one_comma_five_is_asked_about(bench: Bench, hands: Hands) -> None:
    bag = bench.bags[2]
    weight_box(hands, bag)
    hands.page.get_by_label(words("harvest.weight")).fill("1,5")
    ask = hands.page.get_by_role("alert").filter(has_text=within("weight.ask"))
    ask.get_by_role("button", name=re.compile(r"1[.]5")).click()
    hands.touch("harvest.save")
    hands.said("harvest.saved")
    assert [d["g"] for d in bench.records("bag.harvested", bag)] == [1_500]


def test_a_weight_with_its_unit_is_understood(bench: Bench, hands: Hands) -> None:
    bag = bench.bags[3]
    weight_box(hands, bag)
    hands.page.get_by_label(words("harvest.weight")).fill("1.5 kg")
    hands.touch("harvest.save")
    hands.said("harvest.saved")
    assert [d["g"] for d in bench.records("bag.harvested", bag)] == [1_500]


def test_a_harvest_of_a_dumped_bag_is_asked_about(bench: Bench, hands: Hands) -> None:
    weight_box(hands, bench.dumped)
    hands.page.get_by_label(words("harvest.weight")).fill("300")
    hands.touch("harvest.save")
    expect(hands.page.get_by_role("alert")).to_have_text(within("harvest.ended"))
    hands.touch("harvest.save_anyway")
    hands.said("harvest.saved")
    assert [d["g"] for d in bench.records("bag.harvested", bench.dumped)] == [300]
    assert bench.server.held() == []


def test_the_same_bag_twice_in_three_seconds_is_asked_and_not_dropped(
    bench: Bench, hands: Hands
) -> None:
    bag = bench.bags[0]
    hands.phone.go("harvest")
    expect(hands.handle("scan.close")).to_be_visible()
    hands.wedge(f"{bench.api.tag}.{bag}")
    hands.weigh("210")
    # At once: the scan may come while the first weight is still being saved.
    hands.wedge(f"{bench.api.tag}.{bag}")
    expect(hands.page.get_by_role("alert")).to_have_text(within("harvest.twice"))
    hands.touch("harvest.twice.more")
    hands.weigh("95")
    hands.said("harvest.saved")
    assert [d["g"] for d in bench.records("bag.harvested", bag)] == [210, 95]


def test_a_bag_just_looked_at_is_no_second_weighing(bench: Bench, hands: Hands) -> None:
    bag = bench.bags[1]
    hands.wedge(f"{bench.api.tag}.{bag}")
    hands.page.wait_for_url(re.compile(rf"#/bag/{bag}$"))
    hands.phone.go("harvest")
    expect(hands.handle("scan.close")).to_be_visible()
    hands.wedge(f"{bench.api.tag}.{bag}")
    expect(hands.page.get_by_label(words("harvest.weight"))).to_be_visible()


# --- Texts ----------------------------------------------------------------------------------------


def name_strain(hands: Hands, name: str) -> None:
    hands.phone.go("setup/strains/new")
    hands.fill("name", name)
    hands.touch("setup.save")


@pytest.mark.parametrize(
    ("name", "message"),
    [("x" * 61, "field.too_long"), ("Fen\x004", "field.unfit")],
    ids=["too long", "NUL"],
)
def test_an_unfit_name_is_told_at_its_field(
    bench: Bench, hands: Hands, name: str, message: str
) -> None:
    name_strain(hands, name)
    box = hands.page.locator('[data-field="name"]')
    expect(box.get_by_role("alert")).to_have_text(within(message))
    expect(box.get_by_role("textbox")).to_be_focused()
    assert name not in [r["d"].get("name") for r in bench.server.log()]


@pytest.mark.parametrize(
    "name", ["Fen 🍄 4", "شيتاكي ٤", "a\u202eb\u202c 4"], ids=["emoji", "right to left", "override"]
)
def test_a_strange_name_is_kept_as_it_was_typed(bench: Bench, hands: Hands, name: str) -> None:
    name_strain(hands, name)
    hands.said("setup.saved")
    hands.page.wait_for_url(re.compile("^(?!.*/strains/new)"))
    hands.phone.go("setup/strains")
    expect(hands.page.get_by_role("link", name=name)).to_be_visible()
    hands.phone.all_sent()
    assert name in [r["d"].get("name") for r in bench.server.log()]


# --- The camera, and a record from the future -----------------------------------------------------


def test_a_forbidden_camera_leaves_the_way_by_hand(
    bench: Bench, playwright: Playwright, tmp_path: Path
) -> None:
    phone = Phone(playwright, tmp_path, bench.server.url, feed=bench.camera.feed, denied=True)
    phone.start()
    try:
        phone.pair(bench.server.pair_code("worker"), "No camera")
        hands = Hands(phone, tmp_path)
        hands.touch("home.scan")
        expect(hands.page.get_by_text(words("scan.camera.denied"))).to_be_visible()
        hands.type_code(bench.bags[0])
        hands.heading(re.compile("A1"))
    finally:
        phone.stop()


def test_a_record_of_a_kind_from_the_future_is_held_and_shown(bench: Bench, hands: Hands) -> None:
    assert bench.api.write("bag.sung_to", [bench.bags[0]], song="low") == "held"
    hands.page.reload()  # asks at once instead of in a while
    hands.phone.go("answers")
    expect(hands.page.get_by_text(saying("held.kind.todo")).or_(
        hands.page.get_by_text(within("kind.unknown"))).first).to_be_visible()  # fmt: skip
    assert any(r["ty"] == "bag.sung_to" for r in bench.server.log())
