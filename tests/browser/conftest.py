"""One Chromium driver, one built client; a farm's server and phones fresh for each test."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Playwright, sync_playwright

from .harness import ROOT, FarmServer
from .harness_browser import Phone
from .harness_camera import Camera
from .harness_farm import Hands

NewPhone = Callable[..., Phone]
NewHands = Callable[..., Hands]


# A module's, not the session's: the driver allows one at a time, and some modules start their own.
@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="session")
def client() -> None:
    """The built client; BAGTRAIL_STATIC names one that is built already."""
    if not os.environ.get("BAGTRAIL_STATIC"):
        subprocess.run([sys.executable, str(ROOT / "client" / "build.py")], check=True, timeout=600)


@pytest.fixture
def server(tmp_path: Path, client: None) -> Iterator[FarmServer]:
    farm = FarmServer(tmp_path / "farm").start()
    yield farm
    farm.stop()


@pytest.fixture(scope="module")
def demo(client: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[FarmServer]:
    """The demo farm: something on every screen."""
    server = FarmServer(tmp_path_factory.mktemp("demo") / "farm", demo=True).start()
    yield server
    server.stop()


@contextmanager
def looking(
    playwright: Playwright,
    demo: FarmServer,
    folder: Path,
    first: Callable[[Phone], None] | None = None,
    **more: Any,
) -> Iterator[Hands]:
    """The demo owner's paired phone; at the end it is asked what went wrong unseen.

    Args:
        first: what is looked at before the phone is paired.
    """
    phone = Phone(playwright, folder, demo.url, **more).start()
    try:
        if first:
            first(phone)
        phone.pair(demo.pair_code(), "Phone that is looked at")
        phone.all_sent()
        yield Hands(phone, folder)
        assert phone.troubles == []
    finally:
        phone.stop()


@pytest.fixture
def camera(tmp_path: Path) -> Camera:
    return Camera(tmp_path)


@pytest.fixture
def new_phone(playwright: Playwright, tmp_path: Path, server: FarmServer) -> Iterator[NewPhone]:
    """Phones by a name each. After the test they are asked what went wrong unseen."""
    phones: list[Phone] = []

    def make(name: str = "phone", **more: Any) -> Phone:
        phones.append(Phone(playwright, tmp_path / name, server.url, **more).start())
        return phones[-1]

    yield make
    for phone in phones:
        phone.stop()
    assert [t for phone in phones for t in phone.troubles] == []


@pytest.fixture
def new_hands(new_phone: NewPhone, server: FarmServer, tmp_path: Path) -> NewHands:
    """A person with a paired phone; the first one is the owner's."""

    def make(name: str = "phone", camera: Camera | None = None, **more: Any) -> Hands:
        phone = new_phone(name, feed=camera.feed if camera else None, **more)
        phone.pair(server.pair_code(), name)
        return Hands(phone, tmp_path / name, camera)

    return make
