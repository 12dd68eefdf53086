"""Labels on screen: blank rolls stuck on offline, prints again, paper, layout, tags."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from .conftest import NewHands
from .harness import FarmServer
from .harness_farm import Hands
from .harness_words import saying, within, words

pytestmark = pytest.mark.browser

BAGS = 20


def filled_later(hands: Hands) -> str:
    """A batch of bags without labels; returns its code."""
    hands.phone.go("")
    hands.touch_choice("home.batch")
    hands.touch("batch.to_filling")
    hands.fill("n", str(BAGS))
    hands.choose(words("labelling.later"))
    hands.touch("fill.save")
    expect(hands.handle("fill.blank")).to_be_visible()
    link = hands.handle("fill.to_batch").get_attribute("href")
    assert link
    return link[-9:]


def blank_roll(hands: Hands, n: int) -> list[str]:
    """Blank labels as they come off the printer."""
    hands.phone.go("labels/blank")
    hands.page.get_by_role("textbox").fill(str(n))
    hands.touch("label.make")
    return hands.print_here("roll-50x30")


def stick(hands: Hands, codes: list[str]) -> None:
    """Scan labels one after the other in the round that is open."""
    for code in codes:
        expect(hands.page.locator(".round-say")).to_be_visible()
        count = hands.page.locator(".round-count b")
        before = int(count.inner_text())
        hands.wedge(code)
        expect(count).to_have_text(str(before + 1))
        said = hands.page.locator(".round-told").first
        expect(said).to_have_attribute("data-outcome", "taken")


def test_two_phones_stick_one_blank_label_offline_and_nothing_is_lost(
    server: FarmServer, new_hands: NewHands
) -> None:
    first = new_hands("first")
    second = new_hands("second")
    batch = filled_later(first)
    roll = blank_roll(first, 5)
    first.phone.all_sent()
    printed = [r for r in server.log() if r["ty"] == "label.printed"]
    assert [(r["sub"], r["d"]["job"], sorted(r["d"]["codes"])) for r in printed] == [
        ([], "blank", sorted(roll))
    ]
    # The second phone knows the batch before the line is cut.
    second.phone.go(f"batch/{batch}")
    expect(second.page.locator(".figure").first).to_contain_text(str(BAGS))
    both, *others = roll
    for hands in (first, second):
        hands.phone.shell_ready()
        hands.phone.go(f"round/adopt/{batch}")
        expect(hands.page.locator(".round-told")).to_have_attribute("data-outcome", "set")
    server.kill()

    stick(first, [both, *others[:2]])
    stick(second, [both, *others[2:]])
    server.start()
    first.phone.all_sent(60_000)
    second.phone.all_sent(60_000)

    splits = [r for r in server.log() if r["ty"] == "group.split"]
    assert sorted(r["d"]["to"][0] for r in splits) == sorted([both, both, *others])
    # Counted up on each phone by itself, with the letter of the phone.
    for device in {r["dev"] for r in splits}:
        numbers = [r["d"]["first"] for r in splits if r["dev"] == device]
        assert [int(n.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")) for n in numbers] == [1, 2, 3]
    assert len({r["d"]["first"] for r in splits}) == 6
    answer = server.device().get(f"answers/batch/{batch}")
    assert answer["sums"]["bags"] == answer["sums"]["live"] == BAGS
    assert {c for c in answer["parts"] if c.startswith("B")} == set(roll)
    # The bag that came second keeps its life, without a label, until a person says what it is.
    one_bag = [c for c, p in answer["parts"].items() if c.startswith("g-") and p["n"] == 1]
    assert len(one_bag) == 1
    (question,) = answer["questions"]
    assert question["rule"] == "label_twice"
    assert both in question["sub"]
    first.phone.go("answers")
    expect(first.handle("answer.label_twice.one_bag")).to_be_visible()


def test_what_was_printed_is_printed_again(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands()
    _name, codes = hands.mix_and_fill(6, 2_400, "60")
    link = hands.handle("fill.to_batch").get_attribute("href")
    assert link
    hands.phone.all_sent()

    hands.phone.go(f"print/{link[-9:]}")
    hands.page.locator("summary", has_text=saying("label_set.range")).click()
    hands.page.get_by_label(words("label_set.range.from")).fill("A2")
    hands.page.get_by_label(words("label_set.range.to")).fill("A4")
    expect(hands.page.get_by_role("heading", name=re.compile("^3 "))).to_be_visible()
    some = hands.print_here("roll-50x30")
    assert len(some) == 3
    assert set(some) < set(codes)

    hands.phone.go("labels/prints")
    hands.touch("label_set.prints.last")
    assert sorted(hands.print_here("roll-50x30")) == sorted(some)
    hands.phone.all_sent()
    printed = [r for r in server.log() if r["ty"] == "label.printed"]
    assert [(r["d"]["job"], len(r["sub"])) for r in printed] == [
        ("first", 6), ("again", 3), ("again", 3),
    ]  # fmt: skip
    # Nothing but the record: the same bags under the same codes.
    parts = server.device().get(f"answers/batch/{link[-9:]}")["parts"]
    assert sorted(parts) == sorted(codes)
    # Paper does not come back: an undo takes the filling back, not the print.
    hands.phone.go("records")
    hands.touch("records.undo_last")
    hands.said("undo.done")
    hands.phone.all_sent()
    voided = {r["d"]["target"] for r in server.log() if r["ty"] == "record.voided"}
    assert voided == {r["id"] for r in server.log() if r["ty"] in ("batch.mixed", "bag.filled")}


def test_paper_advice_layout_and_the_next_free_cell(
    server: FarmServer, new_hands: NewHands
) -> None:
    hands = new_hands()
    page = hands.page
    hands.phone.go("labels/stock")
    hands.choose(words("choice.method.direct_thermal"))
    hands.choose(words("choice.material.paper"))
    expect(page.get_by_text(words("label_set.steam.fails"))).to_be_visible()
    expect(page.get_by_text(words("advice.thermal_blackens"))).to_be_visible()
    expect(page.get_by_text(words("advice.count_before_soak_and_pick"))).to_be_visible()
    hands.choose(words("choice.method.thermal_resin"))
    hands.choose(words("choice.material.polyester"))
    expect(page.get_by_text(words("label_set.steam.survives"))).to_be_visible()
    picture = page.get_by_role("img", name=words("label_set.picture"))
    expect(picture).to_be_visible()

    # A sheet whose labels reach past it is told in the picture's place, and can be mended.
    page.locator("summary", has_text=saying("label_set.own")).click()
    for name, value in {"page_width": "100", "page_height": "100", "columns": "2", "rows": "2",
                        "label_width": "60", "label_height": "48"}.items():  # fmt: skip
        page.get_by_label(words(f"label_set.own.{name}"), exact=True).fill(value)
    hands.touch("label_set.own.take")
    expect(page.get_by_role("alert")).to_contain_text("past the page")
    page.get_by_label(words("label_set.own.label_width"), exact=True).fill("50")
    hands.touch("label_set.own.take")
    expect(picture).to_be_visible()
    page.get_by_label(words("print.nudge_x")).fill("0.5")
    page.get_by_label(saying("print.start")).fill("3")
    hands.touch("label_set.stock.keep")
    hands.said("label_set.stock.saved")

    hands.phone.go("labels/layout")
    expect(picture).to_be_visible()
    first = picture.get_attribute("src")
    page.get_by_role("button", name=saying("label_set.layout.down")).first.click()
    expect(picture).not_to_have_attribute("src", first or "")
    hands.touch("label_set.layout.keep")
    hands.said("label_set.layout.saved")
    hands.phone.all_sent()
    chosen = [r["d"] for r in server.log() if r["ty"] == "label.chosen"]
    assert [set(d) for d in chosen] == [{"label_stock", "method", "material"}, {"layout_bag"}]
    assert chosen[1]["layout_bag"].startswith("number large bold, batch large bold")

    # One crate's tag in the last cell; the next print begins with a fresh sheet.
    hands.phone.go("labels/tags")
    hands.choose(words("type.K"))
    page.get_by_role("textbox").first.fill("1")
    hands.touch("label.make")
    summary = page.locator("summary", has_text=within("print.printer"))
    expect(summary).to_contain_text("4")
    hands.touch("print.make")
    expect(hands.handle("print.open")).to_be_visible()
    hands.phone.go("labels/tags")
    hands.choose(words("type.K"))
    page.get_by_role("textbox").first.fill("1")
    hands.touch("label.make")
    expect(summary).to_have_text(words("print.printer"))


def test_a_survival_test_is_kept(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands()
    hands.phone.go("labels/test")
    hands.choose(words("choice.method.thermal_resin"))
    hands.choose(words("choice.material.polypropylene"))
    for step in ("print", "sterilise", "scan"):
        hands.touch(f"field.label_tested.{step}")
    hands.touch("form.save")
    hands.said("label_set.test.saved")
    hands.phone.all_sent()
    (tested,) = [r["d"] for r in server.log() if r["ty"] == "label.tested"]
    assert {k for k, v in tested.items() if v is True} == {"print", "sterilise", "scan"}
    hands.phone.go("labels/test")
    expect(hands.page.get_by_text(within("label_set.test.failed"))).to_contain_text(
        words("field.label_tested.soak")
    )


def test_the_reason_why_nothing_is_printed_is_the_farms_computers_own(
    server: FarmServer, new_hands: NewHands
) -> None:
    """A nudge that moves labels off this paper: how far it may go, and nothing is recorded."""
    hands = new_hands()
    page = hands.page
    hands.phone.go("labels/blank")
    page.get_by_role("textbox").fill("3")
    hands.touch("label.make")
    hands.choose(words("stock.roll-50x30"))
    page.locator("summary", has_text=within("print.printer")).click()
    page.get_by_label(words("print.nudge_x")).fill("-15")
    hands.touch("print.make")
    told = page.get_by_role("alert")
    expect(told).to_contain_text("-15")
    expect(told).to_contain_text("off the page")
    expect(page.get_by_text(words("error.bad_label"))).to_have_count(0)
    page.get_by_label(words("print.nudge_x")).fill("0.5")
    expect(told).to_have_count(0)
    hands.touch("print.make")
    expect(hands.handle("print.open")).to_be_visible()
    hands.phone.all_sent()
    printed = [r for r in server.log() if r["ty"] == "label.printed"]
    assert [len(r["d"]["codes"]) for r in printed] == [3]


def test_labels_staples_and_ties_are_named_before_a_soak_and_a_pick(new_hands: NewHands) -> None:
    """Foreign bodies: said where the person stands, on the bag's own page and in a round."""
    hands = new_hands()
    page = hands.page
    _name, (bag, *_more) = hands.mix_and_fill(2, 2_400, "60")
    hands.phone.go(f"act/bag.soaked/{bag}")
    sentence = page.get_by_text(within("care.foreign_bodies"))
    expect(sentence).to_be_visible()
    # Wide enough to be read: a details inside a grid once was a column of single letters.
    box, note = sentence.bounding_box(), page.locator("details.note-care").bounding_box()
    assert box
    assert note
    assert box["width"] > 0.8 * note["width"]
    # Once in each place: its title says what to do, its sentence why.
    for way in ("round/soak", "round/pick", "harvest", f"harvest/{bag}"):
        hands.phone.go(way)
        title = page.get_by_text(words("care.foreign_bodies.title"))
        expect(title).to_be_visible()
        title.click()
        expect(page.get_by_text(within("care.foreign_bodies"))).to_be_visible()
