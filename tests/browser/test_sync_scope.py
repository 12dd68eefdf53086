"""P6, C5: batches leave and enter what a phone holds; none of them is lost, or half there.

A batch whose bags ended two months ago comes to a new phone as a summary. The phone still knows its
bags by their labels in a room without signal; it fetches the records when somebody looks and the
farm's computer can be reached, and when another phone's record touches them.
"""

from __future__ import annotations

import re
import time

import pytest
from playwright.sync_api import expect

from bagtrail import ids

from .conftest import NewHands
from .harness import ApiDevice, FarmServer, wait_until
from .harness_words import words

pytestmark = pytest.mark.browser

DAY_MS = 86_400_000


def old_batch(desk: ApiDevice, name: str, bags: list[str], days: int = 61) -> str:
    """A batch of one shelf whose bags were picked and ended so many days ago."""
    at = time.time_ns() // 1_000_000 - days * DAY_MS
    batch = ids.new_code("M")
    told = [
        ("batch.mixed", [batch], {"name": name, "moisture": 6_000}),
        ("bag.filled", [batch], {"to": bags, "fill_g": 2_400}),
        ("bag.inoculated", bags, {"spawn": ids.new_code("S")}),
        ("bag.harvested", [bags[0]], {"g": 640, "of": [[batch, ""]], "flush": 1}),
        *(("bag.finished", [bag], {"cause": "spent"}) for bag in bags),
    ]
    for i, (kind, sub, d) in enumerate(told):
        assert desk.write_at(at + i, kind, sub, **d) == "ok", (kind, d)
    return batch


def new_bags(n: int) -> list[str]:
    return [ids.new_code("B") for _ in range(n)]


def test_P6_C5_a_batch_leaves_a_phone_and_comes_back_whole(
    server: FarmServer, new_hands: NewHands
) -> None:
    desk = ApiDevice(server.url, server.pair_code("manager"), "Desk")
    bags = new_bags(3)
    batch = old_batch(desk, "Alder 7", bags)
    living = ids.new_code("M")
    assert desk.write("batch.mixed", [living], name="Alder 8") == "ok"
    assert desk.write("bag.filled", [living], n=4, fill_g=2_400) == "ok"

    # A new phone: the ended batch is a summary, the living one is whole.
    hands = new_hands()
    wait_until(lambda: {batch, living} <= set(hands.phone.rows()), "both batches are there", 60)
    held = hands.phone.rows()
    assert held[batch]["archived"] is True
    assert held[batch]["lines"] == []
    assert len(held[living]["lines"]) == 2
    hands.phone.all_sent()
    hands.phone.shell_ready()

    # In a room without signal its label still says what it is, and its page what it earned.
    server.kill()
    hands.phone.go("scan")
    hands.type_code(bags[0])
    expect(hands.page).to_have_url(re.compile(f"#/bag/{bags[0]}$"))
    main = hands.page.locator("#main")
    expect(main).to_contain_text(words("end.spent"))
    expect(main).to_contain_text(words("batch.archived"))
    hands.phone.go(f"batch/{batch}")
    hands.heading("Alder 7")
    expect(main).to_contain_text("640")
    expect(main).to_contain_text(words("batch.archived"))
    # What is written of it here waits, and hides nothing.
    hands.phone.go(f"act/note.written/{batch}")
    hands.fill("text", "two caps were odd")
    hands.touch("form.save")
    hands.said("act.saved")
    hands.phone.go(f"batch/{batch}")
    expect(main).to_contain_text("640")

    # With the farm's computer back the record is sent, and the batch is whole again.
    server.start()
    hands.phone.now()
    hands.phone.all_sent(60_000)
    wait_until(lambda: len(hands.phone.rows()[batch]["lines"]) == 8, "all records of it came", 60)
    expect(main.get_by_text(words("batch.archived"))).to_have_count(0)
    assert "archived" not in hands.phone.rows()[batch]

    # Another device takes an end back: the bag lives on this phone, too.
    end = next(r["id"] for r in server.log() if r["ty"] == "bag.finished" and r["sub"] == [bags[2]])
    assert desk.write("record.voided", [bags[2]], target=end) == "ok"
    hands.phone.go(f"bag/{bags[2]}")
    expect(main).to_contain_text(words("stage.spawn_run"))
    assert server.held() == []


def test_P6_C5_a_page_of_an_old_batch_fetches_its_records(
    server: FarmServer, new_hands: NewHands
) -> None:
    """Looked at where the farm's computer can be reached; and let go of again another day."""
    desk = ApiDevice(server.url, server.pair_code("manager"), "Desk")
    bags = new_bags(2)
    batch = old_batch(desk, "Alder 7", bags)
    hands = new_hands()
    wait_until(lambda: batch in hands.phone.rows(), "the batch is there", 60)
    assert hands.phone.rows()[batch]["archived"] is True
    hands.phone.go(f"bag/{bags[0]}")
    main = hands.page.locator("#main")
    expect(main).to_contain_text("640")
    wait_until(lambda: len(hands.phone.rows()[batch]["lines"]) == 6, "its records came", 60)
    expect(main.get_by_text(words("batch.archived"))).to_have_count(0)
    # Opened another day, the phone makes room again: a summary, with all that Find knows.
    hands.phone.go("")
    hands.page.reload()
    hands.phone.up()
    hands.phone.now()
    wait_until(lambda: hands.phone.rows()[batch].get("archived") is True, "it was let go of", 60)
    hands.phone.go("scan")
    hands.type_code(bags[1])
    expect(hands.page).to_have_url(re.compile(f"#/bag/{bags[1]}$"))
    expect(main).to_contain_text(words("end.spent"))


def test_P6_C5_a_batch_that_ends_under_a_phone_leaves_it(
    server: FarmServer, new_hands: NewHands
) -> None:
    """A phone that held it whole, by records and not by a snapshot, lets it go; the log not."""
    desk = ApiDevice(server.url, server.pair_code("manager"), "Desk")
    hands = new_hands()
    hands.phone.all_sent()
    bags = new_bags(2)
    batch = old_batch(desk, "Alder 7", bags)
    wait_until(
        lambda: len(hands.phone.rows().get(batch, {"lines": ()})["lines"]) == 6, "it came", 60
    )
    hands.page.reload()
    hands.phone.up()
    hands.phone.now()
    wait_until(lambda: hands.phone.rows()[batch].get("archived") is True, "it was let go of", 60)
    # The log has everything, and so has who holds the batch whole.
    assert len([r for r in server.log() if batch in r["sub"] or set(bags) & set(r["sub"])]) == 6
