"""Every distinct line of words of a job laid out once by WeasyPrint, and cut apart.

All lines lie on one page, each in a box at the page's corner, one upon another; that page is
never printed. Its operators are cut at the boxes: what WeasyPrint drew for a line (shaping,
fallback fonts, ellipsis, clip) is kept as it is and replayed wherever the line stands. Fonts
and their subsets are WeasyPrint's own.

How the operators are grouped is not documented. Whatever is not as expected is an Unexpected,
and the caller lays out the plain way.
"""

from __future__ import annotations

import re
from collections import OrderedDict
from collections.abc import Collection, Sequence
from threading import Lock
from typing import Any, NamedTuple

import pydyf
import weasyprint
from weasyprint import HTML

from . import templates
from .plain import Nothing
from .templates import MONO, Line, Style

# The stamps were compared with the plain way, dot by dot, with these.
PINNED = ("70.0", "0.13.0")

_KEPT = 8  # specimens at a time, and lines in each that is worth keeping
_KEPT_LINES = 1_000
_PROBE = "Q7 K-0"


class Unexpected(Exception):
    """WeasyPrint's page is not grouped as the cutting needs."""


class Key(NamedTuple):
    """What makes two lines the same stamp."""

    text: str
    width: float
    style: Style


class Run:
    """Operators of a line whose box has its corner at the page's corner.

    Where they move to is written into the operators as WeasyPrint would have written it (clip
    and text matrix): a matrix around them means the same, but rounds otherwise in some
    rasterisers.
    """

    def __init__(self, group: Sequence[bytes]) -> None:
        out: list[bytes] = []
        self._offsets: list[tuple[float, float]] = []
        for item in group:
            escaped = item.replace(b"%", b"%%")
            if found := _MOVED.fullmatch(item):
                before, x, y, after = found.groups()[:4] if found[4] else found.groups()[4:]
                self._offsets.append((float(x), float(y)))
                escaped = before + b"%.6f %.6f" + after
            elif item.endswith((b" cm", b" re", b" Tm", b" m", b" l", b" c")):
                # Something besides letters (a picture sign): moved as a whole.
                out = [b"q 1 0 0 1 %.6f %.6f cm", *(i.replace(b"%", b"%%") for i in group), b"Q"]
                self._offsets = [(0.0, 0.0)]
                break
            out.append(escaped)
        self._template = b" ".join(out)

    def at(self, x: float, y: float) -> bytes:
        """The operators with the box's corner at x, y in CSS pixels."""
        return self._template % tuple(
            [value for dx, dy in self._offsets for value in (x + dx, y + dy)]
        )


class Alphabet:
    """Glyphs of a face of one width at one size: any text of MONO is set from them."""

    def __init__(self, baseline: float, font: bytes, glyphs: dict[str, bytes]) -> None:
        self._baseline, self._font, self._glyphs = baseline, font, glyphs

    def at(self, text: str, x: float, y: float) -> bytes:
        """Operators for a text with its box's corner at x, y in CSS pixels."""
        return b"BT 1 0 0 -1 %.6f %.6f Tm %s [%s] TJ ET" % (
            x,
            y + self._baseline,
            self._font,
            b"".join([self._glyphs[char] for char in text]),
        )


class Frozen(pydyf.Object):
    """An object of the specimen's PDF, serialised once and put into many."""

    def __init__(self, source: Any) -> None:
        super().__init__()
        self._data = bytes(source.data)
        self._compressible = bool(source.compressible)

    @property
    def data(self) -> bytes:
        return self._data

    @property
    def compressible(self) -> bool:
        return self._compressible


class Specimen:
    """Runs of operators by line, and the objects (fonts, resources) that they name.

    `objects` are those of a PDF after its first three, with None for the page's content and
    for the page itself, in this order; `resources` is the reference that pages give.
    """

    def __init__(self, keys: Collection[Key], styles: Collection[Style], language: str) -> None:
        self.keys = frozenset(keys)
        self.styles = frozenset(styles)
        self.language = language
        self.runs: dict[Key, Run] = {}
        self.alphabets: dict[Style, Alphabet] = {}
        self.objects: list[Frozen | None] = []
        self.resources = b""
        self.info: dict[str, Any] = {}
        self._lay_out()

    def covers(self, keys: frozenset[Key], styles: frozenset[Style], language: str) -> bool:
        """Whether a job with these lines can be stamped from this specimen."""
        return language == self.language and keys <= self.keys and styles <= self.styles

    def _lay_out(self) -> None:
        order = sorted(self.keys)
        styles = sorted(self.styles) or [Style(3.0, True, True)]
        # Probes stand first and last, so that one line more or less anywhere is noticed.
        mono = [
            # Wider than the text, which would else be cut short.
            Key(text, len(MONO) * style.size, style)
            for style in styles
            for text in (MONO, _PROBE)
        ]
        keys = [mono[1], *order, *mono]
        classes = templates.Classes()
        body = "".join(
            templates.words(Line(key.text, 0.0, 0.0, key.width, key.style), classes) for key in keys
        )
        css = templates.style((500.0, 500.0)) + "".join(classes.rules())
        groups: list[list[bytes]] = []

        def finish(_document: object, pdf: pydyf.PDF) -> None:
            groups.extend(self._take(pdf, len(keys)))

        HTML(
            string=templates.document(css, [body], self.language), url_fetcher=Nothing()
        ).write_pdf(finisher=finish)
        self.runs = dict(zip(order, map(Run, groups[1 : -len(mono)]), strict=True))
        letters = groups[-len(mono) :]
        for index, style in enumerate(styles):
            self.alphabets[style] = _alphabet(letters[2 * index], letters[2 * index + 1])
        if groups[0] != letters[1]:
            raise Unexpected("lines are not drawn in their order")

    def _take(self, pdf: pydyf.PDF, count: int) -> list[list[bytes]]:
        page_number = pdf.pages["Kids"][0]
        if pdf.pages["Count"] != 1:
            raise Unexpected("the specimen is more than a page")
        page = pdf.objects[page_number]
        content = pdf.objects[int(page["Contents"].split()[0])]
        if content.number != page_number - 1:
            raise Unexpected("the page does not follow its content")
        groups = cut(content.stream, count)
        for item in pdf.objects[3:]:
            self.objects.append(None if item in (page, content) else Frozen(item))
        self.resources = bytes(page["Resources"])
        self.info = dict(pdf.info)
        return groups


def cut(operators: Sequence[Any], count: int) -> list[list[bytes]]:
    """The operators of `count` sibling groups that hold one text each."""
    items = [item if isinstance(item, bytes) else str(item).encode("ascii") for item in operators]
    # Groups in order of their beginning: where they begin, where they end, texts in them.
    stack: list[list[int]] = []
    found: list[list[int]] = []
    for index, item in enumerate(items):
        if item == b"q":
            group = [index, -1, 0, stack[-1][0] if stack else -1]
            stack.append(group)
            found.append(group)
        elif item == b"Q":
            if not stack:
                raise Unexpected("a group ends that has not begun")
            stack.pop()[1] = index
        elif item == b"BT":
            for group in stack:
                group[2] += 1
    if stack:
        raise Unexpected("a group does not end")
    whole = {group[0]: group[2] for group in found}
    # Outermost groups of one text are those inside a group of all texts.
    singles = [g for g in found if g[2] == 1 and whole.get(g[3]) == count]
    if len(singles) != count or items.count(b"BT") != count:
        raise Unexpected(f"{count} lines came out as {len(singles)} groups")
    return [items[first + 1 : end] for first, end, _texts, _around in singles]


_NUMBER = rb"-?[0-9.]+"
_MOVED = re.compile(
    rb"()(" + _NUMBER + rb") (" + _NUMBER + rb")( " + _NUMBER + rb" " + _NUMBER + rb" re)"
    rb"|(1 0 0 -1 )(" + _NUMBER + rb") (" + _NUMBER + rb")( Tm)"
)
_RUN = re.compile(rb"\[(?:<[0-9a-f]*>|-?[0-9.]+)*\] TJ")
_PIECE = re.compile(rb"<([0-9a-f]*)>|(-?[0-9.]+)")


def _glyphs(group: Sequence[bytes]) -> tuple[float, bytes, list[bytes]]:
    """Baseline, font, and each glyph with its kerning, of a text in a face of one width.
    Colour and clip fall away: black is what a page begins with, and such a text fits by
    counting."""
    text = group[group.index(b"BT") + 1 : group.index(b"ET")]
    if len(text) != 3 or not _RUN.fullmatch(text[2]):
        raise Unexpected("a line of letters of one width is set in parts")
    matrix = _MOVED.fullmatch(text[0])
    if not matrix or matrix[5] is None or float(matrix[6]) or not text[1].endswith(b" Tf"):
        raise Unexpected("a line of letters of one width lies elsewhere")
    glyphs: list[bytes] = []
    for piece in _PIECE.finditer(text[2]):
        if piece[1] is not None:
            glyphs += [b"<" + piece[1][i : i + 4] + b">" for i in range(0, len(piece[1]), 4)]
        elif not glyphs:
            raise Unexpected("a line begins with kerning")
        elif float(piece[2]):
            glyphs[-1] += piece[2]
    return float(matrix[7]), text[1], glyphs


def _alphabet(letters: Sequence[bytes], probe: Sequence[bytes]) -> Alphabet:
    baseline, font, glyphs = _glyphs(letters)
    if len(glyphs) != len(MONO):
        raise Unexpected(f"{len(MONO)} letters came out as {len(glyphs)} glyphs")
    known = dict(zip(MONO, glyphs, strict=True))
    if _glyphs(probe) != (baseline, font, [known[char] for char in _PROBE]):
        raise Unexpected("letters of one width are set otherwise side by side")
    return Alphabet(baseline, font, known)


_specimens: OrderedDict[Specimen, None] = OrderedDict()
_lock = Lock()


def versions() -> tuple[str, str]:
    """Of WeasyPrint and of pydyf, as they are installed."""
    return weasyprint.__version__, pydyf.__version__


def specimen(keys: Collection[Key], styles: Collection[Style], language: str) -> Specimen:
    """One that covers these lines: kept from an earlier job, or laid out now.

    Raises Unexpected.
    """
    wanted, faces = frozenset(keys), frozenset(styles)
    with _lock:
        # The smallest that does, so that the same job gives the same bytes again.
        fitting = [old for old in _specimens if old.covers(wanted, faces, language)]
        if fitting:
            best = min(fitting, key=lambda old: len(old.keys) + len(old.styles))
            _specimens.move_to_end(best)
            return best
        made = Specimen(wanted, faces, language)
        if len(wanted) <= _KEPT_LINES:
            _specimens[made] = None
            while len(_specimens) > _KEPT:
                _specimens.popitem(last=False)
        return made
