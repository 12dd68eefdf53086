"""Rounds, sweep and seek in real Chromium: printed labels before the camera, and a day by scanner
and command card in which no screen is touched."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import expect

from bagtrail.ids import check_symbol

from .conftest import NewHands
from .harness import FarmServer, wait_until
from .harness_camera import Camera
from .harness_farm import Hands
from .harness_words import within, words
from .helpers.camera_feed import Placed, label_picture, scene, write_feed

pytestmark = pytest.mark.browser

# Numbers of command tags as they are printed: cards hang for years, so they never change.
DONE, UNDO = 1, 2
DIGIT = 10
MOVE, LOOK, COLONISED, OPEN, SOAK, SHOCK, PICK, WEIGH, FINISH, BAD = (
    31, 34, 35, 36, 37, 38, 39, 40, 41, 42)  # fmt: skip
GREEN_MOULD, AT_SIDE, THROWN_OUT, TOP_CUT, SPENT, WHEN_OTHER = 100, 132, 151, 160, 170, 194
FLUSH_1 = 70
#: At one a second, a minute of them in the long run.
BAGS = 60 if os.environ.get("BAGTRAIL_LONG") else 32


def records(server: FarmServer, kind: str) -> list[dict[str, Any]]:
    return [r for r in server.log() if r["ty"] == kind]


def written(server: FarmServer, kind: str) -> None:
    """Wait until the log holds a kind; scans are written in order, so all before it are there."""
    wait_until(lambda: records(server, kind), f"{kind} is on the log", 60)


def wide(labels: Sequence[Image.Image], columns: int, rows: int) -> Image.Image:
    """A shelf of bags filling a frame of 1920 x 1080."""
    step_x, step_y = 1 / columns, 1 / rows
    placed = [
        Placed(label, (i % columns + 0.5) * step_x, (i // columns + 0.5) * step_y,
               int(1920 * step_x * 0.86), (-4.0, 3.0, 0.0)[i % 3])
        for i, label in enumerate(labels)
    ]  # fmt: skip
    return scene(*placed, size=(1920, 1080))


def finder(hands: Hands) -> None:
    """Open the camera of this screen anew: it reads its file at that moment."""
    expect(hands.page.locator(".finder")).to_be_visible()
    for message in ("scan.close", "scan.open"):
        handle = hands.handle(message)
        if not handle.first.is_visible():
            hands.page.locator("summary", has_text=words("round.more")).click()
        handle.first.click()


def by_hand(hands: Hands, code: str) -> None:
    """Type a code where a round offers it."""
    box = hands.page.get_by_label(words("code.type")).first
    if not box.is_visible():
        hands.page.locator("summary", has_text=words("code.or_type")).click()
    box.fill(code)
    box.press("Enter")


def count(hands: Hands) -> int:
    text: str = hands.page.locator(".round-count b").inner_text()
    return int(text)


def test_bags_at_one_a_second_and_a_shelf_swept(
    server: FarmServer, new_hands: NewHands, camera: Camera
) -> None:
    hands = new_hands(camera=camera)
    page = hands.page
    _, bags = hands.mix_and_fill(BAGS, 2_400, "60")
    hands.phone.all_sent()

    # A round: each label 0.8 s in view, 0.2 s until the next; the feed then begins again.
    size = (960, 540)
    frames: list[tuple[Image.Image, float]] = []
    for i, bag in enumerate(bags):
        placed = Placed(hands.labels[bag], width=430, degrees=(-3.0, 2.0, 4.0, -1.0)[i % 4])
        frames += [(scene(placed, size=size), 0.8), (scene(size=size), 0.2)]
    write_feed(camera.feed, frames, fps=5)
    hands.phone.go("round/look")
    expect(page.locator('.finder[data-state="live"]')).to_be_visible()
    expect(page.locator(".round-count b")).to_have_text(str(BAGS), timeout=200_000)
    # The first ones come by again: told so, and not written once more.
    expect(page.locator('.round-told[data-outcome="before"]')).to_be_visible()
    hands.phone.all_sent()
    looked = [bag for r in records(server, "bag.checked") for bag in r["sub"]]
    assert sorted(looked) == sorted(bags)

    # A sweep over 24 of them, panned in two pictures of twelve; 22 stand there, two are strays.
    shelf = hands.name_place("Shelf A3", "shelf")
    observer = server.device()
    assert observer.write("bag.moved", [*bags[:22], bags[30]], to=shelf) == "ok"
    shown = bags[:24]
    write_feed(
        camera.feed,
        [(wide([hands.labels[b] for b in half], 4, 3), 1.0) for half in (shown[:12], shown[12:])],
        fps=5,
    )
    page.reload()
    hands.phone.up()
    hands.phone.go(f"sweep/{shelf}")
    expect(page.locator('[data-sum="found"] b')).to_have_text("22")
    expect(page.locator('[data-sum="stray"] b')).to_have_text("2")
    expect(page.locator('[data-sum="missing"] b')).to_have_text("1")
    assert count(hands) == 24
    hands.touch("sweep.settle")
    written(server, "note.written")
    hands.phone.all_sent()
    moved = records(server, "bag.moved")[-1]
    assert (sorted(moved["sub"]), moved["d"]["to"]) == (sorted(bags[22:24]), shelf)
    assert sorted(records(server, "bag.checked")[-1]["sub"]) == sorted(bags[:22])
    assert records(server, "note.written")[-1]["sub"] == [bags[30]]

    # Seek: the wanted one hangs at the right of the second picture, in its middle row.
    hands.phone.go(f"seek/{shown[19]}")
    expect(page.locator(".round-told")).to_have_attribute("data-where", re.compile("right"))
    hands.phone.go(f"seek/{bags[31]}")
    page.wait_for_timeout(2_500)  # both pictures came by
    expect(page.locator(".round-told")).to_have_attribute("data-where", "")
    camera.feed.unlink()


def test_what_the_camera_cannot_take_is_told(
    server: FarmServer, new_hands: NewHands, camera: Camera
) -> None:
    hands = new_hands(camera=camera)
    page = hands.page
    _, bags = hands.mix_and_fill(3, 2_400, "60")
    tag = server.device().tag
    label = hands.labels[bags[0]]
    half = label.crop((0, 0, label.width // 6, label.height))
    glare = label.copy()
    glare.paste(255, (0, 0, label.width // 2, label.height))
    dark = scene(label).point(lambda grey: grey // 12)
    hands.phone.go("round/look")
    # None of it is taken for a label, and each is told for what it is.
    for picture, hints in (
        (scene(label, blur=9.0), ("blur", "part")), (scene(half), ("part",)),
        (scene(glare), ("part", "glare")), (dark, ("dark",)),
    ):  # fmt: skip
        write_feed(camera.feed, [(picture, 1.0)], fps=5)
        finder(hands)
        expect(page.locator('.finder[data-state="live"]')).to_be_visible()
        told = re.compile("|".join(re.escape(words(f"scan.hint.{hint}")) for hint in hints))
        expect(page.locator(".scan-said")).to_contain_text(told)
        assert count(hands) == 0
    expect(page.locator(".round-told")).to_contain_text(words("round.word.ready"))

    other = "0000" if tag != "0000" else "1111"
    foreign, strange = label_picture(f"{other}.{bags[1]}"), label_picture("HELLO THERE")
    for picture, reason in ((foreign, "other_farm"), (strange, "not_ours")):
        write_feed(camera.feed, [(scene(Placed(picture, width=560)), 1.0)], fps=5)
        finder(hands)
        told = page.locator('.round-told[data-outcome="misfit"]')
        expect(told).to_contain_text(within(f"round.misfit.{reason}"))
    # Two farms' labels in one picture: the one in the ring is ours and is taken.
    both = scene(Placed(hands.labels[bags[2]], 0.63, 0.5, 520), Placed(foreign, 0.17, 0.5, 380))
    write_feed(camera.feed, [(both, 1.0)], fps=5)
    finder(hands)
    expect(page.locator(".round-count b")).to_have_text("1")
    # And by hand goes on.
    by_hand(hands, bags[0])
    expect(page.locator(".round-count b")).to_have_text("2")
    hands.phone.all_sent()
    assert {b for r in records(server, "bag.checked") for b in r["sub"]} == {bags[0], bags[2]}


@pytest.mark.parametrize("denied", [True, False], ids=["denied", "no camera"])
def test_without_a_camera_a_round_goes_on_by_hand(
    server: FarmServer, new_hands: NewHands, camera: Camera, denied: bool
) -> None:
    hands = new_hands(camera=camera if denied else None, denied=denied)
    _, bags = hands.mix_and_fill(1, 2_400, "60")
    hands.phone.go("round/look")
    said = hands.page.locator(".scan-said")
    expect(said).to_contain_text(words("scan.camera.denied" if denied else "scan.camera.none"))
    by_hand(hands, bags[0])
    expect(hands.page.locator(".round-count b")).to_have_text("1")


class Gloves:
    """A hand scanner, and the card on the wall; the screen is only looked at.

    One scan follows the other with no pause at all: what one leads to, the next one finds.
    """

    def __init__(self, hands: Hands, tag: str) -> None:
        self.hands, self.tag = hands, tag

    def card(self, *numbers: int) -> None:
        for number in numbers:
            body = f"X{number:07d}"
            self.scan(body + check_symbol(body))

    def scan(self, *codes: str) -> None:
        for code in codes:
            self.hands.wedge(f"{self.tag}.{code}")

    def grams(self, figure: str) -> None:
        self.card(*(DIGIT + int(digit) for digit in figure))

    def told(self, outcome: str) -> None:
        told = self.hands.page.locator(".round-told")
        expect(told).to_have_attribute("data-outcome", outcome)


def test_a_day_by_scanner_and_command_card_alone(
    server: FarmServer, new_hands: NewHands, tmp_path: Path
) -> None:
    hands = new_hands(size=(1280, 800))
    shelf = hands.name_place("Shelf B1", "shelf")
    hands.name_strain("Fen 4")
    spawn = hands.receive_spawn("Fen 4")
    _, bags = hands.mix_and_fill(8, 2_400, "60")
    hands.phone.all_sent()
    hands.phone.go("")
    gloves = Gloves(hands, server.device().tag)

    gloves.card(30)  # inoculate
    hands.heading(words("purpose.inoculate"))
    gloves.scan(spawn, *bags[:4])
    gloves.told("taken")
    expect(hands.page.locator(".round-count b")).to_have_text("4")
    # The battery dies in the middle of the round; the count is there again, and it goes on.
    hands.phone.kill()
    hands.phone.start()
    hands.phone.open("round")
    expect(hands.page.locator(".round-count b")).to_have_text("4")
    hands.page.reload()
    expect(hands.page.locator(".round-count b")).to_have_text("4")
    gloves.scan(bags[0])
    gloves.told("before")
    gloves.scan(*bags[4:])
    expect(hands.page.locator(".round-count b")).to_have_text("8")
    gloves.card(UNDO)
    expect(hands.page.locator(".round-count b")).to_have_text("7")
    gloves.scan(bags[7])

    gloves.card(MOVE)
    gloves.scan(shelf, *bags)
    gloves.card(LOOK)
    gloves.scan(*bags[:2])
    gloves.card(COLONISED)
    gloves.scan(*bags)
    gloves.card(SHOCK)
    gloves.scan(bags[0])
    gloves.card(OPEN, TOP_CUT)
    gloves.scan(*bags[:3])
    gloves.card(SOAK)
    gloves.scan(bags[0])
    gloves.card(WEIGH, WHEN_OTHER)
    gloves.scan(bags[1])
    gloves.grams("2310")
    gloves.card(DONE)
    gloves.card(PICK, FLUSH_1)
    gloves.scan(bags[0])
    gloves.grams("420")
    gloves.scan(bags[1])
    gloves.grams("385")
    gloves.card(DONE)
    gloves.card(BAD, GREEN_MOULD, AT_SIDE, THROWN_OUT)
    gloves.scan(bags[3])
    gloves.card(FINISH, SPENT)
    gloves.scan(bags[2])
    gloves.card(DONE)
    written(server, "bag.finished")
    hands.phone.all_sent()

    def about(kind: str) -> list[str]:
        void = {r["d"]["target"] for r in records(server, "record.voided")}
        return sorted(b for r in records(server, kind) if r["id"] not in void for b in r["sub"])

    assert about("bag.inoculated") == sorted(bags)
    assert about("bag.moved") == sorted(bags)
    assert about("bag.checked") == sorted(bags[:2])
    assert about("bag.colonised") == sorted(bags)
    assert about("bag.shocked") == about("bag.soaked") == [bags[0]]
    assert about("bag.opened") == sorted(bags[:3])
    assert [r["d"]["g"] for r in records(server, "bag.weighed")] == [2310]
    picked = [(r["sub"], r["d"]["g"], r["d"]["flush"]) for r in records(server, "bag.harvested")]
    assert picked == [([bags[0]], 420, 1), ([bags[1]], 385, 1)]
    (bad,) = records(server, "bag.contaminated")
    assert (bad["sub"], bad["d"]["sign"], bad["d"]["where"], bad["d"]["kept"]) == (
        [bags[3]], "green_mould", "side", "thrown_out")  # fmt: skip
    (ended,) = records(server, "bag.finished")
    assert (ended["sub"], ended["d"]["cause"]) == ([bags[2]], "spent")
