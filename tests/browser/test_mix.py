"""Planning a mix at the check values of the trade page, and weighing it in with no network."""

from __future__ import annotations

import json
import re

import pytest
from playwright.sync_api import expect

from .conftest import NewHands
from .harness import ROOT, FarmServer
from .harness_words import words

pytestmark = pytest.mark.browser

# Worked by hand: 18 kg pellets at 8 % hold 16.56 kg dry, 3 kg bran at 12 % hold 2.64 kg; 19.2 kg of
# dry mix are 40 % of 48 kg. Bran is 3/21 = 14.3 % as weighed and 2.64/19.2 = 13.75 % of dry mix.
PELLETS, BRAN = "Hardwood pellets", "Wheat bran"


def said(id_: str, **params: str) -> str:
    """Return a text with its parameters put in."""
    text = json.loads((ROOT / "client/src/i18n/en-GB.rest.json").read_text(encoding="utf-8"))[id_]
    return re.sub(r"\{(\w+)\}", lambda m: params[m[1]], text)


def test_a_mix_is_planned_and_weighed_in_offline(server: FarmServer, new_hands: NewHands) -> None:
    hands = new_hands()
    page = hands.page
    hands.phone.go("mix")
    hands.heading(words("mix.title"))

    for i, (name, share) in enumerate(((PELLETS, "85.7143"), (BRAN, "14.2857")), start=1):
        page.get_by_role("textbox", name=said("parts.name", n=str(i)), exact=True).fill(name)
        page.get_by_label(said("mix.amount", n=str(i))).fill(share)
    page.get_by_role("radio", name=words("choice.basis.of_total_weighed")).click()
    page.get_by_role("radio", name=words("mix.wish.bags")).click()
    page.get_by_role("textbox", name=words("mix.wish.bags")).fill("20")
    page.get_by_role("textbox", name=words("field.mix_planned.fill_g")).fill("2.4")
    plan = page.get_by_role("region", name=words("mix.weigh"))
    for figure in ("18.000 kg", "3.000 kg", "27.000 kg", "48", "60 %", f"{BRAN} 13.8 %"):
        expect(plan).to_contain_text(figure)

    # Carbide is refused by name, with what was likely meant; nothing can be kept then.
    page.get_by_role("textbox", name=said("parts.name", n="2"), exact=True).fill("Calcium carbyde")
    expect(page.get_by_role("alert")).to_contain_text("acetylene")
    expect(plan).to_have_count(0)
    page.get_by_role("textbox", name=said("parts.name", n="2"), exact=True).fill(BRAN)

    server.kill()
    plan.get_by_role("button", name=words("mix.keep")).click()
    page.wait_for_url(re.compile(r"#/weigh/plan-"))
    scale = [said("mix.scale_shows", name=name) for name in (PELLETS, BRAN, words("mix.water"))]
    page.get_by_role("textbox", name=scale[0]).fill("18.5")
    page.get_by_role("textbox", name=scale[1]).fill("3")
    # 18.5 kg at 8 % and 3 kg at 12 %: 19.66 kg dry are 49.15 kg wet, less 21.5 kg.
    expect(page.locator("main")).to_contain_text("27.650 kg")
    expect(page.get_by_role("alert")).to_contain_text("18.500 kg")  # beyond the tolerance
    page.reload()  # a dead battery loses no tick
    page.get_by_role("textbox", name=scale[2]).fill("27.65")
    page.get_by_role("button", name=words("mix.done")).click()
    page.wait_for_url(re.compile(r"#/measure/M"))

    # Measured 59.25 %: 49.15 kg x 0.4075 / 0.4 is 50.072 kg, so 0.922 kg of water is added.
    page.get_by_label(words("field.batch_tested.found")).fill("59.25")
    expect(page.get_by_role("heading", level=2)).to_contain_text("922 g")
    page.get_by_role("button", name=words("mix.added"), exact=True).click()
    page.wait_for_url(re.compile(r"#/fill/M"))

    server.start()
    hands.phone.all_sent()
    kinds = {r["ty"]: r["d"] for r in map(json.loads, server.log_texts())}
    mixed = kinds["batch.mixed"]
    assert (mixed["wet_g"], mixed["water_g"], mixed["moisture"]) == (49_150, 27_650, 6_000)
    assert [line["g"] for line in mixed["lines"]] == [18_500, 3_000]
    assert mixed["dry_g"] == 19_660
    assert [a["amount"] for a in mixed["amounts"]] == [857_143, 142_857]
    tested = kinds["batch.tested"]
    assert (tested["added_water_g"], tested["moisture"]) == (922, 6_000)
    assert not server.held()
