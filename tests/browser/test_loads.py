"""Steriliser loads by hand, with no network: filled by scan, closed, held at inoculation."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from playwright.sync_api import Locator, expect

from .conftest import NewHands
from .harness import FarmServer
from .harness_farm import Hands
from .harness_sync import sees_all
from .harness_words import saying, within, words

pytestmark = pytest.mark.browser


def state(hands: Hands) -> Locator:
    """The load's state as its page shows it: a shape and a word."""
    return hands.page.locator("main > p [data-state]")


def written(hands: Hands, kind: str) -> list[dict[str, Any]]:
    """The records of a kind that were written on this phone, oldest first."""
    return [r for r in map(json.loads, hands.phone.outbox()) if r["ty"] == kind]


def name_vessel(hands: Hands, name: str, way: str) -> None:
    """Enter a steriliser with its programme."""
    hands.phone.go("vessels/new")
    hands.fill("name", name)
    hands.choose(words(f"choice.way.{way}"))
    for field, text in (("holds", "5"), ("temp", "121"), ("hold_min", "90"), ("cool_min", "60")):
        hands.fill(field, text)
    hands.touch("setup.save")
    hands.said("setup.saved")
    hands.page.wait_for_url(re.compile("^(?!.*/vessels/new)"))


def fill_unlabelled(hands: Hands, bags: int) -> tuple[str, str]:
    """Mix and fill a batch whose bags get labels later or never; returns its name and code."""
    hands.phone.go("new-batch")
    name = hands.page.locator('[data-field="name"]').get_by_role("textbox").input_value()
    hands.fill("moisture", "60")
    hands.touch("batch.to_filling")
    hands.fill("n", str(bags))
    hands.choose(words("labelling.later"))
    hands.touch("fill.save")
    hands.heading(name)
    return name, written(hands, "bag.filled")[-1]["sub"][0]


def new_load(hands: Hands, vessel: str) -> str:
    """Begin a load in a vessel; returns its code."""
    hands.phone.go("loads")
    hands.touch("load.new")
    hands.page.wait_for_url(re.compile(r"#/load/H"))
    code = hands.page.url.rsplit("/", 1)[1]
    expect(hands.page.get_by_text(words("load.empty"))).to_be_visible()
    hands.choose(vessel)
    hands.said("load.vessel.saved")
    return code


def close(hands: Hands, result: str) -> None:
    """Put the heat on, then say how it went: one record."""
    hands.touch("load.begin")
    expect(state(hands)).to_have_attribute("data-state", "running")
    hands.choose(words(f"load.state.{result}"))
    hands.touch("load.close.save")
    expect(state(hands)).to_have_attribute("data-state", result)


def row_of(hands: Hands, batch: str) -> Locator:
    """A batch's row on the page of a load."""
    return hands.page.locator(f'a[data-batch="{batch}"]')


def test_a_load_from_the_vessel_to_the_clean_room_offline(
    server: FarmServer, new_hands: NewHands
) -> None:
    hands = new_hands()
    tag = server.device().tag
    name_vessel(hands, "Big pot", "pressure")
    hands.name_strain("Fen 4")
    lot = hands.receive_spawn("Fen 4")
    _, bags = hands.mix_and_fill(3, 2_400, "60")
    labelled = written(hands, "bag.filled")[-1]["sub"][0]
    other, loose = fill_unlabelled(hands, 6)
    _, later = hands.mix_and_fill(2, 2_400, "60")
    hands.phone.shell_ready()
    hands.phone.all_sent()
    server.kill()

    # The farm lies at 420 m: IF97 and the standard atmosphere ask for 108.7 kPa at 121 °C (205.04
    # kPa of steam less 96.38 kPa of air), where 103.7 kPa do at the sea.
    hands.phone.go("vessels")
    expect(hands.page.locator("summary", has_text="103.7 kPa")).to_be_visible()
    hands.page.get_by_role("textbox", name=words("field.farm_equipped.altitude_m")).fill("420")
    hands.touch("vessels.altitude.save")
    expect(hands.page.locator("summary", has_text="108.7 kPa (15.8 psi)")).to_be_visible()

    # Three labels and a whole batch go in; one bag too many for the pot is said, and taken back.
    failed = new_load(hands, "Big pot")
    for bag in bags:
        hands.wedge(f"{tag}.{bag}")
    expect(row_of(hands, labelled)).to_contain_text("3")
    hands.type_code(loose)
    expect(hands.page.get_by_role("alert").get_by_text(other)).to_be_visible()
    hands.touch("load.put_in")
    expect(row_of(hands, loose)).to_contain_text("6")
    expect(hands.page.get_by_text(within("load.too_many"))).to_contain_text("9")
    hands.page.locator("summary", has_text=saying("load.scans")).click()
    hands.page.get_by_role("button", name=saying("load.take_out")).last.click()
    hands.said("load.taken_out")
    expect(row_of(hands, labelled)).to_contain_text("2")
    hands.wedge(f"{tag}.{bags[0]}")
    expect(row_of(hands, labelled)).to_contain_text("3")
    close(hands, "failed")
    assert [r["sub"] for r in written(hands, "load.ran")] == [[failed]]

    # Two of the unlabelled bags burst, by count; a labelled one melted, by scan.
    hands.page.locator("summary", has_text=words("load.losses")).click()
    hands.choose(words("choice.cause.burst"))
    hands.page.get_by_role("textbox", name=within("load.losses.count")).fill("7")
    hands.touch("load.losses.save")
    expect(hands.page.get_by_text(within("load.losses.count_wrong"))).to_be_visible()
    hands.page.get_by_role("textbox", name=within("load.losses.count")).fill("2")
    hands.touch("load.losses.save")
    expect(row_of(hands, loose)).to_contain_text("2 burst")
    hands.choose(words("choice.cause.melted"))
    hands.wedge(f"{tag}.{bags[2]}")
    expect(row_of(hands, labelled)).to_contain_text("1 melted")
    assert [r["d"]["cause"] for r in written(hands, "bag.finished")] == ["burst", "melted"]

    # The failed load stops inoculation, of one bag and of the whole batch, until it is overridden.
    hands.phone.go(f"inoculate/{lot}")
    hands.wedge(f"{tag}.{bags[0]}")
    expect(hands.page.get_by_role("alert")).to_contain_text(words("act.failed_load"))
    hands.touch("inoculate.leave")
    hands.wedge(f"{tag}.{loose}")
    expect(hands.page.get_by_role("alert")).to_contain_text(words("act.failed_load"))
    assert written(hands, "bag.inoculated") == []
    hands.touch("inoculate.leave")
    hands.wedge(f"{tag}.{bags[0]}")
    hands.touch("inoculate.override")
    hands.said("inoculate.saved")
    assert [r["d"].get("override") for r in written(hands, "bag.inoculated")] == [True]

    # Nobody recorded the second load: amber, with a shape and a word, asked once and by a record.
    unsure = new_load(hands, "Big pot")
    for bag in later:
        hands.wedge(f"{tag}.{bag}")
    expect(hands.page.locator("a[data-batch]")).to_contain_text("2")
    close(hands, "unsure")
    expect(state(hands)).to_have_text(re.compile(words("load.state.unsure")))
    expect(state(hands).locator("svg")).to_be_visible()
    hands.phone.go(f"inoculate/{lot}")
    hands.wedge(f"{tag}.{later[0]}")
    expect(hands.page.locator('[data-ask="load"]')).to_be_visible()
    assert len(written(hands, "bag.inoculated")) == 1
    hands.touch("load.ask.go")
    hands.said("inoculate.saved")
    hands.wedge(f"{tag}.{later[1]}")
    expect(hands.page.get_by_text(within("inoculate.done"))).to_have_text(re.compile("^2 "))
    expect(hands.page.locator('[data-ask="load"]')).to_have_count(0)
    asked = [r["d"] for r in written(hands, "load.ran") if r["sub"] == [unsure]]
    assert [d.get("asked") for d in asked] == [None, True]

    # A dead battery changes nothing.
    hands.page.reload()
    hands.phone.go(f"load/{failed}")
    expect(row_of(hands, loose)).to_contain_text("2 burst")

    # The farm's computer and another phone say the same.
    server.start()
    hands.phone.all_sent()
    answer = server.device().get(f"answers/load/{failed}")
    sums = {b["code"]: [b[k] for k in ("n", "live", "burst", "melted")] for b in answer["batches"]}
    assert sums == {labelled: [3, 2, 0, 1], loose: [6, 4, 2, 0]}
    assert (answer["load"]["result"], answer["load"]["hold_min"]) == ("failed", 90)
    assert answer["load"]["altitude_m"] == 420
    assert server.device().get(f"answers/load/{unsure}")["load"]["asked"] is True
    part = server.device().get(f"answers/part/{bags[0]}")["part"]
    assert (part["gate"], part["load"]) == ("overridden", failed)

    second = new_hands("second")
    second.phone.go(f"load/{failed}")
    expect(state(second)).to_have_attribute("data-state", "failed")
    expect(row_of(second, loose)).to_contain_text("2 burst")
    expect(row_of(second, labelled)).to_contain_text("1 melted")
    second.phone.go(f"load/{unsure}")
    expect(state(second)).to_have_attribute("data-state", "unsure")
    expect(second.page.get_by_text(words("load.unsure"))).to_be_visible()
    expect(second.page.locator('[data-ask="load"]')).to_have_count(0)


def test_a_round_fills_a_load_that_another_phone_closes(
    server: FarmServer, new_hands: NewHands
) -> None:
    hands, second = new_hands(), new_hands("second")
    tag = server.device().tag
    hands.name_strain("Fen 4")
    lot = hands.receive_spawn("Fen 4")
    _, bags = hands.mix_and_fill(3, 2_400, "60")
    hands.phone.go("loads")
    hands.touch("load.new")
    hands.page.wait_for_url(re.compile(r"#/load/H"))
    load = hands.page.url.rsplit("/", 1)[1]
    hands.touch("load.round")
    hands.page.wait_for_url(re.compile(r"#/round$"))
    for bag in bags:
        hands.wedge(f"{tag}.{bag}")
    expect(hands.page.locator(".round-count b")).to_have_text("3")
    hands.phone.all_sent()

    # From a batch's own page: its bags into the load that is open, without a scan.
    other, loose = fill_unlabelled(hands, 6)
    hands.batch_page(other)
    expect(hands.page.get_by_text(saying("batch.no_load"))).to_be_visible()
    hands.touch("load.into")
    card = hands.page.get_by_role("region", name=saying("load.put_where"))
    card.get_by_role("button").last.click()
    hands.page.wait_for_url(re.compile(rf"#/load/{load}$"))
    expect(row_of(hands, loose)).to_contain_text("6")
    hands.batch_page(other)
    expect(hands.page.locator('[data-state="filling"]')).to_be_visible()
    hands.phone.go("round")

    # Each scan is known elsewhere before the round is over; the other phone tells the result.
    second.phone.go(f"load/{load}")
    expect(state(second)).to_have_attribute("data-state", "filling")
    close(second, "failed")
    second.phone.all_sent()

    # The round of inoculation stops at these bags and asks once.
    sees_all(hands.phone, server.log_texts())
    hands.touch("round.end")
    hands.page.wait_for_url(re.compile(r"#/round-end$"))
    hands.phone.go(f"round/inoculate/{lot}")
    hands.page.wait_for_url(re.compile(r"#/round$"))
    hands.heading(words("purpose.inoculate"))
    expect(hands.page.locator(".round-say")).to_be_visible()

    def failed_here() -> None:
        expect(hands.page.locator("main")).to_contain_text(re.compile("its steriliser load failed"))

    hands.wedge(f"{tag}.{bags[0]}")
    failed_here()
    assert written(hands, "bag.inoculated") == []
    hands.touch("round.ask.failed.yes")
    expect(hands.page.locator(".round-count b")).to_have_text("1")
    hands.wedge(f"{tag}.{bags[1]}")
    expect(hands.page.locator(".round-count b")).to_have_text("2")
    assert [r["d"].get("override") for r in written(hands, "bag.inoculated")] == [True, True]
