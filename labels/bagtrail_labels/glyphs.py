"""Which characters this computer's fonts can draw.

A box where a letter should be is a wrong label, so letters without a glyph are an error that
says what to install; a picture sign without one (an emoji, say) is drawn as one empty square,
as nothing is lost by it.
"""

from __future__ import annotations

import logging
import unicodedata
from collections.abc import Iterable
from html import escape
from threading import Lock

from weasyprint import HTML

from .errors import LabelError
from .fonts import package_for
from .templates import FACES

SQUARE = "\N{WHITE SQUARE}"
_JOINS = "\u200c\u200d\ufe0e\ufe0f"

# Found by drawing, kept while the process lives: new fonts are seen after the next start.
_known: dict[str, bool] = {}
_lock = Lock()


def learn(texts: Iterable[str]) -> None:
    """Find out about all characters of a job at once; one small layout for those unknown."""
    with _lock:
        unknown = {c for text in texts for c in text if ord(c) > 0xFF and c not in _JOINS}
        unknown -= _known.keys()
        if unknown:
            missing = _undrawable(unknown)
            _known.update((char, char not in missing) for char in unknown)


def drawable(text: str, field: str, where: str) -> str:
    """The text with picture signs that no font has as one square each; call `learn` before.

    Raises LabelError `label_font` for a letter or figure that no font has.
    """
    if text.isascii():
        return text
    out: list[str] = []
    square = False  # signs made of several parts, with joiners between, become one square
    for char in text:
        if char in _JOINS and square:
            continue
        if _known.get(char, True):
            square = False
            out.append(char)
            continue
        if unicodedata.category(char)[0] in "LMN":
            raise LabelError(
                "label_font",
                f"{where}: no font on the farm's computer has {char!r} (U+{ord(char):04X}) "
                f"of {field}.",
                f"Install a font for that script on the computer (on Debian {package_for(char)}) "
                "and start Bagtrail again, or write the name in Latin letters.",
                field=field,
                character=f"U+{ord(char):04X}",
                package=package_for(char),
            )
        if not square:
            out.append(SQUARE)
        square = True
    return "".join(out)


class _Missing(logging.Filter):
    """Takes WeasyPrint's warnings of absent glyphs off its log and keeps the characters."""

    def __init__(self) -> None:
        super().__init__()
        self.characters: set[str] = set()

    def filter(self, record: logging.LogRecord) -> bool:
        if ".notdef" not in str(record.msg) or not isinstance(record.args, tuple):
            return True
        self.characters.add(str(record.args[0]))
        return False


def _undrawable(characters: set[str]) -> set[str]:
    # A character a line, so that none is shaped together with another.
    body = "".join(f"<p>{escape(char)}</p>" for char in sorted(characters))
    logger = logging.getLogger("weasyprint")
    watch = _Missing()
    logger.addFilter(watch)
    try:
        HTML(string=f"<style>p {{ font: 8pt {FACES} }}</style>{body}").write_pdf()
    finally:
        logger.removeFilter(watch)
    return watch.characters
