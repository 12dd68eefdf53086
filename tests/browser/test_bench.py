"""The bench in real Chromium: Web Serial by a fake port, the farm’s scale by a pseudo-terminal."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect

from bagtrail import ids

from .conftest import NewHands
from .harness import FarmServer, uuid7
from .harness_browser import DESK
from .harness_farm import Hands
from .harness_sync import sees_all
from .harness_words import within, words

pytestmark = pytest.mark.browser

FAKE_PORT = """
(() => {
  let put = null;
  const port = {
    readable: null,
    async open({ baudRate }) {
      window.bench.baud = baudRate;
      this.readable = new ReadableStream({ start(controller) { put = controller; } });
    },
    async close() {},
  };
  window.bench = {
    baud: 0,
    send(text) { put.enqueue(new TextEncoder().encode(text)); },
    unplug() {
      port.readable = null;
      put.error(new DOMException('The device has been lost.', 'NetworkError'));
    },
  };
  Object.defineProperty(navigator, 'serial', { value: {
    requestPort: async () => port, getPorts: async () => (window.allowed ? [port] : []),
  } });
})()
"""


def lines(grams: float, count: int = 5, flag: str = "ST") -> str:
    """What a scale sends while a load lies on it."""
    return "".join(f"{flag},GS,{grams / 1000:+09.3f}kg\r\n" for _ in range(count))


EMPTY = lines(0, 3)


class Bench:
    """Hands at a bench with bags that have been opened."""

    def __init__(self, hands: Hands, server: FarmServer) -> None:
        self.hands, self.page = hands, hands.page
        api = server.device()
        self.tag = api.tag
        self.batch, lot = ids.new_code("M"), ids.new_code("S")
        self.bags = [ids.new_code("B") for _ in range(4)]
        strain = f"strain-{uuid7(time.time_ns() // 1_000_000)}"
        told = [
            api.write("strain.named", [strain], name="Fen 4"),
            api.write("spawn.received", [lot], strain=strain),
            api.write("batch.mixed", [self.batch], name="25 Nov A1", moisture=6_000),
            api.write("bag.filled", [self.batch], n=4, fill_g=2_500, to=self.bags, first="A1"),
            api.write("bag.inoculated", [self.batch], spawn=lot),
        ]
        assert told == ["ok"] * 5
        sees_all(hands.phone, server.log_texts())
        hands.phone.go("bench")
        hands.heading(words("bench.title"))

    def in_hand(self, n: int) -> None:
        """Wait until a weight would be of that bag."""
        expect(self.page.locator(".screen-head")).to_contain_text(f"A{n + 1}")

    def scan(self, n: int) -> None:
        self.hands.wedge(f"{self.tag}.{self.bags[n]}")

    def send(self, text: str) -> None:
        self.page.evaluate("text => window.bench.send(text)", text)

    def taken(self) -> None:
        """Wait until one more weight is saved; the pan may say "taken" of the one before."""
        self.hands.said("harvest.saved")
        self.pan("taken")

    def pan(self, state: str) -> None:
        expect(self.page.locator(".scale-shown")).to_contain_text(words(f"bench.pan.{state}"))


@pytest.fixture
def bench(server: FarmServer, new_hands: NewHands) -> Bench:
    hands = new_hands("desk", size=DESK)
    hands.phone.context.add_init_script(FAKE_PORT)
    hands.page.reload()
    hands.phone.up()
    return Bench(hands, server)


def picked(server: FarmServer) -> list[tuple[str, int, int | None]]:
    return [
        (r["sub"][0], r["d"]["g"], r["d"].get("tare_g"))
        for r in server.log()
        if r["ty"] == "bag.harvested"
    ]


def test_scan_weigh_saved_without_a_touch(server: FarmServer, bench: Bench) -> None:
    hands, page = bench.hands, bench.page
    hands.choose(words("bench.from.cable"))  # the one touch of the day: the browser asks for it
    bench.send("junk\r\n" + EMPTY)
    bench.pan("empty")
    assert page.evaluate("window.bench.baud") == 9600

    # The crate is weighed first: its tare goes with each pick.
    page.locator("summary", has_text=words("bench.tare")).click()
    bench.send(lines(650))
    bench.pan("still")
    page.get_by_role("button", name=within("bench.tare.lying")).click()
    bench.pan("empty")

    bench.scan(0)
    bench.send("US,GS,+001.2kg\r\nUS,GS,+000.9" + "99kg\r\n" + lines(962))
    bench.taken()
    expect(page.locator(".toast")).to_contain_text("312 g")
    # The next label while the crate before still stands there: nothing is saved of it.
    bench.scan(1)
    bench.in_hand(1)
    bench.send(lines(962))
    bench.pan("taken")
    bench.send(lines(650, 3) + lines(900))
    bench.taken()
    # On the pan first, scanned after: the same.
    bench.send(lines(650, 3) + lines(930))
    bench.pan("still")
    bench.scan(2)
    bench.taken()
    hands.phone.all_sent()
    assert picked(server) == [
        (bench.bags[0], 312, 650), (bench.bags[1], 250, 650), (bench.bags[2], 280, 650)
    ]  # fmt: skip
    total = page.locator("section", has_text=words("bench.totals"))
    expect(total).to_contain_text("842 g")
    expect(total).to_contain_text("Fen 4")

    # A reload keeps the sum, the scale and the purpose.
    page.evaluate("() => { sessionStorage.x = 1 }")
    page.reload()
    expect(page.locator("section", has_text=words("bench.totals"))).to_contain_text("842 g")
    expect(page.get_by_role("button", name=words("bench.connect"))).to_be_visible()


def test_a_doubtful_weight_is_asked_and_a_second_scan_says_yes(
    server: FarmServer, bench: Bench
) -> None:
    hands, page = bench.hands, bench.page
    hands.choose(words("bench.from.cable"))
    bench.send("\n" + EMPTY)
    bench.scan(0)
    # 2,500 g at 60 % wet basis are 1,000 g of dry substrate.
    bench.send(lines(1_200))
    note = page.locator(".note-ask", has_text=within("bench.ask.dry"))
    expect(note).to_contain_text("1,000 g")
    hands.phone.all_sent()
    assert picked(server) == []
    bench.scan(0)
    bench.taken()
    # Asked again of another bag, and weighed again: the pan decides.
    bench.send(EMPTY)
    bench.scan(1)
    bench.send(lines(1_300))
    expect(note).to_be_visible()
    bench.send(EMPTY + lines(330))
    bench.taken()
    hands.phone.all_sent()
    assert [g for _, g, _ in picked(server)] == [1_200, 330]


def test_what_goes_wrong_with_the_cable_is_told_with_the_way_by_hand(
    server: FarmServer, bench: Bench
) -> None:
    hands, page = bench.hands, bench.page
    hands.choose(words("bench.from.cable"))
    alert = page.get_by_role("alert")
    bench.send("\n" + "\u00ff\u00fe\r\n" * 10)
    expect(alert.filter(has_text=words("bench.noisy"))).to_be_visible()
    bench.send("OL\r\nOL\r\n")
    expect(alert.filter(has_text=words("bench.over"))).to_be_visible()
    bench.send(EMPTY + "+0.0 lb\r\n")
    expect(alert.filter(has_text=words("bench.unit_changed"))).to_be_visible()
    hands.touch("bench.seen")
    bench.send("+0.7\r\n" * 3)
    expect(page.get_by_role("radiogroup", name=words("bench.no_unit"))).to_be_visible()
    expect(alert.filter(has_text=words("bench.source.quiet"))).to_be_visible()
    bench.send(EMPTY)
    expect(alert.filter(has_text=words("bench.source.quiet"))).to_have_count(0)

    bench.scan(0)
    bench.in_hand(0)
    bench.send("ST,GS,+000.4")  # half a line, and then the cable is out
    page.evaluate("window.bench.unplug()")
    expect(alert.filter(has_text=words("bench.source.gone"))).to_be_visible()
    # Going on by hand: the bag is still the one that was scanned.
    page.locator("summary", has_text=words("bench.by_hand")).click()
    page.get_by_label(words("harvest.weight")).fill("410")
    hands.touch("harvest.save")
    hands.said("harvest.saved")
    # And with a scale that types its reading like a keyboard.
    bench.scan(1)
    bench.in_hand(1)
    type_fast(hands, "385 g")
    hands.said("harvest.saved")
    hands.phone.all_sent()
    assert [g for _, g, _ in picked(server)] == [410, 385]
    # Plugged in again.
    hands.touch("bench.connect")
    bench.send("\n" + EMPTY)
    bench.pan("empty")


def test_bags_are_weighed_too(server: FarmServer, bench: Bench) -> None:
    hands = bench.hands
    hands.choose(words("bench.from.cable"))
    hands.choose(words("bench.purpose.weigh"))
    hands.choose(words("choice.when.cooled"))
    bench.send("\n" + EMPTY)
    bench.scan(3)
    bench.send(lines(2_440))
    bench.taken()
    hands.phone.all_sent()
    weighed = [r["d"] for r in server.log() if r["ty"] == "bag.weighed"]
    assert weighed == [{"g": 2_440, "when": "cooled"}]


def type_fast(hands: Hands, text: str) -> None:
    session = hands.phone.context.new_cdp_session(hands.page)
    at = time.time()
    for symbol in (*text, "\r"):
        at += 0.003
        key = {"\r": "Enter", " ": " "}.get(symbol, symbol)
        press = {"key": key, "text": symbol, "timestamp": at, "code": ""}
        if symbol == "\r":
            press |= {"code": "Enter", "windowsVirtualKeyCode": 13}
        session.send("Input.dispatchKeyEvent", {"type": "keyDown", **press})
        session.send("Input.dispatchKeyEvent", {"type": "keyUp", "key": key, "timestamp": at})
    session.detach()


@pytest.fixture
def cable() -> Iterator[int]:
    pty = pytest.importorskip("pty", reason="Windows has no pseudo-terminals")
    master, slave = pty.openpty()
    os.environ["BAGTRAIL_SCALE"] = os.ttyname(slave)
    yield master
    del os.environ["BAGTRAIL_SCALE"]
    for end in (master, slave):
        try:
            os.close(end)
        except OSError:
            pass


def test_a_scale_on_the_farms_computer(
    cable: int, tmp_path: Path, client: None, playwright: object
) -> None:
    from .harness_browser import Phone

    server = FarmServer(tmp_path / "scales").start()
    phone = Phone(playwright, tmp_path / "desk", server.url, size=DESK).start()  # type: ignore[arg-type]
    try:
        phone.pair(server.pair_code(), "desk")
        hands = Hands(phone, tmp_path / "desk")
        bench = Bench(hands, server)
        hands.choose(words("bench.from.farm"))
        bench.pan("none")
        # A scale sends all the time; what it sends before anybody listens is lost.
        empty = hands.page.locator(".scale-shown").get_by_text(words("bench.pan.empty"))
        for _ in range(100):
            os.write(cable, b"\r\n" + EMPTY.encode())
            hands.page.wait_for_timeout(200)
            if empty.count():
                break
        bench.pan("empty")
        bench.scan(0)
        os.write(cable, lines(421).encode())
        bench.taken()
        phone.all_sent()
        assert [g for _, g, _ in picked(server)] == [421]
        server.kill()
        expect(hands.page.get_by_role("alert").filter(has_text=words("bench.source.offline"))
               ).to_be_visible()  # fmt: skip
        assert phone.troubles == []
    finally:
        phone.stop()
        server.stop()
