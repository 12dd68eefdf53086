"""The farm's authority as an iOS configuration profile."""

from __future__ import annotations

import plistlib
import uuid

from .ca import Authority

TYPE = "application/x-apple-aspen-config"


def mobileconfig(authority: Authority, farm_name: str) -> bytes:
    """Returns the profile; its identifiers follow from the root, so that a second one replaces."""

    def unique(what: str) -> str:
        name = f"bagtrail:{authority.fingerprint}:{what}"
        return str(uuid.uuid5(uuid.NAMESPACE_URL, name)).upper()

    base = "app.bagtrail." + authority.host.removesuffix(".local")
    root = {
        "PayloadType": "com.apple.security.root",
        "PayloadVersion": 1,
        "PayloadIdentifier": f"{base}.root",
        "PayloadUUID": unique("root"),
        "PayloadDisplayName": authority.title,
        "PayloadCertificateFileName": "farm.cer",
        "PayloadContent": authority.der,
    }
    return plistlib.dumps({
        "PayloadType": "Configuration",
        "PayloadVersion": 1,
        "PayloadIdentifier": base,
        "PayloadUUID": unique("profile"),
        "PayloadDisplayName": authority.title,
        "PayloadOrganization": farm_name or "Bagtrail",
        "PayloadDescription":
            f"Lets this device trust the farm’s own computer ({authority.host}) and nothing else.",
        "PayloadRemovalDisallowed": False,
        "PayloadContent": [root],
    })  # fmt: skip
