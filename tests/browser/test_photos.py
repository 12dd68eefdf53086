"""Photographs in real Chromium: without a network, cut lines, and storage at its limit."""

from __future__ import annotations

import hashlib
import io
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import expect

from .conftest import NewHands
from .harness import FarmServer, wait_until
from .harness_farm import Hands
from .harness_words import words

pytestmark = pytest.mark.browser

GPS = 0x8825

#: What a device does whose storage ends 60 kB from here: a write that no longer fits aborts its
#: transaction with QuotaExceededError. (Chromium's own override has no effect on IndexedDB here.)
FULL = """
() => {
  let left = 60_000;
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (value, ...key) {
    const size = value?.data instanceof ArrayBuffer ? value.data.byteLength : 500;
    if (size > left) throw new DOMException('Quota exceeded.', 'QuotaExceededError');
    left -= size;
    return put.call(this, value, ...key);
  };
}
"""


def shot(path: Path, seed: int = 40) -> Path:
    """A camera's picture of 12 megapixels with Exif: position, camera, and turned on its side."""
    made = Image.effect_noise((1000, 750), seed).resize((4000, 3000)).convert("RGB")
    exif = Image.Exif()
    exif[0x0110], exif[0x0112] = "camera", 6
    exif.get_ifd(GPS)[2] = (52.0, 30.0, 0.0)
    made.save(path, "JPEG", exif=exif, quality=90)
    assert b"Exif" in path.read_bytes()[:200]
    return path


def take(hands: Hands, bag: str, path: Path, note: str = "") -> None:
    hands.phone.go(f"photo/{bag}")
    hands.heading(words("photo.title"))
    hands.page.locator("input[type=file]").set_input_files(path)
    expect(hands.page.get_by_role("img", name=words("photo.new"))).to_be_visible()
    if note:
        hands.page.get_by_label(words("field.bag_photographed.note")).fill(note)
    hands.touch("photo.keep")


def records(server: FarmServer) -> list[dict[str, object]]:
    return [r["d"] for r in server.log() if r["ty"] == "bag.photographed"]


def stored(server: FarmServer) -> list[Path]:
    return [f for f in (server.data / "photos").glob("*") if f.is_file()]


def test_taken_without_a_network_and_sent_when_there_is_one(
    server: FarmServer, new_hands: NewHands, tmp_path: Path
) -> None:
    hands = new_hands()
    _, bags = hands.mix_and_fill(2, 2_400, "60")
    hands.phone.all_sent()
    hands.phone.shell_ready()
    server.kill()
    take(hands, bags[0], shot(tmp_path / "a.jpg"), "patch torn")
    hands.said("photo.saved")
    # On the bag's page at once, also after the phone was switched off and on.
    hands.phone.kill()
    hands.phone.start()
    hands.phone.open(f"bag/{bags[0]}")
    picture = hands.page.locator("img.photo")
    expect(picture).to_be_visible()
    expect(picture).to_have_attribute("alt", expect_text("patch torn"))
    assert picture.evaluate("img => img.decode().then(() => [img.naturalWidth, img.naturalHeight])"
                            ) == [1200, 1600]  # fmt: skip

    server.start()
    hands.phone.all_sent()
    hands.page.evaluate("dispatchEvent(new Event('online'))")
    wait_until(lambda: stored(server), "the photograph is on the farm's computer", 40)
    (said,) = records(server)
    (file,) = stored(server)
    data = file.read_bytes()
    assert file.name == said["sha256"] == hashlib.sha256(data).hexdigest()
    assert said["bytes"] == len(data)
    seen = Image.open(io.BytesIO(data))
    assert seen.size == (1200, 1600)  # upright, and its long side 1,600
    assert dict(seen.getexif()) == {}
    assert b"Exif" not in data

    # Another phone sees it, from the farm's computer.
    other = new_hands("other")
    other.phone.all_sent()
    other.phone.go(f"bag/{bags[0]}")
    expect(other.page.locator("img.photo")).to_be_visible()


def expect_text(text: str) -> object:
    import re

    return re.compile(re.escape(text))


def test_storage_at_its_limit_is_told_and_no_record_is_lost(
    server: FarmServer, new_hands: NewHands, tmp_path: Path
) -> None:
    hands = new_hands()
    _, bags = hands.mix_and_fill(2, 2_400, "60")
    hands.phone.all_sent()
    hands.phone.shell_ready()
    server.kill()
    take(hands, bags[0], shot(tmp_path / "a.jpg"))
    hands.said("photo.saved")
    hands.page.evaluate(FULL)
    take(hands, bags[1], shot(tmp_path / "b.jpg", 70))
    alert = hands.page.get_by_role("alert").filter(has_text=words("photo.full"))
    expect(alert).to_be_visible()
    # A record still goes in.
    hands.phone.go(f"act/bag.checked/{bags[1]}")
    hands.touch("form.save")
    hands.said("act.saved")
    server.start()
    hands.phone.all_sent()
    hands.page.evaluate("dispatchEvent(new Event('online'))")
    wait_until(lambda: len(stored(server)) == 1, "the first photograph is there", 40)
    kinds = [r["ty"] for r in server.log()]
    assert kinds.count("bag.photographed") == 1
    assert kinds.count("bag.checked") == 1
    assert server.held() == []


def test_a_photograph_is_asked_for_again_after_a_restore(
    server: FarmServer, new_hands: NewHands, tmp_path: Path
) -> None:
    hands = new_hands()
    _, bags = hands.mix_and_fill(2, 2_400, "60")
    hands.phone.all_sent()
    server.stop()
    old = {file: file.read_bytes() for file in server.data.glob("farm.db*")}
    server.start()
    take(hands, bags[0], shot(tmp_path / "a.jpg"))
    hands.said("photo.saved")
    hands.phone.all_sent(60_000)
    wait_until(lambda: stored(server), "the photograph is on the farm's computer", 40)
    (file,) = stored(server)
    data = file.read_bytes()

    # The farm's computer is put back to before the photograph; no backup that counts holds it.
    server.kill()
    for now in server.data.glob("farm.db*"):
        now.unlink()
    for before, held in old.items():
        before.write_bytes(held)
    file.unlink()
    server.start()
    wait_until(lambda: len(records(server)) == 1, "the phone brought the record back", 60)
    server.cli("devices", "--confirm")
    # The phone was never touched nor its page loaded anew.
    wait_until(lambda: stored(server), "the phone sent the photograph again", 60)
    wait_until(lambda: file.is_file() and file.read_bytes() == data, "it is the same picture")


def test_what_is_no_picture_is_told(new_hands: NewHands, tmp_path: Path) -> None:
    hands = new_hands()
    _, bags = hands.mix_and_fill(2, 2_400, "60")
    text = tmp_path / "a.jpg"
    text.write_text("no picture")
    hands.phone.go(f"photo/{bags[0]}")
    hands.page.locator("input[type=file]").set_input_files(text)
    expect(hands.page.get_by_role("alert")).to_contain_text(words("photo.unreadable"))
