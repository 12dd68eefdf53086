"""The farm's own certificate authority: made once, unable to vouch for anything but the farm.

Root and intermediate both carry the name constraints, critical: RFC 5280 lets a verifier pass over
those of a trust anchor, and the root's key is never written down, so that nothing but the
constrained intermediate can ever sign. ``BAGTRAIL_CA_CONSTRAINTS=off`` leaves them out, for
systems that refuse such a root; it counts only while the authority is made.

    ca/root.pem  ca/intermediate.pem  ca/intermediate.key  ca/farm.json     modes 600, folder 700

The folder is part of every backup, sealed (``recovery.SEALED_FOLDERS``).
"""

from __future__ import annotations

import hashlib
import json
import secrets
import shutil
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from .. import ids
from ..errors import BadData, BadSetting
from . import files, names

FOLDER = "ca"
ROOT, INTERMEDIATE, KEY, ABOUT = "root.pem", "intermediate.pem", "intermediate.key", "farm.json"
YEARS = 20
# A computer that lost its clock must not make an authority that is over before it begins.
EARLIEST = datetime(2025, 11, 1, tzinfo=UTC)
BACKDATED = timedelta(days=2)  # phones whose clock is behind
CODE_SYMBOLS = 8


@dataclass(frozen=True)
class Authority:
    """The farm's authority as it lies in the data folder.

    Attributes:
        host: the one DNS name it may vouch for.
        origin: the address phones know the farm by; "" until phones were first served.
        constrained: whether root and intermediate carry name constraints.
    """

    folder: Path
    root: x509.Certificate
    intermediate: x509.Certificate
    key: ec.EllipticCurvePrivateKey
    host: str
    origin: str
    constrained: bool

    @property
    def der(self) -> bytes:
        """The root as phones install it."""
        return self.root.public_bytes(Encoding.DER)

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the root in hex, as systems show it."""
        return hashlib.sha256(self.der).hexdigest()

    @property
    def code(self) -> str:
        """The first 40 bits of the fingerprint as two groups of four, to compare by eye."""
        number = int(self.fingerprint[:10], 16)
        text = "".join(ids.ALPHABET[number >> shift & 31] for shift in range(35, -1, -5))
        return f"{text[:4]}-{text[4:]}"

    @property
    def title(self) -> str:
        """The name under which systems list it."""
        return str(self.root.subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value)

    def keep_origin(self, origin: str) -> Authority:
        """Writes down the farm's one address; a later, other one is refused.

        Raises:
            BadSetting: phones know the farm by another address already.
        """
        if self.origin and self.origin != origin:
            raise BadSetting(
                f"The phones know this farm as {self.origin}, and not as {origin}.",
                "Keep the port as it was: what waits on a phone belongs to its address.",
            )
        if not self.origin:
            about = {**_about(self.folder), "origin": origin}
            files.write(self.folder / ABOUT, json.dumps(about).encode() + b"\n")
        return load(self.folder.parent)


def ensure(data: Path, tag: str, constrained: bool, now: datetime) -> Authority:
    """Returns the authority of a data folder, made at the first call.

    Two processes that start together agree: a folder is made aside and renamed into its place.

    Raises:
        BadData: it is there and cannot be read.
    """
    folder = data / FOLDER
    if not folder.exists():
        aside = data / f".{FOLDER}.{secrets.token_hex(4)}"
        files.make_folder(aside)
        try:
            _make(aside, tag, constrained, max(now, EARLIEST))
            try:
                aside.rename(folder)
            except OSError:
                if not folder.exists():
                    raise
        finally:
            shutil.rmtree(aside, ignore_errors=True)
    return load(data)


def load(data: Path) -> Authority:
    """Returns the authority of a data folder.

    Raises:
        BadData: it is not there, damaged, or its parts do not belong together.
    """
    folder = data / FOLDER
    try:
        root, between = (
            x509.load_pem_x509_certificate((folder / name).read_bytes())
            for name in (ROOT, INTERMEDIATE)
        )
        key = load_pem_private_key((folder / KEY).read_bytes(), None)
        said = _about(folder)
        if not isinstance(key, ec.EllipticCurvePrivateKey):
            raise ValueError("the key is of another kind")
        about = (said["host"], said["origin"], said["constrained"])
        made = Authority(folder, root, between, key, *about)
        between.verify_directly_issued_by(root)
        if key.public_key() != between.public_key():
            raise ValueError("the key is not the certificate's")
    except Exception as bad:  # each library has errors of its own for what is no certificate
        raise BadData(
            f"The farm's certificate authority in {folder} cannot be read ({bad}).",
            "Put the folder back from a backup with the recovery sheet. Deleted, a new authority"
            " is made, and every phone has to install it.",
        ) from bad
    return made


def _about(folder: Path) -> dict[str, Any]:
    said: dict[str, Any] = json.loads((folder / ABOUT).read_text(encoding="utf-8"))
    return said


def _make(folder: Path, tag: str, constrained: bool, now: datetime) -> None:
    host = names.farm_host(tag)
    key_root, key = (ec.generate_private_key(ec.SECP256R1()) for _ in range(2))
    name_root, name = _name(f"Bagtrail farm {tag}"), _name(f"Bagtrail farm {tag} server")
    start = now - BACKDATED
    end = start + timedelta(days=365 * YEARS)
    root = _authority(name_root, name_root, key_root, key_root, 1, start, end, host, constrained)
    between = _authority(name, name_root, key, key_root, 0, start, end, host, constrained)
    # From here on key_root is gone: it was never written.
    files.write(folder / ROOT, root.public_bytes(Encoding.PEM))
    files.write(folder / INTERMEDIATE, between.public_bytes(Encoding.PEM))
    pem = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    files.write(folder / KEY, pem)
    about = {"v": 1, "host": host, "origin": "", "constrained": constrained}
    files.write(folder / ABOUT, json.dumps(about).encode() + b"\n")


def _name(common: str) -> x509.Name:
    # Without a common name iOS shows no switch to trust it.
    return x509.Name([
        x509.NameAttribute(NameOID.ORGANIZATION_NAME, "Bagtrail"),
        x509.NameAttribute(NameOID.COMMON_NAME, common),
    ])  # fmt: skip


def _authority(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePrivateKey,
    signer: ec.EllipticCurvePrivateKey,
    below: int,
    start: datetime,
    end: datetime,
    host: str,
    constrained: bool,
) -> x509.Certificate:
    usage = x509.KeyUsage(
        digital_signature=False, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, key_cert_sign=True, crl_sign=True,
        encipher_only=False, decipher_only=False,
    )  # fmt: skip
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(start)
        .not_valid_after(end)
        .add_extension(x509.BasicConstraints(ca=True, path_length=below), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()), critical=False
        )
    )
    if below == 0:
        only_servers = x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH])
        made = made.add_extension(only_servers, critical=False)
    if constrained:
        # Both kinds: constraints on names alone leave addresses free, and the other way round.
        trees: list[x509.GeneralName] = [x509.DNSName(host)]
        trees += [x509.IPAddress(net) for net in names.NETS]
        limits = x509.NameConstraints(permitted_subtrees=trees, excluded_subtrees=None)
        made = made.add_extension(limits, critical=True)
    return made.sign(signer, SHA256())
