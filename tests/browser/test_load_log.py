"""A load from a logger's file with three kinds of fault, and by hand with no network."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect

from .conftest import NewHands
from .harness import ROOT, FarmServer
from .harness_farm import Hands
from .harness_words import saying, words

pytestmark = pytest.mark.browser

LOGS = ROOT / "fixtures/logs"
FAULTS = LOGS / "three-faults.csv"
# What tests/server/test_load_logs.py finds by one-second steps over the same rows.
# The nine minutes of the gap lie at 121.1 °C: about 9.0 more.
F0, F0_BRIDGED = "50.42", "59.42"


def a_load(hands: Hands) -> tuple[str, str]:
    """Fill four bags and put their batch into a new load; returns its code, the batch's name."""
    name, _ = hands.mix_and_fill(4, 2_000, "60")
    batch = hands.batch_page(name).url.rpartition("/")[2]
    hands.phone.go("loads")
    hands.touch("load.new")
    hands.page.wait_for_url(re.compile(r"#/load/H"))
    code = hands.page.url.rpartition("/")[2]
    hands.type_code(batch)
    hands.touch("load.put_in")
    hands.said("load.put")
    return code, name


def choose_file(page: Page, file: Path | dict[str, Any]) -> None:
    page.locator('input[type="file"]').set_input_files(file)  # type: ignore[arg-type]


def finding(page: Page, code: str) -> Locator:
    return page.locator(f'[data-faults] [data-finding="{code}"]')


def load_logged(server: FarmServer) -> list[dict[str, Any]]:
    return [r["d"] for r in map(json.loads, server.log_texts()) if r["ty"] == "load.logged"]


def test_a_log_with_three_kinds_of_fault(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands()
    page = hands.page
    code, batch = a_load(hands)
    hands.phone.go(f"load-log/{code}")
    hands.heading(words("load_log.title"))

    # What is no log is said, and nothing is lost by it.
    choose_file(page, {"name": "a.csv", "mimeType": "text/csv", "buffer": b""})
    expect(page.get_by_role("alert")).to_contain_text(words("unfit.empty"))
    choose_file(page, {"name": "b.csv", "mimeType": "text/csv", "buffer": b"\0\1\2" * 99})
    expect(page.get_by_role("alert")).to_contain_text(words("unfit.binary"))

    choose_file(page, FAULTS)
    expect(page.locator("[data-f0]")).to_have_text(f"F₀ {F0} min")
    expect(finding(page, "gap")).to_contain_text("07:40")
    expect(finding(page, "gap")).to_contain_text("9 min")
    expect(finding(page, "time_conflict")).to_be_visible()
    expect(finding(page, "reading_unread")).to_contain_text("Core 2")
    # The curve says the same to a reader, shows the gap, and is no picture only.
    curve = page.locator(".load-curve > svg")
    expect(curve).to_have_attribute("aria-label", re.compile(f"Core 2 .*F0 {F0} minutes. 1 gap"))
    expect(curve.locator("[data-gap]")).to_have_count(1)

    # A line is drawn over the gap only when a person says so, and can be taken away again.
    finding(page, "gap").get_by_role("button").click()
    expect(page.locator("[data-f0]")).to_contain_text(F0_BRIDGED)
    finding(page, "gap").get_by_role("button").click()
    expect(page.locator("[data-f0]")).to_have_text(f"F₀ {F0} min")

    # A column left out is left out of the coldest probe, too; then it is read again.
    page.locator("[data-layout] > summary").click()
    page.locator("[data-layout]").get_by_role(
        "combobox", name="Core 2 °C", exact=True
    ).select_option("")
    expect(page.locator("[data-f0]")).to_have_text("F₀ 61.46 min")
    page.locator("[data-layout] > summary").click()
    page.locator("[data-layout]").get_by_role(
        "combobox", name="Core 2 °C", exact=True
    ).select_option("C")
    expect(page.locator("[data-f0]")).to_have_text(f"F₀ {F0} min")

    hands.touch("load_log.keep")
    page.wait_for_url(re.compile(rf"#/load/{code}"))
    log = page.get_by_role("region", name=words("load.log"))
    expect(log).to_contain_text("50.42 min")
    expect(log).to_contain_text("Core 2 °C")
    hands.batch_page(batch)
    expect(page.locator(f'a[href="#/load/{code}"]').first).to_be_visible()

    hands.phone.all_sent()
    (kept,) = load_logged(server)
    sha = hashlib.sha256(FAULTS.read_bytes()).hexdigest()
    assert (kept["f0"], kept["ref"], kept["z"], kept["limit"]) == (5_042, 12_110, 1_000, 12_100)
    # The coldest probe came to 121.0 °C in minute 87; the gap cuts the hold after 12.
    assert (kept["arrived_min"], kept["held_min"], kept["uncounted_min"]) == (87, 12, 12)
    assert (kept["coldest"], kept["file"], kept["sha256"]) == ("Core 2 °C", FAULTS.name, sha)
    assert len(kept["curve"]) <= 120
    assert (server.data / "logs" / sha).read_bytes() == FAULTS.read_bytes()
    assert not server.held()


def test_columns_are_chosen_where_none_were_found(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands()
    page = hands.page
    hands.phone.go("load-log/H0000001D")
    choose_file(page, LOGS / "no-times.csv")
    expect(page.get_by_role("alert")).to_contain_text(words("unfit.no_time"))
    layout = page.locator("[data-layout]")
    expect(layout).to_contain_text("21.0")
    layout.get_by_role("combobox", name="Core", exact=True).select_option("C")
    expect(page.locator("[data-score]")).to_be_visible()
    page.locator("[data-layout] > summary").click()
    every = layout.get_by_label(words("load_log.every"))
    every.fill("120")
    every.blur()
    # Straight lines between its rows pass 121.0 °C at minute 75.6 and, falling, at 132.5.
    expect(page.locator("[data-held-for]")).to_have_text("56 min")


def test_a_table_by_hand_is_scored_with_no_network(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands()
    page = hands.page
    code, _ = a_load(hands)
    hands.phone.all_sent()
    server.kill()
    hands.phone.go(f"load-table/{code}")
    hands.heading(words("load_table.title"))

    def line(n: int, time: str, value: str, unit: str = "") -> None:
        row = page.get_by_role("group", name=saying("load_table.line")).nth(n)
        row.locator('input[type="time"]').fill(time)
        row.get_by_role("textbox").last.fill(value)
        if unit:
            row.get_by_role("combobox").select_option(unit)

    # 90 min at 121.0 °C, past midnight: 87.95 at reference 121.1 (trade page, O20).
    line(0, "23:15", "121.0")
    line(1, "00:45", "121,0")
    expect(page.locator("[data-f0]")).to_have_text("F₀ 87.95 min")
    expect(page.locator("[data-held-for]")).to_have_text("90 min")
    page.reload()  # a dead battery loses no line
    expect(page.locator("[data-f0]")).to_have_text("F₀ 87.95 min")
    # A gauge beside the thermometer: 15 psi is 120.95 °C at sea level; at 112 °C there is air.
    hands.touch("load_table.add")
    line(2, "00:50", "112")
    hands.touch("load_table.add")
    line(3, "00:50", "15", "psi")
    expect(finding(page, "air_in_chamber")).to_be_visible()
    expect(finding(page, "pressure_only")).to_be_visible()
    expect(page.locator("[data-here]")).to_contain_text("103.7 kPa")
    hands.touch("load_table.drop")
    hands.touch("load_table.drop")
    line(1, "00:45", "12x")
    expect(page.get_by_role("alert")).to_contain_text("12x")
    line(1, "00:45", "121.0")
    hands.touch("load_log.keep")
    page.wait_for_url(re.compile(rf"#/load/{code}"))
    expect(page.get_by_role("region", name=words("load.log"))).to_contain_text("87.95 min")

    server.start()
    hands.phone.all_sent()
    (kept,) = load_logged(server)
    assert (kept["f0"], kept["by_hand"], kept["held_min"], kept["readings"]) == (8_795, True, 90, 2)
    assert kept["curve"] == [{"min": 0, "temp": 12_100}, {"min": 90, "temp": 12_100}]


def test_steaming_is_called_what_it_is(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands()
    page = hands.page
    hands.phone.go("load-log/H0000001D")
    choose_file(page, LOGS / "steamed-twelve-hours.csv")
    expect(page.locator("[data-steamed]")).to_contain_text(words("load_log.steamed"))
    expect(page.locator("[data-f0]")).to_have_text("F₀ 3.55 min")
    # Nothing here says that it failed: F0 alone never does.
    expect(page.get_by_role("main")).not_to_contain_text(words("load.state.failed"))
