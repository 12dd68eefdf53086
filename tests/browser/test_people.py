"""People and devices: hidden for one person, a shared tablet's PIN, a lost phone, signing out."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from .harness_browser import DESK
from .harness_farm import Hands
from .harness_words import saying, words

pytestmark = pytest.mark.browser


def part(page: Page, name: str) -> Any:
    return page.locator(f"[data-part={name}]")


def set_pin(page: Page, person: str, pin: str) -> None:
    pins = part(page, "pins")
    pins.get_by_role("combobox").select_option(person)
    pins.locator("input[type=password]").fill(pin)
    pins.get_by_role("button", name=words("people.pin.keep")).click()


def enter(page: Page, name: str, pin: str) -> None:
    who = part(page, "who")
    who.get_by_role("radio", name=name).click()
    who.locator("input[type=password]").fill(pin)
    who.get_by_role("button", name=words("people.enter")).click()


def code_for_another(page: Page) -> str:
    page.get_by_role("button", name=words("settings.pair_make")).click()
    found = page.locator(".note-ok strong.code").inner_text()
    return re.sub(r"\s", "", found)


def second(new_phone: Any, tmp_path: Path, name: str, code: str) -> Hands:
    """A phone paired with the code that the desk shows."""
    phone = new_phone(name)
    phone.pair(code, name)
    return Hands(phone, tmp_path / name, None)


def test_one_person_then_a_tablet_shared_by_two(
    server: Any, new_hands: Any, new_phone: Any, tmp_path: Path
) -> None:
    desk = new_hands("desk", size=DESK)
    page = desk.page
    desk.phone.go("people")
    expect(part(page, "devices")).to_contain_text(words("people.own"))
    expect(part(page, "pins")).to_have_count(0)
    expect(part(page, "who")).to_have_count(0)

    # A worker's tablet makes a second person; roles and PINs come into sight.
    desk.phone.go("settings")
    code = code_for_another(page)
    tablet = second(new_phone, tmp_path, "tablet", code)
    tablet.phone.all_sent()
    desk.phone.go("people")
    expect(part(page, "pins")).to_be_visible()
    expect(page.locator("[data-part=pins] option")).to_have_count(2)
    people = page.locator("[data-part=pins] option").evaluate_all(
        "all => all.map((one) => [one.value, one.textContent])"
    )
    assert len(people) == 2
    owner = next(value for value, text in people if text == "Owner")
    set_pin(page, owner, "1234")
    expect(part(page, "pins").get_by_role("alert")).to_be_visible()
    set_pin(page, owner, "2580")
    desk.said("people.pin.kept")

    # At the tablet: a wrong PIN changes nothing, the right one says who works there.
    tablet.phone.go("people")
    enter(tablet.page, "Owner", "8642")
    expect(part(tablet.page, "who").get_by_role("alert")).to_be_visible()
    enter(tablet.page, "Owner", "2580")
    now = part(tablet.page, "who").locator("p").first
    expect(now).to_have_text(saying("people.current"))
    expect(now).to_contain_text("Owner")
    # The owner's rights for some minutes: the list of devices, and the owner's word in a record.
    expect(part(tablet.page, "devices").locator("[data-dev]")).to_have_count(2)
    tablet.name_strain("Fen 3")
    tablet.phone.all_sent()
    written = next(r for r in server.log() if r["ty"] == "strain.named")
    assert written["by"] == owner
    # The next person has only what the tablet has.
    tablet.phone.go("people")
    other = next(value for value, text in people if text != "Owner")
    set_pin(page, other, "1357")
    desk.said("people.pin.kept")
    name = next(text for _, text in people if text != "Owner")
    enter(tablet.page, name, "1357")
    expect(now).to_contain_text(name)
    expect(part(tablet.page, "devices")).to_have_count(0)
    assert tablet.page.evaluate("fetch('/api/people/pins').then((r) => r.status)") == 401

    # Without the farm's computer it takes the person's word, and says so.
    server.stop()
    other = next(text for _, text in people if text != "Owner")
    enter(tablet.page, other, "0000")
    tablet.said("people.offline")
    tablet.name_strain("Fen 4")
    [record] = [json.loads(text) for text in tablet.phone.outbox() if "Fen 4" in text]
    assert record["by"] == next(value for value, text in people if text == other)

    # Signing out is refused while the record waits.
    tablet.phone.go("people")
    out = part(tablet.page, "signout")
    out.get_by_role("button", name=words("people.signout")).click()
    out.get_by_role("button", name=words("people.signout.yes")).click()
    expect(out.get_by_role("alert")).to_be_visible()
    tablet.phone.waiting(1)


def test_a_lost_phone_is_shut_out_and_what_it_sends_is_held(
    server: Any, new_hands: Any, new_phone: Any, tmp_path: Path
) -> None:
    desk = new_hands("desk", size=DESK)
    desk.phone.go("settings")
    phone = second(new_phone, tmp_path, "phone", code_for_another(desk.page))
    phone.phone.all_sent()
    desk.phone.go("people")
    row = desk.page.locator("[data-dev]").filter(has_not_text=words("people.own")).first
    row.get_by_role("button", name=words("people.revoke")).click()
    row.get_by_role("button", name=words("people.revoke.lost")).click()
    expect(row).to_contain_text(words("people.state.revoked"))
    # What is still written on it reaches the farm, and counts for nothing until it is admitted.
    phone.name_strain("Fen 9")
    phone.phone.now()  # one that knows its key was taken back asks seldom
    phone.phone.all_sent()
    assert any("Fen 9" in text for text in phone.phone.outbox())
    desk.name_strain("Fen 8")
    desk.phone.all_sent()
    desk.phone.go("setup/strains")
    expect(desk.page.get_by_text("Fen 8").first).to_be_visible()
    expect(desk.page.get_by_text("Fen 9")).to_have_count(0)
    # Pair again: the same person, a new key.
    desk.phone.go("people")
    row.get_by_role("button", name=words("people.repair")).click()
    expect(row.locator("strong.code")).to_be_visible()
