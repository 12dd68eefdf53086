"""P2, P3, P4, P7 with many at once: browsers and wire phones, a killed server (C10, A12).

The wire phones are the model of tests/model.py over real HTTP; the browsers run the app's own code.
"""

from __future__ import annotations

import threading
import time
from typing import Any

import pytest
from playwright.sync_api import Page
from tests.model import ModelPhone
from tests.wires import over_http

from .conftest import NewHands
from .harness import ApiDevice, FarmServer, wait_until
from .harness_sync import knows, lines_seen, notes_in
from .harness_words import words
from .test_offline import SENT_WITHIN_MS, WRITE_NOTES, start_batch

pytestmark = pytest.mark.browser

NO_LOCKS = "Object.defineProperty(Navigator.prototype, 'locks', { value: undefined })"


def begin(page: Page, batch: str, name: str, n: int) -> None:
    """Write n notes on a tab's own form, in its own time. The tab knows the batch already."""
    page.evaluate(
        f"args => {{ window.written = ({WRITE_NOTES})(args).then(() => 'ok', String) }}",
        [f"#/act/note.written/{batch}", words("form.save"), name, n],
    )


def wire_phone(server: FarmServer, name: str) -> ModelPhone:
    """Pair a phone without a screen that syncs as the app does."""
    paired: dict[str, Any] = ApiDevice(server.url, server.pair_code("worker"), name).paired
    return ModelPhone(
        over_http(lambda: server.port, 5), paired, name, lambda: time.time_ns() // 1_000_000
    )


def test_P3_P7_C10_many_phones_at_once_over_a_server_that_is_killed_lose_and_double_nothing(
    server: FarmServer, new_hands: NewHands
) -> None:
    browsers = [new_hands(f"browser{i}") for i in range(3)]
    batch = start_batch(browsers[0])
    for hands in browsers:
        hands.phone.all_sent()
        hands.phone.shell_ready()
        knows(hands.phone, batch)
    wires = [wire_phone(server, f"wire{i}") for i in range(8)]
    notes: set[str] = set()
    acked: set[str] = set()
    stop = threading.Event()

    def work(phone: ModelPhone, name: str) -> None:
        n = 0
        while not stop.is_set():
            for _ in range(3):
                notes.add(f"{name}-{n}")
                phone.write("note.written", [batch], {"text": f"{name}-{n}"})
                n += 1
            phone.retry_s = 0
            phone.sync(rounds=3)
            acked.update(k.text for k in list(phone.kept.values()) if k.state == "acked")
            time.sleep(0.05)

    threads = [
        threading.Thread(target=work, args=(phone, f"wire{i}")) for i, phone in enumerate(wires)
    ]
    for thread in threads:
        thread.start()
    try:
        for i, hands in enumerate(browsers):
            begin(hands.page, batch, f"browser{i}", 25)
            notes |= {f"browser{i}-{n}" for n in range(25)}
        for _ in range(3):
            # Killed while phones push: what it acknowledged so far must be there afterwards.
            before = len(acked)
            wait_until(lambda n=before: len(acked) > n + 10, "pushes go on", 60)
            server.kill()
            server.start()
        for hands in browsers:
            assert hands.page.evaluate("window.written") == "ok"
    finally:
        stop.set()
        for thread in threads:
            thread.join()
    for hands in browsers:
        hands.phone.now()
        hands.phone.all_sent(SENT_WITHIN_MS)
    for phone in wires:
        phone.retry_s = 0
        wait_until(phone.sync, "a wire phone comes to rest", 60)
    assert notes_in(server) == sorted(notes)
    texts = server.log_texts()
    assert acked <= set(texts), "an acknowledged record is not on the log"
    assert len(texts) == len(set(texts))
    assert server.held() == []
    for hands in browsers:
        assert set(hands.phone.outbox()) <= set(texts)
        hands.phone.now()
    for hands in browsers:
        wait_until(lambda p=hands.phone: len(lines_seen(p)) == len(texts), "all views equal", 60)
    seen = [lines_seen(hands.phone) for hands in browsers]
    assert seen[0] == seen[1] == seen[2]
    for phone in wires:
        wait_until(phone.sync, "a wire phone has pulled all", 60)
        assert set(phone.kept) == seen[0]


@pytest.mark.parametrize("locks", [pytest.param(True, marks=pytest.mark.long), False])
def test_P2_A12_five_tabs_with_and_without_web_locks_send_each_record_once(
    locks: bool, server: FarmServer, new_hands: NewHands
) -> None:
    hands = new_hands()
    batch = start_batch(hands)
    if not locks:
        hands.phone.context.add_init_script(NO_LOCKS)
    tabs = [hands.page, *(hands.phone.context.new_page() for _ in range(4))]
    for tab in tabs:
        hands.phone.watch(tab)
        tab.goto(f"{server.url}/#/batch/{batch}")
        tab.reload()
        assert tab.evaluate("navigator.locks === undefined") is not locks
    each = 200 if locks else 6
    # The server is up: all five write and would send at the same time.
    for i, tab in enumerate(tabs):
        begin(tab, batch, f"tab{i}", each)
    for tab in tabs:
        assert tab.evaluate("window.written") == "ok"
    hands.phone.all_sent(SENT_WITHIN_MS)
    assert notes_in(server) == sorted(f"tab{i}-{n}" for i in range(5) for n in range(each))
    log = server.log()
    for stream in {r["st"] for r in log}:
        numbers = sorted(r["sq"] for r in log if r["st"] == stream)
        assert numbers == list(range(numbers[0], numbers[0] + len(numbers)))
    assert len({r["id"] for r in log}) == len(log)
    assert len({r["st"] for r in log if r["ty"] == "note.written"}) == 1
    assert server.held() == []
