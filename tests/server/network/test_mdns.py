"""The farm's name on the network, across two network namespaces of this kernel."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.lan import LanFarm
from tests.served import ROOT

BARRED = ""
if not sys.platform.startswith("linux") or shutil.which("ip") is None:
    BARRED = "needs Linux and the program ip"
elif os.geteuid() != 0:
    BARRED = "needs root, to make two network namespaces"

# What a phone does, in a process of its own namespace: ask for the name, then open its https.
PHONE = """
import json, socket, ssl, sys
from zeroconf import AddressResolverIPv4, Zeroconf
name, root, port, mine = sys.argv[1:]
seen = Zeroconf(interfaces=[mine])
found = AddressResolverIPv4(name + '.')
said = {'addresses': [], 'served': None}
if found.request(seen, 3000):
    said['addresses'] = found.parsed_addresses()
    trust = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    trust.load_verify_locations(root)
    for host in (name, said['addresses'][0]):
        with socket.create_connection((said['addresses'][0], int(port)), 5) as raw:
            with trust.wrap_socket(raw, server_hostname=host) as link:
                said['served'] = link.version()
seen.close()
print(json.dumps(said))
"""


def run(*words: str) -> str:
    done = subprocess.run(words, capture_output=True, text=True, timeout=30)
    if done.returncode:
        raise OSError(f"{' '.join(words)}: {done.stderr}")
    return done.stdout


class Wire:
    """Two namespaces joined by a cable: the farm's computer and a phone."""

    def __init__(self) -> None:
        tail = f"{os.getpid() % 10_000}"
        self.farm, self.phone = f"btf{tail}", f"btp{tail}"
        for name in (self.farm, self.phone):
            run("ip", "netns", "add", name)
        run("ip", "link", "add", "wire0", "netns", self.farm, "type", "veth",
            "peer", "name", "wire0", "netns", self.phone)  # fmt: skip
        for name, address in ((self.farm, "192.168.77.1"), (self.phone, "192.168.77.2")):
            self.ip(name, "addr", "add", f"{address}/24", "dev", "wire0")
            for link in ("lo", "wire0"):
                self.ip(name, "link", "set", link, "up")
            self.ip(name, "route", "add", "default", "dev", "wire0")

    def ip(self, name: str, *words: str) -> str:
        return run("ip", "-n", name, *words)

    def enter(self, name: str) -> list[str]:
        return ["ip", "netns", "exec", name]

    def close(self) -> None:
        for name in (self.farm, self.phone):
            subprocess.run(["ip", "netns", "del", name], check=False, capture_output=True)


@pytest.fixture
def wire() -> Iterator[Wire]:
    if BARRED:
        pytest.skip(BARRED)
    made = None
    try:
        made = Wire()
    except OSError as bad:
        pytest.skip(f"this machine allows no network namespaces: {bad}")
    yield made
    made.close()


class HiddenFarm(LanFarm):
    """A farm's server in a namespace, where no test of this one can reach it."""

    def __init__(self, folder: Path, wire: Wire) -> None:
        self.before = tuple(wire.enter(wire.farm))
        super().__init__(folder)


@pytest.fixture
def farm(wire: Wire, tmp_path: Path) -> Iterator[HiddenFarm]:
    made = HiddenFarm(tmp_path / "farm", wire)
    state = tmp_path / "farm" / "tls" / "lan.json"
    made.wait_for(state.exists, "the network's state")
    yield made
    made.stop()


def look(wire: Wire, farm: LanFarm) -> dict[str, Any]:
    """What a phone on the other end of the cable finds."""
    return json.loads(
        run(*wire.enter(wire.phone), sys.executable, "-c", PHONE, farm.host,
            str(farm.folder / "ca" / "root.pem"), str(farm.tls_port), "192.168.77.2")
    )  # fmt: skip


def until(ask: Callable[[], Any], wanted: Any, seconds: float = 25) -> Any:
    end = time.monotonic() + seconds
    while (found := ask()) != wanted and time.monotonic() < end:
        time.sleep(0.3)
    return found


def test_a_phone_finds_the_farm_by_name_and_follows_it_to_a_new_address(
    wire: Wire, farm: HiddenFarm
) -> None:
    there = {"addresses": ["192.168.77.1"], "served": "TLSv1.3"}
    assert until(lambda: look(wire, farm), there) == there
    # The router gives another number: a new certificate that covers it, and the name follows.
    wire.ip(wire.farm, "addr", "del", "192.168.77.1/24", "dev", "wire0")
    wire.ip(wire.farm, "addr", "add", "192.168.77.9/24", "dev", "wire0")
    wire.ip(wire.farm, "route", "replace", "default", "dev", "wire0")
    moved = {"addresses": ["192.168.77.9"], "served": "TLSv1.3"}

    def seen() -> Any:
        try:
            return look(wire, farm)
        except OSError:  # the old certificate, or nobody there yet
            return None

    assert until(seen, moved) == moved


def test_a_second_farm_of_the_same_name_is_told(wire: Wire, farm: HiddenFarm) -> None:
    there = {"addresses": ["192.168.77.1"], "served": "TLSv1.3"}
    assert until(lambda: look(wire, farm), there) == there
    tag = farm.host.removeprefix("farm-").removesuffix(".local").upper()
    second = f"""
from bagtrail.network.mdns import Announcer
one = Announcer({farm.host!r}, {tag!r}, 8443)
one.announce(['192.168.77.2'])
print(one.fault)
one.close()
"""
    path = os.pathsep.join([str(ROOT / "server"), str(ROOT / "labels")])
    said = run(*wire.enter(wire.phone), "env", f"PYTHONPATH={path}", sys.executable, "-c", second)
    assert said.strip() == f"another computer on this network is called {farm.host}"


# zeroconf leaves a socket to the collector when its card is not there.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_computer_on_no_network_says_so() -> None:
    from bagtrail.network.mdns import Announcer

    one = Announcer("farm-7k3q.local", "7K3Q", 8443)
    one.announce([])
    assert one.fault == "this computer is on no network"
    one.announce(["192.0.2.77"])  # an address that no card here has
    assert one.fault.startswith("the name cannot be announced")
    assert one.addresses == ()
    one.close()
