"""The farm's name on the network, this computer's addresses, and which a certificate may carry."""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Iterable
from dataclasses import dataclass

import ifaddr

# What the authority may vouch for besides the farm's own name (RFC 1918, RFC 4193).
NETS = tuple(
    ipaddress.ip_network(net)
    for net in ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "fc00::/7")
)
# Networks that exist inside this computer only: no phone stands on them.
INNER = re.compile(r"(lo|docker|br-|veth|virbr|vmnet|vboxnet|cni|flannel|podman|lxc)", re.ASCII)


@dataclass(frozen=True, order=True)
class Card:
    """One address of one network card."""

    name: str
    address: str


def farm_host(tag: str) -> str:
    """Returns the farm's name: one a farm, as a second host of one name is noticed by nobody."""
    return f"farm-{tag.lower()}.local"


def permitted(address: str) -> bool:
    """Returns whether the farm's certificate may carry an address."""
    try:
        ip = ipaddress.ip_address(address)
    except ValueError:
        return False
    return any(ip in net for net in NETS if net.version == ip.version)


def cards() -> list[Card]:
    """Returns this computer's addresses as the system tells them, without inner networks."""
    found = []
    for adapter in ifaddr.get_adapters():
        name = str(adapter.nice_name or adapter.name)
        if INNER.match(name):
            continue
        for each in adapter.ips:
            address = each.ip if isinstance(each.ip, str) else each.ip[0]
            found.append(Card(name, address))
    return sorted(set(found))


def reachable(among: Iterable[Card] | None = None) -> list[str]:
    """Returns the IPv4 addresses that phones are told: the private ones, else what there is."""
    found = set()
    for card in cards() if among is None else among:
        ip = ipaddress.ip_address(card.address.partition("%")[0])
        if ip.version == 4 and not (ip.is_loopback or ip.is_link_local or ip.is_multicast):
            found.add(ip)
    private = {ip for ip in found if permitted(str(ip))}
    return [str(ip) for ip in sorted(private or found)]


def lan_addresses(among: Iterable[Card] | None = None) -> list[str]:
    """Returns the addresses that the certificate is to carry, IPv4 first."""
    these = cards() if among is None else among
    good = {card.address for card in these if permitted(card.address)}
    return sorted(good, key=lambda a: (":" in a, ipaddress.ip_address(a)))


def url_host(host: str) -> str:
    """Returns a host as it stands in an address: IPv6 in brackets."""
    return f"[{host}]" if ":" in host else host


def bare_host(header: str) -> str:
    """Returns the host of a ``Host`` header without its port, lower case; "" for no host at all."""
    found = re.fullmatch(r"(\[[0-9A-Fa-f:.]{2,45}\]|[A-Za-z0-9_.-]{1,253})(:\d{1,5})?", header)
    return found[1].strip("[]").rstrip(".").lower() if found else ""


def is_address(host: str) -> bool:
    """Returns whether a host is written as an IP address."""
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True
