"""The farm's authority and its server's certificate, held against OpenSSL's own verification."""

from __future__ import annotations

import hashlib
import ipaddress
import ssl
import stat
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID

from bagtrail import recovery
from bagtrail.errors import BadData, BadSetting
from bagtrail.network import ca, lan, leaf, names

NOW = datetime.now(UTC).replace(microsecond=0)
HOST = "farm-7k3q.local"


@pytest.fixture
def authority(tmp_path: Path) -> ca.Authority:
    return ca.ensure(tmp_path, "7K3Q", True, NOW)


def handshake(root: bytes, pem: bytes, folder: Path, name: str) -> str:
    """Returns "" when a client that trusts the root takes the server for `name`, else why not."""
    file = folder / "server.pem"
    file.write_bytes(pem)
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(file)
    client = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    client.load_verify_locations(cadata=root)
    ways = [ssl.MemoryBIO() for _ in range(4)]
    one = client.wrap_bio(ways[0], ways[1], server_hostname=name)
    other = server.wrap_bio(ways[2], ways[3], server_side=True)
    for _ in range(4):
        for end, out, into in ((one, ways[1], ways[2]), (other, ways[3], ways[0])):
            try:
                end.do_handshake()
            except ssl.SSLWantReadError:
                pass
            except ssl.SSLCertVerificationError as bad:
                return bad.verify_message
            into.write(out.read())
    assert one.version() == "TLSv1.3"
    return ""


def signed_by(authority: ca.Authority, *alternatives: x509.GeneralName) -> bytes:
    """What a thief of the intermediate's key could sign."""
    made = leaf.issue(authority, [], NOW)
    key = load_pem_private_key(made, None)
    cert = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([]))
        .issuer_name(authority.intermediate.subject)
        .public_key(key.public_key())  # type: ignore[arg-type]
        .serial_number(7)
        .not_valid_before(NOW - timedelta(days=1))
        .not_valid_after(NOW + timedelta(days=9))
        .add_extension(x509.SubjectAlternativeName(alternatives), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(authority.key, SHA256())
    )
    return (
        key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        + cert.public_bytes(Encoding.PEM)
        + authority.intermediate.public_bytes(Encoding.PEM)
    )


@pytest.mark.parametrize("name", [HOST, "192.168.1.50", "10.0.0.7", "172.16.9.9", "fd00::7"])
def test_the_farms_own_name_and_addresses_are_taken(
    authority: ca.Authority, tmp_path: Path, name: str
) -> None:
    pem = leaf.issue(authority, ["192.168.1.50", "10.0.0.7", "172.16.9.9", "fd00::7"], NOW)
    assert handshake(authority.der, pem, tmp_path, name) == ""
    assert handshake(authority.der, pem, tmp_path, "farm-0000.local") != ""


def test_nothing_else_can_be_signed_even_with_the_key(
    authority: ca.Authority, tmp_path: Path
) -> None:
    ip = ipaddress.ip_address
    for name, alternative in (
        ("shop.example", x509.DNSName("shop.example")),
        ("farm-0000.local", x509.DNSName("farm-0000.local")),
        ("203.0.113.5", x509.IPAddress(ip("203.0.113.5"))),
        ("2001:db8::1", x509.IPAddress(ip("2001:db8::1"))),
    ):
        told = handshake(authority.der, signed_by(authority, alternative), tmp_path, name)
        assert "permitted subtree violation" in told, name
    good = signed_by(authority, x509.DNSName(HOST))
    assert handshake(authority.der, good, tmp_path, HOST) == ""


def test_without_constraints_the_switch_is_what_it_says(tmp_path: Path) -> None:
    free = ca.ensure(tmp_path, "7K3Q", False, NOW)
    shop = signed_by(free, x509.DNSName("shop.example"))
    assert handshake(free.der, shop, tmp_path, "shop.example") == ""
    assert not free.constrained
    # It counts while the authority is made, and not later.
    assert not ca.ensure(tmp_path, "7K3Q", True, NOW).constrained


def test_an_address_outside_the_private_nets_strands_nobody(
    authority: ca.Authority, tmp_path: Path
) -> None:
    pem = leaf.issue(authority, ["203.0.113.5", "100.64.0.1", "169.254.3.3", "10.0.0.7"], NOW)
    assert handshake(authority.der, pem, tmp_path, HOST) == ""
    found = x509.load_pem_x509_certificates(pem)[0]
    held = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert [str(a) for a in held.get_values_for_type(x509.IPAddress)] == ["10.0.0.7"]


def test_root_and_intermediate_both_carry_critical_constraints(authority: ca.Authority) -> None:
    for cert in (authority.root, authority.intermediate):
        found = cert.extensions.get_extension_for_class(x509.NameConstraints)
        assert found.critical
        assert found.value.excluded_subtrees is None
        trees = [str(getattr(t, "value", t)) for t in found.value.permitted_subtrees or []]
        assert trees == [HOST, "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "fc00::/7"]
    basic = [
        c.extensions.get_extension_for_class(x509.BasicConstraints).value.path_length
        for c in (authority.root, authority.intermediate)
    ]
    assert basic == [1, 0]


def test_the_roots_key_is_nowhere(authority: ca.Authority) -> None:
    kept = sorted(p.name for p in authority.folder.iterdir())
    assert kept == ["farm.json", "intermediate.key", "intermediate.pem", "root.pem"]
    assert authority.key.public_key() != authority.root.public_key()
    beside = [p for p in authority.folder.parent.iterdir() if p.name.startswith(".")]
    assert beside == []


def test_keys_are_for_their_owner_only(authority: ca.Authority, tmp_path: Path) -> None:
    leaf.ensure(tmp_path, authority, ["10.0.0.7"], NOW)
    for folder in (tmp_path / ca.FOLDER, (tmp_path / leaf.FILE).parent):
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700
        for file in folder.iterdir():
            assert stat.S_IMODE(file.stat().st_mode) == 0o600, file


def test_the_leaf_keeps_what_phones_ask_for(authority: ca.Authority) -> None:
    cert = x509.load_pem_x509_certificates(leaf.issue(authority, ["10.0.0.7"], NOW))[0]
    lives = cert.not_valid_after_utc - cert.not_valid_before_utc
    assert lives == timedelta(days=397)
    assert cert.not_valid_before_utc <= NOW - timedelta(days=1)
    use = cert.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(use) == [ExtendedKeyUsageOID.SERVER_AUTH]
    assert isinstance(cert.signature_hash_algorithm, SHA256)


@pytest.mark.parametrize(
    ("days", "addresses", "why"),
    [
        (0, ["10.0.0.7"], ""),
        (334, ["10.0.0.7"], ""),
        (336, ["10.0.0.7"], "days are left"),
        (500, ["10.0.0.7"], "days are left"),
        (-30, ["10.0.0.7"], "the clock went back"),
        (0, ["10.0.0.7", "10.0.0.8"], "addresses have changed"),
        (0, ["192.168.7.7"], "addresses have changed"),
        # A card that is off for a moment, or an address nobody may vouch for: nothing to do.
        (0, [], ""),
        (0, ["10.0.0.7", "203.0.113.5"], ""),
    ],
)
def test_when_a_new_certificate_is_due(
    authority: ca.Authority, tmp_path: Path, days: int, addresses: list[str], why: str
) -> None:
    assert leaf.ensure(tmp_path, authority, ["10.0.0.7"], NOW) == "there is none"
    found = leaf.why_due(tmp_path / leaf.FILE, authority, addresses, NOW + timedelta(days=days))
    assert found == why if not why else why in found


def test_one_of_another_authority_or_a_damaged_one_is_replaced(tmp_path: Path) -> None:
    mine, other = (ca.ensure(tmp_path / n, "7K3Q", True, NOW) for n in ("a", "b"))
    leaf.ensure(tmp_path, other, [], NOW)
    assert leaf.ensure(tmp_path, mine, [], NOW) == "it is of another authority"
    (tmp_path / leaf.FILE).write_text("cut off")
    assert leaf.ensure(tmp_path, mine, [], NOW) == "there is none"
    assert leaf.ensure(tmp_path, mine, [], NOW) == ""


def test_a_computer_without_a_clock_makes_no_authority_that_is_over(tmp_path: Path) -> None:
    made = ca.ensure(tmp_path, "7K3Q", True, datetime(1970, 1, 1, tzinfo=UTC))
    assert made.root.not_valid_after_utc > NOW + timedelta(days=365 * 15)


def test_two_starts_at_once_agree_on_one_authority(tmp_path: Path) -> None:
    for i in range(5):
        with ThreadPoolExecutor(4) as pool:
            folders = [tmp_path / str(i)] * 4
            for folder in folders:
                folder.mkdir(exist_ok=True)
            made = list(pool.map(lambda f: ca.ensure(f, "7K3Q", True, NOW), folders))
        assert len({m.fingerprint for m in made}) == 1
        assert [p.name for p in folders[0].iterdir()] == ["ca"]


@pytest.mark.parametrize("file", [ca.ROOT, ca.INTERMEDIATE, ca.KEY, ca.ABOUT])
def test_a_damaged_authority_is_said_and_not_replaced(
    authority: ca.Authority, tmp_path: Path, file: str
) -> None:
    (authority.folder / file).write_text("x")
    with pytest.raises(BadData, match="authority"):
        ca.ensure(tmp_path, "7K3Q", True, NOW)
    assert (authority.folder / file).read_text() == "x"


def test_parts_of_two_authorities_do_not_pass_for_one(tmp_path: Path) -> None:
    mine, other = (ca.ensure(tmp_path / n, "7K3Q", True, NOW) for n in ("a", "b"))
    (mine.folder / ca.KEY).write_bytes((other.folder / ca.KEY).read_bytes())
    with pytest.raises(BadData):
        ca.load(tmp_path / "a")


def test_the_short_code_is_the_fingerprints_beginning(authority: ca.Authority) -> None:
    number = int(hashlib.sha256(authority.der).hexdigest()[:10], 16)
    said = 0
    for symbol in authority.code.replace("-", ""):
        said = said << 5 | "0123456789ABCDEFGHJKMNPQRSTVWXYZ".index(symbol)
    assert said == number
    assert len(authority.code) == 9


def test_the_address_is_kept_and_another_is_refused(
    authority: ca.Authority, tmp_path: Path
) -> None:
    kept = authority.keep_origin(f"https://{HOST}:8443")
    assert ca.load(tmp_path).origin == kept.origin == f"https://{HOST}:8443"
    with pytest.raises(BadSetting, match="phones know"):
        kept.keep_origin(f"https://{HOST}:9443")


def test_the_recovery_sheet_keeps_authority_and_address(
    authority: ca.Authority, tmp_path: Path
) -> None:
    authority.keep_origin(f"https://{HOST}:8443")
    (tmp_path / "identity.json").write_text("{}")
    leaf.ensure(tmp_path, authority, [], NOW)
    found = recovery.secrets_of(tmp_path)
    # The server's certificate is made anew on the new computer.
    assert not [name for name in found if name.startswith("tls/")]
    new = tmp_path / "new"
    new.mkdir()
    recovery.put_secrets(new, found)
    again = ca.load(new)
    assert (again.fingerprint, again.origin) == (authority.fingerprint, f"https://{HOST}:8443")
    assert stat.S_IMODE((new / ca.FOLDER / ca.KEY).stat().st_mode) == 0o600


@pytest.mark.parametrize(
    ("address", "good"),
    [
        ("10.255.255.255", True), ("172.15.0.1", False), ("172.16.0.1", True),
        ("172.31.255.1", True), ("172.32.0.1", False), ("192.168.0.1", True),
        ("192.169.0.1", False), ("127.0.0.1", False), ("169.254.1.1", False), ("8.8.8.8", False),
        ("fd12::1", True), ("fe80::1", False), ("2001:db8::1", False), ("::1", False),
        ("fe80::1%eth0", False), ("farm.local", False), ("", False),
    ],
)  # fmt: skip
def test_which_addresses_may_be_vouched_for(address: str, good: bool) -> None:
    assert names.permitted(address) is good


def test_the_square_holds_only_what_the_certificate_carries(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    authority = ca.ensure(tmp_path, "7K3Q", True, NOW)
    path = tmp_path / leaf.FILE
    stands = lan.Standing(f"https://{HOST}:8443", path, path, authority, 8780)
    card = names.Card
    here = [card("eth0", "10.0.0.5"), card("wlan0", "192.168.1.9"), card("eth1", "192.0.2.1")]
    monkeypatch.setattr(names, "cards", lambda: here)
    assert stands.welcome_url() == f"http://{HOST}:8780/"  # no certificate yet
    leaf.ensure(tmp_path, authority, ["192.168.1.9", "192.0.2.1"], NOW)
    # The first found is new, or of a network no farm's authority may vouch for: not these.
    assert stands.welcome_url() == "http://192.168.1.9:8780/"
    here = here[2:]
    assert stands.welcome_url() == f"http://{HOST}:8780/"


def test_phones_are_told_private_addresses_first_and_never_inner_ones() -> None:
    card = names.Card
    both = [card("eth0", "192.0.2.1"), card("wlan0", "192.168.1.9"), card("lo", "127.0.0.1")]
    assert names.reachable(both) == ["192.168.1.9"]
    assert names.reachable(both[:1]) == ["192.0.2.1"]
    assert names.reachable([card("eth0", "169.254.9.9"), card("eth0", "fd00::1")]) == []
    assert names.lan_addresses([card("eth0", "fd00::1"), *both]) == ["192.168.1.9", "fd00::1"]
    assert not [c for c in names.cards() if c.address.startswith("127.")]


@pytest.mark.parametrize(
    ("header", "host"),
    [
        ("farm-7k3q.local:8443", HOST), ("FARM-7K3Q.local.", HOST), ("10.0.0.7", "10.0.0.7"),
        ("[fd00::1]:8443", "fd00::1"), ("a b", ""), ("a/b", ""), ("a\r\nX: y", ""), ("", ""),
        ("a@b", ""), ("farm:port", ""), ("x" * 300, ""), ('"><script>', ""),
    ],
)  # fmt: skip
def test_hosts_are_read_and_nothing_else(header: str, host: str) -> None:
    assert names.bare_host(header) == host
