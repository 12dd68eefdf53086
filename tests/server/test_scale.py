"""The scale on the farm's computer: a pseudo-terminal in place of its cable."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from bagtrail.scale import Scale

pty = pytest.importorskip("pty", reason="Windows has no pseudo-terminals")
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")


class Cable:
    """The scale's end of a line."""

    def __init__(self) -> None:
        self.master, self._slave = pty.openpty()
        self.port = os.ttyname(self._slave)

    def send(self, data: bytes) -> None:
        os.write(self.master, data)

    def pull(self) -> None:
        os.close(self.master)
        os.close(self._slave)


@pytest.fixture
def cable() -> Iterator[Cable]:
    made = Cable()
    yield made
    for end in (made.master, made._slave):
        try:
            os.close(end)
        except OSError:
            pass


def until(true: Callable[[], Any], seconds: float = 30) -> Any:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := true():
            return found
        time.sleep(0.02)
    raise AssertionError("not in time")


def listening(scale: Scale) -> None:
    """Ask for the first time and wait until the port is open: what is sent before is lost."""
    opened, say = threading.Event(), scale._say

    def heard(state: str) -> None:
        say(state)
        if state == "open":
            opened.set()

    scale._say = heard  # type: ignore[method-assign]
    scale.since(-1)
    assert opened.wait(30)


def texts(scale: Scale, after: int = 0) -> list[str]:
    return [text for _, text in scale.since(after)["lines"]]


def test_lines_come_as_they_were_sent_however_they_were_torn(cable: Cable) -> None:
    scale = Scale(cable.port, 9600)
    listening(scale)
    assert scale.since(-1)["lines"] == []
    for piece in (b".83kg\r\nST,GS,+0", b"001.834kg\r", b"\nUS,GS,+0001.835kg\r\n\r\n"):
        cable.send(piece)
        time.sleep(0.05)
    assert until(lambda: len(texts(scale)) == 2 and texts(scale)) == [
        "ST,GS,+0001.834kg", "US,GS,+0001.835kg",
    ]  # fmt: skip
    last = scale.since(0)["n"]
    assert texts(scale, last) == []
    cable.send(b"x" * 5_000 + b"\r\nST,GS,+0002.000kg\r\n")
    assert until(lambda: texts(scale, last)) == ["ST,GS,+0002.000kg"]
    assert scale.since(10_000)["lines"], "a desk that counted with another server starts over"


def test_a_pulled_cable_is_told_and_what_lay_there_is_forgotten(cable: Cable) -> None:
    scale = Scale(cable.port, 9600)
    listening(scale)
    cable.send(b"\nST,GS,+0001.834kg\r\n")
    until(lambda: texts(scale))
    cable.pull()
    assert until(lambda: scale.since(0)["state"] == "gone")
    assert texts(scale) == []


def test_a_port_that_is_not_there_is_gone() -> None:
    scale = Scale("/dev/no-such-scale", 9600)
    scale.since(-1)
    assert until(lambda: scale.since(-1)["state"] == "gone")


def test_the_port_is_let_go_when_nobody_asks(cable: Cable) -> None:
    now = [0.0]
    scale = Scale(cable.port, 9600, lambda: now[0])
    scale.since(-1)
    assert scale._thread is not None
    now[0] = 60.0
    scale._thread.join(5)
    assert not scale._thread.is_alive()
    scale.since(-1)
    assert scale._thread.is_alive()


def test_a_desk_asks_over_http_and_names_no_port(server: Any, phone: Any, cable: Cable) -> None:
    assert phone.get("/api/scale").json == {"k": "scale1", "state": "unset", "n": 0, "lines": []}
    scale = server.app.extensions["bagtrail.scale"] = Scale(cable.port, 9600)
    listening(scale)
    cable.send(b"\nST,GS,+0001.834kg\r\n")
    got = until(lambda: phone.get("/api/scale", after=0).json["lines"])
    assert got == [[1, "ST,GS,+0001.834kg"]]
    assert phone.get("/api/scale", after=0, port="/etc/passwd").json["state"] == "open"
    assert phone.get("/api/scale", after="x").status_code == 422
    assert server.http.get("/api/scale").status_code == 401
