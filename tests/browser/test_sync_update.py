"""A13: the app changes to a later release and back with records waiting and an old tab in use.

The later release is a real build whose rows have another form (so its view is another one), in
which a field has another name and a kind is gone. All of them have one outbox, never migrated.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Playwright, expect
from tests.faults import BUSY, FaultProxy

from .harness import ROOT, FarmServer, wait_until
from .harness_browser import Phone
from .harness_farm import Hands
from .harness_sync import build_next
from .harness_words import words
from .test_offline import SENT_WITHIN_MS, WRITE_NOTES, start_batch
from .test_shell import look_for_update

pytestmark = pytest.mark.browser

SHELL = "async () => (await caches.keys()).filter((k) => k.startsWith('bagtrail-shell-'))"
OLD = "() => { globalThis.old = true }"
N = 125 if os.environ.get("BAGTRAIL_LONG") else 8


@pytest.fixture(scope="module")
def later(client: None, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build_next(tmp_path_factory.mktemp("later"))


@pytest.fixture
def proxy(server: FarmServer) -> Iterator[FaultProxy]:
    with FaultProxy(server.port) as found:
        yield found


def write(page: Page, batch: str, text: str, field: str) -> None:
    """Write N notes on the form, whose field has one name or the other."""
    script = WRITE_NOTES.replace('data-field="text"', f'data-field="{field}"')
    page.evaluate(script, [f"#/act/note.written/{batch}", words("form.save"), text, N])


def loaded_anew(page: Page) -> None:
    """Wait until a tab marked with OLD has loaded itself anew, with its rail."""
    page.wait_for_function("() => !globalThis.old && document.readyState === 'complete'")
    expect(page.get_by_role("navigation", name=words("nav.label"))).to_be_visible()


def change_version(page: Page, names: Any) -> None:
    """Change to the version that waits, as a person does on the settings page."""
    look_for_update(page)
    page.evaluate("() => { location.hash = '#/settings' }")
    page.evaluate(OLD)
    page.get_by_role("button", name=words("settings.update"), exact=True).click()
    loaded_anew(page)
    assert page.evaluate(SHELL) != names


def test_P1_P3_A13_a_later_release_and_back_with_a_full_queue_and_an_old_tab(
    server: FarmServer,
    later: Path,
    proxy: FaultProxy,
    playwright: Playwright,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    phone = Phone(playwright, tmp_path / "phone", proxy.url).start()
    try:
        phone.pair(server.pair_code(), "Phone")
        batch = start_batch(Hands(phone, tmp_path / "phone"))
        phone.shell_ready()
        page = phone.page
        proxy.by_path = lambda path: BUSY if path.startswith("/api/sync") else None
        first = Path(os.environ.get("BAGTRAIL_STATIC") or ROOT / "client" / "dist")
        field, wrote = "text", 0
        for turn, (release, new_field) in enumerate([(later, "words"), (first, "text")]):
            names = page.evaluate(SHELL)
            write(page, batch, f"turn{turn}", field)
            # A second tab of this version with a note half typed: it stays as it is.
            old = phone.context.new_page()
            phone.watch(old)
            old.goto(f"{proxy.url}/#/act/note.written/{batch}")
            box = old.locator(f'[data-field="{field}"]').get_by_role("textbox")
            box.fill(f"old{turn}")
            server.stop()
            monkeypatch.setenv("BAGTRAIL_STATIC", str(release))
            server.start()
            change_version(page, names)
            write(page, batch, f"turn{turn}-new", new_field)
            # Both versions are at work on one outbox.
            assert box.input_value() == f"old{turn}"
            old.evaluate(OLD)
            old.get_by_role("button", name=words("form.save"), exact=True).click()
            loaded_anew(old)  # saved, it has nothing in hand any more and follows
            wrote += 2 * N + 1
            wait_until(lambda n=wrote: phone.unsent() == n, "all of it waits", 30)
            old.close()
            field = new_field
        queued = phone.outbox()[-wrote:]
        proxy.by_path = lambda _: None
        phone.now()
        phone.all_sent(SENT_WITHIN_MS)
        texts = server.log_texts()
        assert len(set(queued)) == wrote == 4 * N + 2
        assert set(queued) <= set(texts), "a record did not arrive byte for byte"
        assert len(texts) == len(set(texts))
        # What this server's version cannot fold yet is held, not lost: the later release's notes.
        tv2 = [text for text in queued if '"words":' in text]
        assert len(tv2) == 2 * N + 1
        assert len(server.held()) == len(tv2)
        phone.open(f"batch/{batch}")
        phone.up()
        expect(page.get_by_role("heading", level=1)).to_be_visible()
        assert phone.troubles == []
    finally:
        phone.stop()
