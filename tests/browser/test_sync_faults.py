"""P1-P3, P8 over a bad line: real browser, replies broken by a proxy, SIGKILL (A1, B1, B8).

Portals answer 200 with a page, an empty object or an old good reply; replies are cut whole or half
after the server has committed; then the browser is killed with records waiting.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Playwright
from tests.faults import BUSY, CUT, DROP, EMPTY, ERROR, HALF, PORTAL, REPLAY, TWICE, FaultProxy

from .harness import FarmServer, wait_until
from .harness_browser import Phone
from .harness_farm import Hands
from .test_offline import SENT_WITHIN_MS, start_batch
from .test_sync_restore import write_notes

pytestmark = pytest.mark.browser

PORTALS = (PORTAL, EMPTY, REPLAY, ERROR)
BROKEN = (CUT, DROP, HALF, TWICE, BUSY)


@pytest.fixture
def proxy(server: FarmServer) -> Iterator[FaultProxy]:
    with FaultProxy(server.port) as found:
        yield found


def test_P2_P3_B1_B8_A1_portals_cut_replies_and_a_killed_browser_lose_and_double_nothing(
    server: FarmServer, proxy: FaultProxy, playwright: Playwright, tmp_path: Path
) -> None:
    phone = Phone(playwright, tmp_path / "phone", proxy.url).start()
    try:
        phone.pair(server.pair_code(), "Phone")
        hands = Hands(phone, tmp_path / "phone")
        batch = start_batch(hands)
        phone.shell_ready()
        before = len(server.log())

        # The portal: whatever it says, nothing is marked as sent.
        proxy.every = lambda n: PORTALS[n % len(PORTALS)]
        notes = write_notes(hands, batch, "portal", 4)
        tried = len(proxy.seen)
        wait_until(lambda: len(proxy.seen) > tried + 4, "the phone asks on", 60)
        phone.waiting(4)
        assert len(server.log()) == before

        phone.kill()
        phone.start()
        phone.open()
        phone.up()
        phone.waiting(4)  # none was lost with the browser

        # A line that breaks three times of four, most often after the server has committed.
        proxy.every = lambda n: BROKEN[n % len(BROKEN)] if n % 4 else None
        notes |= write_notes(hands, batch, "cut", 8)
        tried = len(proxy.seen)
        wait_until(lambda: len(proxy.seen) > tried + 4, "the phone asks on", 60)
        proxy.every = lambda _: None
        phone.all_sent(SENT_WITHIN_MS)
        log = server.log()
        assert sum(r["ty"] == "note.written" for r in log) == len(notes), "a note was counted twice"
        assert {r["d"]["text"] for r in log if r["ty"] == "note.written"} == notes
        assert set(phone.outbox()) <= set(server.log_texts())
        assert server.held() == []
        met = {fault for _, path, fault in proxy.seen if fault and "sync/push" in path}
        for kind in (PORTALS, BROKEN):
            assert met & {fault.name for fault in kind}, met
    finally:
        phone.stop()
