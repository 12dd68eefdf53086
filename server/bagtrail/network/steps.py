"""The steps that let a phone in, in each system's own settings' words; screen and paper share them.

Sources: Android and iOS name these entries themselves (Android 11 and later, iOS 15 and later);
the words were taken from their makers' help pages and not tried on phones here.
"""

from __future__ import annotations

import html
import re

MOST = 12  # steps a system

# {title}: the authority's name; {code}: the short code; **word**: as it stands on the screen.
WORDS: dict[str, tuple[str, ...]] = {
    "android": (
        "On the farm’s computer, open **This device** in Bagtrail, then **Pair another device** and"
        " **Make a code**. A square and a code appear.",
        "Join the farm’s Wi-Fi with the phone. Point its camera at the square and open the link"
        " in **Chrome**.",
        "Compare: the page and the farm’s computer both show **{code}**. If they differ, stop and"
        " fetch the owner.",
        "Tap **Get the certificate**. Chrome keeps a file named **{file}**.",
        "Open the phone’s **Settings**, search for **CA certificate** and tap the entry (it lies"
        " under **Security**, **Encryption & credentials**, **Install a certificate**; not **Wi-Fi"
        " certificate**).",
        "Tap **Install anyway** and give the phone’s PIN or finger.",
        "Choose the file **{file}** among the downloads. The phone says **CA certificate"
        " installed**.",
        "Go back to Chrome. This page goes on by itself; if it waits, close Chrome and open the"
        " link again.",
        "Wait until the next page says that all is well.",
        "Tap **⋮**, then **Add to Home screen**, then **Install**.",
        "Open **Bagtrail** from the home screen.",
        "Type the code that the farm’s computer shows and tap **Pair this device**.",
    ),
    "ios": (
        "On the farm’s computer, open **This device** in Bagtrail, then **Pair another device** and"
        " **Make a code**. A square and a code appear.",
        "Join the farm’s Wi-Fi with the phone. Point its camera at the square and open the link"
        " in **Safari**.",
        "Compare: the page and the farm’s computer both show **{code}**. If they differ, stop and"
        " fetch the owner.",
        "Tap **Get the profile**, then **Allow**, then **Close**.",
        "Open the phone’s **Settings**, tap **Profile Downloaded**, then **Install**; give the"
        " passcode and tap **Install** again.",
        "In **Settings**, open **General**, **About**, **Certificate Trust Settings**, and switch"
        " **{title}** on; tap **Continue**.",
        "Go back to Safari. This page goes on by itself.",
        "Wait until the next page says that all is well.",
        "Tap the **Share** button, then **Add to Home Screen**, then **Add**.",
        "Open **Bagtrail** from the home screen. Not in Safari: the app has a memory of its own.",
        "Type the code that the farm’s computer shows and tap **Pair this device**.",
    ),
    "computer": (
        "On the farm’s computer, open **This device** in Bagtrail, then **Pair another device** and"
        " **Make a code**.",
        "Open the address that stands with the square on the other computer.",
        "Compare: the page and the farm’s computer both show **{code}**. If they differ, stop.",
        "Get the certificate: **{file}**.",
        "Windows: open the file, **Install Certificate**, **Current User**, **Place all"
        " certificates in the following store**, **Trusted Root Certification Authorities**."
        " macOS: open it in **Keychain Access**, double-click **{title}**, **Trust**, **Always"
        " Trust**. Linux: in Chrome or Chromium, **Settings**, **Privacy and security**,"
        " **Security**, **Manage certificates**.",
        "Close the browser, all its windows, and open the address again. The page goes on by"
        " itself.",
        "Wait until the next page says that all is well, and open Bagtrail from there.",
        "Type the code that the farm’s computer shows and tap **Pair this device**.",
    ),
}
NAMES = {"android": "Android phone", "ios": "iPhone or iPad", "computer": "Another computer"}
_BOLD = re.compile(r"\*\*(.+?)\*\*")


def file_name(tag: str) -> str:
    """Returns the name under which a phone keeps the certificate."""
    return f"farm-{tag.lower()}.crt"


def as_html(system: str, tag: str, title: str, code: str) -> str:
    """Returns a system's steps as list items."""
    items = []
    for words in WORDS[system]:
        said = words.format(title=title, code=code, file=file_name(tag))
        bold = _BOLD.sub(r"<b>\1</b>", html.escape(said, quote=False))
        items.append(f"<li>{bold}</li>")
    return "\n".join(items)
