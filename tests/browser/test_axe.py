"""Every screen in both themes on a small phone: axe-core finds nothing against WCAG 2.2 AA.

In the short run the dim theme is held against the rules of colour only, which alone it can break.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Playwright, expect

from bagtrail.ids import check_symbol

from .conftest import looking
from .harness import ROOT, ApiDevice, FarmServer
from .harness_browser import PHONE, Phone
from .harness_farm import Hands
from .harness_words import saying, words

pytestmark = pytest.mark.browser

AXE = ROOT / "client" / "node_modules" / "axe-core" / "axe.min.js"
#: The rules whose outcome a theme can change.
COLOURS = ["color-contrast", "link-in-text-block"]
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


@pytest.fixture(scope="module", params=["light", "dim"])
def hands(
    request: pytest.FixtureRequest,
    playwright: Playwright,
    demo: FarmServer,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Hands]:
    def pairing(phone: Phone) -> None:
        phone.page.goto(demo.url)
        expect(phone.page.get_by_label(words("pair.code"))).to_be_visible()
        check(phone.page, "pairing")

    folder = tmp_path_factory.mktemp(request.param)
    with looking(playwright, demo, folder, pairing, size=PHONE, theme=request.param) as found:
        yield found


def colours_only(hands: Hands) -> bool:
    """Whether the same screens are looked at in another theme: only colours differ then."""
    return hands.folder.name.startswith("dim") and not os.environ.get("BAGTRAIL_LONG")


def check(page: Page, what: str, colours: bool = False) -> None:
    """Assert that axe finds nothing on what is shown now; with `colours` only by what they touch.

    Sizes of targets are measured on a window as high as the page: with the usual height, whatever
    happens to lie half under the rail would count as small, though it can be scrolled up.
    """
    if colours:
        found = axe(page, what, {}, only=COLOURS)
        assert not found, "\n".join(found)
        return
    found = axe(page, what, {"target-size": {"enabled": False}})
    width, height = PHONE
    whole = page.evaluate("document.documentElement.scrollHeight")
    page.set_viewport_size({"width": width, "height": max(height, whole)})
    found += axe(page, what, {}, only=["target-size"])
    # #main scrolls by itself, so that the page's own width does not show what hangs out of it.
    wide = page.evaluate(
        "Math.max(...[document.documentElement, document.querySelector('#main')]"
        ".map((e) => e?.scrollWidth ?? 0))"
    )
    page.set_viewport_size({"width": width, "height": height})
    if wide > width:
        found.append(f"{what}: {wide} px wide, so it scrolls sideways (WCAG 1.4.10)")
    assert not found, "\n".join(found)


def axe(page: Page, what: str, rules: Any, only: list[str] | None = None) -> list[str]:
    """Run axe and return its findings in words."""
    if not page.evaluate("'axe' in window"):
        # By the driver, as the page's own policy rightly admits no foreign script.
        page.evaluate(AXE.read_text(encoding="utf-8"))
    result: dict[str, Any] = page.evaluate(
        "([only, rules]) => axe.run(document, {runOnly: only, rules})",
        [{"type": "rule", "values": only} if only else {"type": "tag", "values": TAGS}, rules],
    )
    assert only == ["target-size"] or result["passes"], f"axe checked nothing on {what}"
    return [
        f"{what}: {v['id']} ({v['help']}): {node['target']} {node['html'][:160]} "
        f"{node['failureSummary']}"
        for v in result["violations"]
        for node in v["nodes"]
    ]


def routes(api: ApiDevice, log: list[dict[str, Any]]) -> dict[str, str]:
    """Every screen of the app by a name, with something of the demo farm on it."""

    def code(q: str, kind: str) -> str:
        found = [f for f in api.get("answers/find", q=q)["found"] if f["type"] == kind]
        assert found, f"the demo farm has no {kind} called {q}"
        return str(found[0]["code"])

    batch, shelf, trolley = (
        code("Oak C1", "batch"),
        code("Shelf A3", "place"),
        code("Trolley 1", "place"),
    )
    parts = api.get(f"answers/batch/{batch}")["parts"]
    bag = next(c for c, p in parts.items() if c.startswith("B") and not p.get("end"))
    group = next(c for c, p in parts.items() if c.startswith("g-") and p["n"] > 1)
    bad = next(c for c, p in parts.items() if p.get("bad"))
    lot = next(p["spawn"] for p in parts.values() if p.get("spawn"))
    stored = [r["sub"][0] for r in log if r["ty"] == "material.received"]
    listed = api.get("answers/loads")["loads"]
    state = {
        row["load"].get("result", "hot" if "begun" in row["load"] else "filling"): row["code"]
        for row in listed
    }
    acts = ("bag.weighed", "bag.inoculated", "bag.checked", "bag.colonised", "bag.malformed",
            "bag.opened", "bag.soaked", "bag.shocked", "bag.finished", "note.written",
            "load.ran")  # fmt: skip
    return {
        "home": "", "scan": "scan", "find": "find", "find narrowed": "find?stage=spawn_run",
        "more": "more", "bag": f"bag/{bag}", "contaminated bag": f"bag/{bad}",
        "group": f"bag/{group}", "batch": f"batch/{batch}", "place": f"place/{shelf}",
        "spawn lot": f"thing/{lot}", "unknown code": "c/B0000001K",
        "contaminated": f"bad/{bag}", "contaminated group": f"bad/{group}", "move": "move",
        "move a group": f"move/{group}", "roll": f"roll/{trolley}", "harvest": "harvest",
        "weigh": f"harvest/{bag}", "inoculate": "inoculate", "inoculate from": f"inoculate/{lot}",
        "new batch": "new-batch", "fill": f"fill/{batch}", "opening": "opening",
        "label": f"label/{group}", "adopt": "adopt/B0000001K", "print": f"print/{batch}",
        "setup": "setup", "answers": "answers", "records": "records", "settings": "settings",
        "lost": "nowhere", "bench": "bench", "rooms": "rooms", "photograph": f"photo/{bag}",
        "labels": "labels", "loads": "loads", "vessels": "vessels", "new vessel": "vessels/new",
        **{f"load {s}": f"load/{c}" for s, c in state.items()}, "blank load": "load/H0000001D",
        **{f"labels {t}": f"labels/{t}" for t in
           ("blank", "tags", "prints", "stock", "layout", "test")},
        "rounds": "rounds", "sweep": "sweep", "sweep a shelf": f"sweep/{shelf}", "seek": "seek",
        "seek a batch": f"seek/{batch}", "count": "count", "day sheet": "day-sheet",
        "load log": "load-log/H0000001D", "load table": "load-table/H0000001D",
        "papers": "papers", "four acts": "four", "plan a mix": "mix", "mixer": "mixer",
        **{f"{name} {material}": f"{route}/{material}" for material in stored[:1]
           for name, route in (("lot", "setup/materials"), ("dry", "dry"))},
        "round: look": "round/look", "round: move": f"round/move/{shelf}",
        "round: pick": "round/pick", "round: contaminated": "round/contaminated",
        "round's end": "round-end",
        "rooms with a batch lit": f"rooms?batch={batch}",
        **{f"setup {t}": f"setup/{t}" for t in
           ("places", "strains", "spawn", "recipes", "materials", "people")},
        **{f"new in {t}": f"setup/{t}/new" for t in
           ("places", "strains", "spawn", "recipes", "materials", "people")},
        **{f"act {a}": f"act/{a}/{bag}" for a in acts},
        "correct a group": f"act/group.corrected/{group}",
        "mix": "mix", "weigh in": f"weigh/{batch}", "measure": f"measure/{batch}",
        "load": f"load/{LOAD}",
        "people": "people", "amend": f"amend/{NO_RECORD}", "mend": f"mend/{NO_RECORD}",
        "unknown": "unknown/B0000001K",
    }  # fmt: skip


#: A load of which nothing is known yet, and a record nobody wrote.
LOAD = "H0000001" + check_symbol("H0000001")
NO_RECORD = "00000000-0000-7000-8000-000000000000"

#: Routes without a screen of their own: `c` and `hands` only lead on to one.
LEAD_ON = {"c", "hands"}


def routes_in_source() -> set[str]:
    """Return the first word of every route, as the screens' own switches name them."""
    found: set[str] = set()
    for file in (ROOT / "client" / "src" / "screens").glob("*.tsx"):
        text = file.read_text(encoding="utf-8")
        # The files that hand out screens say so in the type of what they take; Root is the first.
        if re.search(r"(?:[sS]creen|screenOf)\([^)]*(?:Route|at: Route)\)", text):
            found |= set(re.findall(r"case '([a-z-]*)'", text))
    return found


def test_every_route_of_the_app_is_checked() -> None:
    class Found:
        """An observer of a farm where everything is there: only the names are wanted."""

        def get(self, path: str, q: str = "") -> Any:
            parts = {"B1": {}, "g-1": {"n": 2}, "B2": {"bad": {"sign": "other"}, "spawn": "S1"}}
            kinds = ("batch", "place", "load")
            found = [{"type": k, "code": "C"} for k in kinds]
            return {"found": found, "parts": parts, "loads": []}

    stored = [{"ty": "material.received", "sub": ["material-1"]}]
    every = routes(Found(), stored).values()  # type: ignore[arg-type]
    named = {r.split("/")[0].split("?")[0] for r in every}
    printing = {r.split("/")[1] for r in every if r.startswith("labels/")}
    wanted = routes_in_source()
    assert {"", "round", "bench", "loads"} <= wanted, "the switches were not found"
    missing = wanted - named - printing - LEAD_ON
    assert not missing, f"screens that nobody looks at for access: {sorted(missing)}"


def test_axe_finds_nothing_on_any_screen(demo: FarmServer, hands: Hands) -> None:
    found = []
    for name, route in routes(demo.device(f"Observer of {hands.folder.name}"), demo.log()).items():
        show(hands, route)
        hands.page.evaluate(
            "document.querySelectorAll('#main details').forEach((d) => { d.open = true })"
        )
        try:
            check(hands.page, name, colours_only(hands))
        except AssertionError as wrong:
            found.append(str(wrong))
    assert not found, "\n\n".join(found)


def test_axe_finds_nothing_on_what_slips_show(demo: FarmServer, hands: Hands) -> None:
    page = hands.page
    show(hands, "setup/strains/new")
    hands.touch("setup.save")
    expect(page.get_by_role("alert").first).to_be_visible()
    check(page, "a form with a slip")
    show(hands, "scan")
    hands.type_code("B000")
    expect(page.get_by_role("alert").first).to_be_visible()
    check(page, "a mistyped code")
    hands.name_strain("Sallow 9")
    check(page, "a toast and the way to undo")


def test_axe_finds_nothing_on_a_loads_curve(demo: FarmServer, hands: Hands) -> None:
    page = hands.page
    show(hands, "load-log/H0000001D")
    page.locator('input[type="file"]').set_input_files(ROOT / "fixtures/logs/three-faults.csv")
    expect(page.locator(".load-curve")).to_be_visible()
    page.evaluate("document.querySelectorAll('#main details').forEach((d) => { d.open = true })")
    check(page, "a load's log")


def test_axe_finds_nothing_where_a_held_record_is_mended(demo: FarmServer, hands: Hands) -> None:
    api = demo.device(f"Careless of {hands.folder.name}")
    assert api.write("bag.weighed", ["B0000001K"], g=-1, when="cooled") == "held"
    page = hands.page
    page.reload()
    hands.phone.up()
    show(hands, "answers")
    card = page.locator('[data-held="field:g"]').first
    card.locator("summary", has_text=saying("mend.came")).click()
    expect(card.locator("pre")).to_contain_text("bag.weighed")
    check(page, "a held record")
    card.get_by_role("link", name=saying("mend.again")).click()
    hands.heading(words("mend.title"))
    check(page, "a record written again")


def show(hands: Hands, route: str) -> None:
    hands.phone.go(route)
    page = hands.page
    expect(page.get_by_role("heading", level=1)).to_be_attached()
    expect(page.get_by_text(saying("loading"))).to_have_count(0)


def test_axe_is_the_packaged_one() -> None:
    assert Path(AXE).is_file(), "run npm ci in client/"
