"""The server's own certificate: 397 days, made anew at 60 left and when addresses change.

One file holds the key and the chain, so that one rename changes both at once.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from . import ca, files, names

FILE = Path("tls") / "server.pem"
# Phones bind authorities of their owner to 825 days at most, public ones to 398.
DAYS = 397
RENEW_DAYS = 60


@dataclass(frozen=True)
class Leaf:
    """A server's certificate: for whom, and until when (ms UTC)."""

    hosts: tuple[str, ...]
    addresses: tuple[str, ...]
    since: int
    until: int

    def days_left(self, now_ms: int) -> int:
        """Returns the whole days left, negative once it is over."""
        return (self.until - now_ms) // 86_400_000


def read(path: Path) -> Leaf | None:
    """Returns the certificate in a PEM file (the first one), None where there is none."""
    try:
        return _leaf(x509.load_pem_x509_certificates(path.read_bytes())[0])
    except (OSError, ValueError, IndexError):
        return None


def _leaf(cert: x509.Certificate) -> Leaf:
    try:
        names_ = cert.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
        hosts = tuple(names_.get_values_for_type(x509.DNSName))
        addresses = tuple(str(a) for a in names_.get_values_for_type(x509.IPAddress))
    except x509.ExtensionNotFound:
        hosts = addresses = ()
    return Leaf(hosts, addresses, _ms(cert.not_valid_before_utc), _ms(cert.not_valid_after_utc))


def _ms(at: datetime) -> int:
    return int(at.timestamp() * 1000)


def why_due(path: Path, authority: ca.Authority, addresses: Sequence[str], now: datetime) -> str:
    """Returns why a new certificate has to be made, "" when the one there will do."""
    found = read(path)
    if found is None:
        return "there is none"
    try:
        cert = x509.load_pem_x509_certificates(path.read_bytes())[0]
        cert.verify_directly_issued_by(authority.intermediate)
    except Exception:  # whatever the library dislikes about it, it is not of this authority
        return "it is of another authority"
    if found.days_left(_ms(now)) < RENEW_DAYS:
        return f"{found.days_left(_ms(now))} days are left"
    if found.since > _ms(now):
        return "the clock went back"
    if found.hosts != (authority.host,):
        return "the name is another"
    if not set(filter(names.permitted, addresses)) <= set(found.addresses):
        return "the addresses have changed"
    return ""


def ensure(data: Path, authority: ca.Authority, addresses: Sequence[str], now: datetime) -> str:
    """Makes a new certificate if one is due; returns why, "" when none was."""
    path = data / FILE
    why = why_due(path, authority, addresses, now)
    if why:
        files.make_folder(path.parent)
        files.write(path, issue(authority, addresses, now))
    return why


def issue(authority: ca.Authority, addresses: Sequence[str], now: datetime) -> bytes:
    """Returns a new key and its chain as PEM.

    Args:
        addresses: this computer's; those the authority may not vouch for are left out, because
            one of them would make phones refuse the whole certificate.
    """
    key = ec.generate_private_key(ec.SECP256R1())
    now = max(now, ca.EARLIEST)
    start = max(now - ca.BACKDATED, authority.root.not_valid_before_utc)
    good = [ipaddress.ip_address(a) for a in addresses if names.permitted(a)]
    usage = x509.KeyUsage(
        digital_signature=True, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, key_cert_sign=False, crl_sign=False,
        encipher_only=False, decipher_only=False,
    )  # fmt: skip
    signer = authority.key
    made = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, authority.host)]))
        .issuer_name(authority.intermediate.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(start)
        .not_valid_after(start + timedelta(days=DAYS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.SubjectAlternativeName(
                [x509.DNSName(authority.host), *(x509.IPAddress(ip) for ip in good)]
            ),
            critical=False,
        )
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()), critical=False
        )
        .sign(signer, SHA256())
    )
    return (
        key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        + made.public_bytes(Encoding.PEM)
        + authority.intermediate.public_bytes(Encoding.PEM)
    )
