"""Which Debian package brings letters that this computer's fonts lack.

`server/setup.sh` installs the first two. DejaVu (3 MB) has Latin with Vietnamese, Greek and
Cyrillic. For Chinese, Japanese and Korean the smallest sound choice is WenQuanYi Micro Hei:
5 MB installed against 91 MB of Noto's, and it has every character of GB 2312, Big5, JIS X 0208
and KS X 1001 but three. It has one weight and draws Han in the Chinese way; where that matters,
installing fonts-noto-cjk is enough, since pages name their language.
"""

from __future__ import annotations

import unicodedata

LATIN = "fonts-dejavu-core"
EAST_ASIAN = "fonts-wqy-microhei"
MOST_SCRIPTS = "fonts-noto-core"
THE_REST = "fonts-unifont"

_EAST = ("CJK", "HIRAGANA", "KATAKANA", "HANGUL", "FULLWIDTH", "HALFWIDTH", "IDEOGRAPHIC")
_LATIN = ("LATIN", "CYRILLIC", "GREEK", "ARMENIAN", "GEORGIAN", "HEBREW")


def package_for(char: str) -> str:
    """The smallest package of Debian that is likely to have the character."""
    name = unicodedata.name(char, "")
    if name.startswith(_EAST):
        return EAST_ASIAN
    if name.startswith(_LATIN):
        return LATIN
    return MOST_SCRIPTS if name else THE_REST
