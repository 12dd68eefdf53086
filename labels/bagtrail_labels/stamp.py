"""The fast way to a PDF: each distinct line of words is laid out once (specimen.py) and stamped
on every tag that bears it."""

from __future__ import annotations

import io
import zlib
from copy import copy

import pydyf

from . import templates
from .paper import PX, Drawn, Job, placed
from .plain import unscaled
from .specimen import Key, Specimen, specimen
from .stock import Stock

_POINTS = 72 / 25.4
_TIGHT = 5  # of zlib: 6 makes a file smaller by a seventh, and a tenth slower


def pdf(job: Job) -> bytes:
    """The job as a PDF. Raises specimen.Unexpected where the plain way must be taken."""
    keys, styles = set(), set()
    for tag in job.tags:
        for line in tag.lines:
            if line.style.mono:
                styles.add(line.style)
            else:
                keys.add(Key(line.text, line.width, line.style))
    source = specimen(keys, styles, job.language)
    return _write(job, source)


def _write(job: Job, source: Specimen) -> bytes:
    made = pydyf.PDF()
    wide, high = templates.page_size(job.stock)
    box = pydyf.Array([0, 0, wide * _POINTS, high * _POINTS])
    contents = (_Content(sheet, job.stock, source, high) for sheet in job.sheets())
    # The first sheet and its page take the places of the specimen's, so that every number in
    # the frozen objects stays right; the others follow.
    content = next(contents)
    first: list[pydyf.Object] = [content]
    for frozen in source.objects:
        if frozen is not None:
            # A copy: writing notes in it where it lies in this file.
            made.add_object(copy(frozen))
        elif first:
            made.add_object(first.pop())
        else:
            made.add_page(_page(made, content, box, source.resources))
    for content in contents:
        made.add_object(content)
        made.add_page(_page(made, content, box, source.resources))
    made.info.update(source.info)
    if job.language:
        made.catalog["Lang"] = pydyf.String(job.language)
    unscaled(made)
    out = io.BytesIO()
    made.write(out, b"1.7", False, True)
    return out.getvalue()


def _page(
    made: pydyf.PDF, content: pydyf.Object, box: pydyf.Array, resources: bytes
) -> pydyf.Dictionary:
    return pydyf.Dictionary(
        {
            "Type": "/Page",
            "Parent": made.pages.reference,
            "MediaBox": box,
            "Contents": content.reference,
            "Resources": resources,
        }
    )


class _Content(pydyf.Object):
    """A page's operators, made when they are written: thousands of pages need no memory."""

    compressible = False

    def __init__(
        self, sheet: list[tuple[float, float, Drawn]], stock: Stock, source: Specimen, high: float
    ) -> None:
        super().__init__()
        self._of = sheet, stock, source, high

    @property
    def data(self) -> bytes:
        packed = zlib.compress(_operators(*self._of), _TIGHT)
        return bytes(pydyf.Stream([packed], {"Filter": "/FlateDecode"}).data)


def _operators(
    sheet: list[tuple[float, float, Drawn]], stock: Stock, source: Specimen, high: float
) -> bytes:
    """y downwards from the page's top: drawings in mm, words in CSS pixels."""
    # The same matrices one upon another as in the plain way: equal numbers, equal dots.
    out = [b"1 0 0 -1 0 %.6f cm q 0.75 0 0 0.75 0 0 cm q" % (high * _POINTS)]
    out.append(b"%.6f 0 0 %.6f 0 0 cm" % (PX, PX))
    out += [placed(tag, x, y, stock) for x, y, tag in sheet]
    out.append(b"Q")
    for x, y, tag in sheet:
        x, y = round(x, 3), round(y, 3)
        for line in tag.lines:
            left, top = (x + line.x) * PX, (y + line.y) * PX
            if line.style.mono:
                out.append(source.alphabets[line.style].at(line.text, left, top))
            else:
                key = Key(line.text, line.width, line.style)
                out.append(source.runs[key].at(left, top))
    out.append(b"Q")
    return b"\n".join(out)
