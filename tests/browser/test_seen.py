"""What eyes and gloves need: forced colours, one reminder once, a save that shows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Locator, Playwright, expect

from .conftest import looking
from .harness import ApiDevice, FarmServer
from .harness_farm import Hands
from .harness_words import within, words
from .test_axe import routes, show

pytestmark = pytest.mark.browser

#: Two colours closer than this (sum over red, green, blue) are one to the eye that needs this mode.
APART = 120


@pytest.fixture(scope="module")
def api(demo: FarmServer) -> ApiDevice:
    """Another device of the farm, which knows what is where."""
    return demo.device("Observer of what is seen")


@pytest.fixture(scope="module")
def hands(
    playwright: Playwright, demo: FarmServer, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Hands]:
    with looking(playwright, demo, tmp_path_factory.mktemp("phone")) as found:
        yield found


@pytest.fixture(params=["light", "dark"])
def forced(request: pytest.FixtureRequest, hands: Hands) -> Iterator[None]:
    """The system's few colours in place of the page's own, and nothing that moves."""
    page = hands.page
    page.emulate_media(forced_colors="active", reduced_motion="reduce", color_scheme=request.param)
    theme = "dim" if request.param == "dark" else "light"
    expect(page.locator("html")).to_have_attribute("data-theme", theme)
    assert page.evaluate("matchMedia('(forced-colors: active)').matches")
    yield
    page.emulate_media(forced_colors="none", reduced_motion="no-preference", color_scheme="light")


def picture(of: Locator) -> Image.Image:
    """What is drawn there now."""
    of.scroll_into_view_if_needed()
    return Image.open(BytesIO(of.screenshot(animations="allow"))).convert("RGB")


def apart(one: tuple[int, ...], other: tuple[int, ...]) -> int:
    """How far two colours lie from each other."""
    return sum(abs(a - b) for a, b in zip(one, other, strict=True))


def shares(image: Image.Image) -> list[tuple[float, tuple[int, int, int]]]:
    """Return the colours that stand clearly apart from the commonest one, with their share."""
    colours: Any = image.getcolors(image.width * image.height)
    colours.sort(reverse=True)
    ground = colours[0][1]
    whole = image.width * image.height
    return [(n / whole, c) for n, c in colours if apart(c, ground) >= APART]


def ink(of: Locator) -> float:
    """The share of a drawing that stands clearly apart from its ground."""
    return sum(share for share, _ in shares(picture(of)))


def test_forced_colours_keep_the_bags_sign_and_the_boards(
    hands: Hands, forced: None, demo: FarmServer, api: ApiDevice
) -> None:
    every = routes(api, demo.log())
    page = hands.page
    for name in ("bag", "contaminated bag"):
        show(hands, every[name])
        sign = page.locator("#main .bagsign").first
        # Outline, filter patch and what is in it: a sign drawn in its ground's colour has none.
        assert ink(sign) > 0.1, f"{name}: the sign is hardly drawn"
    # Along the left side of the cross's height: ground and bag alternate, for its edge keeps the
    # cross apart from a bag of its own colour.
    image = picture(page.locator("#main .bagsign").first)
    row = [image.getpixel((x, round(image.height * 0.75))) for x in range(image.width)]
    ground: Any = image.getpixel((0, 0))
    inked = [apart(pixel, ground) >= APART for pixel in row]  # type: ignore[arg-type]
    runs = sum(now and not before for before, now in zip([False, *inked], inked, strict=False))
    assert runs >= 3, f"one block with no cross in it: {inked}"
    show(hands, every["rooms with a batch lit"])
    boards = page.locator(".shelf", has=page.locator("svg"))
    expect(boards.first).to_be_visible()
    for n in range(boards.count()):
        words_of = boards.nth(n).inner_text()
        assert ink(boards.nth(n).locator("svg")) > 0.03, f"nothing is drawn on {words_of}"
    lit = page.locator(".shelf-wanted").first
    assert lit.evaluate("e => getComputedStyle(e).outlineWidth") == "4px"
    show(hands, every["batch"])
    bars = page.locator(".bar")
    for n in range(bars.count()):
        # The bar's inside: full and empty part differ, as far as its own figure says.
        full = bars.nth(n).evaluate(
            "e => e.firstElementChild.getBoundingClientRect().width / e.clientWidth"
        )
        image = picture(bars.nth(n))
        row = [image.getpixel((x, image.height // 2)) for x in range(image.width)]
        ends: Any = row[5], row[-6]
        told = f"bar {n}, {full:.0%} full: {ends}"
        assert full < 0.05 or full > 0.95 or apart(*ends) >= APART, told


def test_forced_colours_keep_the_result_of_a_scan(
    hands: Hands, forced: None, demo: FarmServer, api: ApiDevice
) -> None:
    every = routes(api, demo.log())
    page = hands.page
    parts = api.get(f"answers/batch/{every['batch'].removeprefix('batch/')}")["parts"]
    one, other = [c for c, p in parts.items() if c.startswith("B") and not p.get("end")][:2]
    show(hands, "round/look")
    seen: dict[str, tuple[str, bytes]] = {}
    # The same one twice on end would be one scan of a fixed scanner.
    for code, wanted in (
        (other, "taken"),
        (one, "taken"),
        (other, "before"),
        ("B0000001K", "misfit"),
    ):
        # What was told before goes as the next is told.
        page.locator(".round-told").evaluate("e => { e.dataset.past = ''; }")
        hands.wedge(f"{api.tag}.{code}")
        told = page.locator(".round-told:not([data-past])")
        expect(told).to_have_attribute("data-outcome", wanted)
        mark = told.locator("svg")
        assert ink(mark) > 0.05, f"{wanted}: its mark is not drawn"
        border = told.evaluate("e => getComputedStyle(e).borderTopStyle")
        seen[wanted] = (border, picture(mark).tobytes())
    assert len({edge for edge, _ in seen.values()}) == 3, "three edges for three results"
    assert len({mark for _, mark in seen.values()}) == 3, "three shapes for three results"
    for _ in range(2):
        hands.touch("round.undo")
        expect(page.locator(".round-told")).to_contain_text(within("round.told.undone"))
    hands.touch("round.end")
    hands.touch("round_end.close")
    page.wait_for_url(re.compile(r"#/$"))  # by itself: a change of the address before would be lost


def test_forced_colours_keep_what_is_chosen_and_where_one_is(
    hands: Hands, forced: None, demo: FarmServer, api: ApiDevice
) -> None:
    page = hands.page
    every = routes(api, demo.log())
    show(hands, f"act/bag.opened/{every['bag'].removeprefix('bag/')}")
    chosen = page.get_by_role("radio", checked=True).first
    other = page.get_by_role("radio", checked=False).first
    page.mouse.move(0, 0)
    assert edge(chosen) > edge(other), "a thick edge says which is chosen"
    tick = chosen.evaluate(
        "e => { const s = getComputedStyle(e, '::after');"
        " return [s.content, parseFloat(s.borderRightWidth), s.borderRightColor,"
        " getComputedStyle(e).backgroundColor]; }"
    )
    assert tick[0] != "none"
    assert tick[1] >= 3
    assert tick[2] != tick[3], "the tick has its ground's colour"
    # The primary act stands out by its ground.
    save = page.locator(".btn-first").last
    ground = "e => getComputedStyle(e).backgroundColor"
    assert save.evaluate(ground) != other.evaluate(ground)
    # Where one is: the rail's mark was a shadow, which this mode takes away.
    show(hands, "find")
    here = page.locator(".rail a[aria-current]")
    assert here.evaluate("e => getComputedStyle(e).outlineStyle") == "solid"
    page.keyboard.press("Tab")
    ring = page.evaluate(
        "() => { const s = getComputedStyle(document.activeElement);"
        " return [s.outlineStyle, parseFloat(s.outlineWidth)]; }"
    )
    assert ring[0] != "none"
    assert ring[1] >= 2


def edge(of: Locator) -> float:
    width: float = of.evaluate("e => parseFloat(getComputedStyle(e).borderTopWidth)")
    return width


#: Cautions and reminders: the words of each on the screen, whether folded or not.
NOTES = """() => [...document.querySelectorAll('#main .note-care')]
  .map((e) => (e.querySelector('summary') ?? e).textContent.trim())"""


def test_no_reminder_stands_twice_on_a_screen(
    hands: Hands, demo: FarmServer, api: ApiDevice
) -> None:
    found = []
    every = routes(api, demo.log())
    rounds = ("inoculate", "soak", "pick", "pack", "contaminated", "finish", "load", "roll")
    every |= {f"round: {purpose}": f"round/{purpose}" for purpose in rounds}
    told = 0
    for name, route in every.items():
        show(hands, route)
        notes = hands.page.evaluate(NOTES)
        told += len(notes)
        # The first words name the matter: a title and a sentence on one matter are one reminder.
        matters = [" ".join(re.findall(r"\w+", note.lower())[:3]) for note in notes]
        twice = {m for m in matters if matters.count(m) > 1}
        found += [f"{name}: {m}" for m in sorted(twice)]
    assert told > 30, "the cautions were not found"
    assert not found, "\n".join(found)


def test_a_save_that_takes_long_shows_on_its_button(hands: Hands, demo: FarmServer) -> None:
    """A touch while it is written says so, and writes nothing twice."""
    page = hands.page
    before = len([r for r in demo.log() if r["ty"] == "strain.named"])
    name = f"Slow {hands.folder.name}"
    show(hands, "setup/strains/new")
    hands.fill("name", name)
    # The store is held by another transaction, as on a phone that writes a large pull.
    page.evaluate("""() => new Promise((held) => {
      const open = indexedDB.open('bagtrail-outbox');
      open.onsuccess = () => {
        const tx = open.result.transaction([...open.result.objectStoreNames], 'readwrite');
        const store = tx.objectStore('meta');
        globalThis.release = false;
        const on = () => {
          if (globalThis.release) return open.result.close();
          store.get('nothing').onsuccess = on;
        };
        on();
        held();
      };
    })""")
    button = page.get_by_role("button", name=words("setup.save"), exact=True)
    button.click()
    expect(button).to_have_attribute("aria-busy", "true")
    assert button.evaluate("e => getComputedStyle(e, '::before').content") != "none"
    page.evaluate("document.querySelector('#main form').requestSubmit()")
    expect(page.locator(".toast")).to_contain_text(words("act.still"))
    page.evaluate("globalThis.release = true")
    hands.said("setup.saved")
    expect(page.locator("[aria-busy=true]")).to_have_count(0)
    hands.phone.all_sent()
    assert len([r for r in demo.log() if r["ty"] == "strain.named"]) == before + 1


#: What a glove is to hit, as it stands in the page: controls below 56 px, by the point above and
#: below which a touch still lands on them. Links within a sentence are not for gloves.
SMALL = """() => [...document.querySelectorAll(
    'a[href], button, input:not([type=file]), select, textarea, summary')]
  .filter((e) => e.checkVisibility() && getComputedStyle(e).display !== 'inline'
    && !e.matches('.skip, .unseen'))
  .flatMap((e) => {
    const box = e.getBoundingClientRect();
    const after = getComputedStyle(e, '::after');
    const more = after.content !== 'none' && after.position === 'absolute'
      ? Math.max(0, -parseFloat(after.top)) + Math.max(0, -parseFloat(after.bottom)) : 0;
    const [w, h] = [Math.round(box.width), Math.round(box.height + more)];
    return w < 56 || h < 56 ? [`${w} x ${h} px: ${e.innerText || e.ariaLabel}`] : [];
  })"""


def test_gloves_hit_every_control(hands: Hands, demo: FarmServer, api: ApiDevice) -> None:
    """56 px and more (WCAG 2.2 asks for 24): wet nitrile is no fingertip."""
    found = []
    for name, route in routes(api, demo.log()).items():
        show(hands, route)
        hands.page.evaluate(
            "document.querySelectorAll('#main details').forEach((d) => { d.open = true })"
        )
        found += [f"{name}: {what}" for what in hands.page.evaluate(SMALL)]
    assert not found, "\n".join(found)
