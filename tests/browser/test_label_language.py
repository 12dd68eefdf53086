"""Labels speak the farm's language, whatever the phone that prints them speaks."""

from __future__ import annotations

import json
from typing import Any

import pytest
from playwright.sync_api import Request, expect

from .conftest import NewHands
from .harness import FarmServer
from .harness_browser import PHONE
from .harness_sync import sees_all
from .harness_words import I18N, words

pytestmark = pytest.mark.browser


def text_of(language: str, message: str) -> str:
    """A text of a language, from either of its files."""
    for file in (f"{language}.json", f"{language}.rest.json"):
        texts: dict[str, str] = json.loads((I18N / file).read_text(encoding="utf-8"))
        if message in texts:
            return texts[message]
    raise KeyError(message)


def test_labels_speak_the_farms_language_not_the_phones(
    server: FarmServer, new_hands: NewHands
) -> None:
    hands = new_hands(size=PHONE)
    page = hands.page
    jobs: list[dict[str, Any]] = []

    def keep(request: Request) -> None:
        if request.url.endswith("/api/labels") and request.method == "POST":
            jobs.append(request.post_data_json)

    page.on("request", keep)

    hands.phone.go("setup/places/new")
    hands.fill("name", "B1")
    hands.choose(words("choice.type.rack"))
    hands.touch("setup.save")
    hands.heading("B1")

    def printed() -> dict[str, Any]:
        """Print the tag of the rack and one crate's; return both labels' words."""
        found: dict[str, Any] = {}
        for letter, type_ in (("P", "type.P"), ("K", "type.K")):
            hands.phone.go("labels/tags")
            hands.choose(words(type_))
            if letter == "K":
                page.get_by_role("textbox").first.fill("1")
                hands.touch("label.make")
            jobs.clear()
            hands.touch("print.make")
            expect(hands.handle("print.open")).to_be_visible()
            (job,) = jobs
            (label,) = job["labels"]
            found[letter] = label["word"]
            found["language"] = job["language"]
        return found

    # Nothing chosen: as the phone.
    assert printed() == {"P": "Rack", "K": "Crate", "language": "en-GB"}
    for language in ("es", "zh-CN", "vi"):
        hands.phone.go("labels/stock")
        expect(page.get_by_role("img", name=words("label_set.picture"))).to_be_visible()
        hands.choose(text_of("en-GB", f"settings.language.{language}"))
        hands.touch("label_set.stock.keep")
        hands.said("label_set.stock.saved")
        # The screen itself speaks as before.
        expect(page.locator("html")).to_have_attribute("lang", "en-GB")
        wanted = {
            "P": text_of(language, "choice.type.rack"),
            "K": text_of(language, "tag.K"),
            "language": language,
        }
        assert printed() == wanted
    hands.phone.all_sent()
    chosen = [r["d"]["label_language"] for r in server.log() if r["ty"] == "label.chosen"]
    assert chosen == ["es", "zh-CN", "vi"]

    # Another phone, in Spanish, prints in the farm's Vietnamese as well.
    other = new_hands("other", size=PHONE)
    sees_all(other.phone, server.log_texts())
    other.phone.go("settings")
    other.page.get_by_role("radio", name=words("settings.language.es"), exact=True).click()
    expect(other.page.locator("html")).to_have_attribute("lang", "es")
    other.phone.go("labels/tags")
    other.page.on("request", keep)
    jobs.clear()
    other.page.get_by_role("button", name=text_of("es", "print.make"), exact=True).click()
    opened = other.page.get_by_role("link", name=text_of("es", "print.open"))
    expect(opened.or_(other.page.get_by_role("button", name=text_of("es", "print.open"))).first
           ).to_be_visible()  # fmt: skip
    (job,) = jobs
    assert [label["word"] for label in job["labels"]] == [text_of("vi", "choice.type.rack")]
    assert job["language"] == "vi"
