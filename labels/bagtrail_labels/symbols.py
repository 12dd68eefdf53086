"""QR symbols made from few calls of `qrcode`, equal to its own to the module.

For one length of text, version and level every module of a symbol is an exclusive-or of some
bits of the text (the Reed-Solomon code is linear) and of a constant. So `qrcode` is asked once
for an empty text and once for each bit; any other symbol is then the exclusive-or of whole
symbols kept as integers, and the best mask is found with shifts and counts of ones.
ISO/IEC 18004:2015, 7.4 (alphanumeric mode), 7.8.3 (the four penalties).
"""

from __future__ import annotations

from functools import lru_cache
from threading import Lock

import qrcode
from qrcode.util import MODE_ALPHA_NUM, QRData

VERSION = 2
MODULES = 25  # ISO/IEC 18004: 17 + 4 x version
ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
# Characters that version 2 holds in alphanumeric mode, ISO/IEC 18004 table 7.
CAPACITY = {"L": 47, "M": 38, "Q": 29, "H": 20}

_LEVELS = {
    "L": qrcode.constants.ERROR_CORRECT_L,
    "M": qrcode.constants.ERROR_CORRECT_M,
    "Q": qrcode.constants.ERROR_CORRECT_Q,
    "H": qrcode.constants.ERROR_CORRECT_H,
}

# A symbol is one integer, row by row from the highest bit. A light column ends each row, so
# that a shift by one never carries a pattern over to the next row, and a shift by STRIDE is a
# step down.
STRIDE = MODULES + 1
BITS = STRIDE * MODULES
_ALL = int(("1" * MODULES + "0") * MODULES, 2)
# qrcode puts level, mask and the one dark module in after the mask is chosen, so that the
# choice sees them light.
_FORMAT = frozenset(
    [(row, 8) for row in (*range(9), *range(MODULES - 8, MODULES)) if row != 6]
    + [(8, column) for column in (*range(9), *range(MODULES - 8, MODULES)) if column != 6]
)
_JUDGED = int(
    "".join(
        "0" if column == MODULES or (row, column) in _FORMAT else "1"
        for row in range(MODULES)
        for column in range(STRIDE)
    ),
    2,
)
# Penalty 4: ten points for each whole 5 % that dark modules are away from half.
_BALANCE = tuple(int(abs(dark / MODULES**2 * 100 - 50) / 5) * 10 for dark in range(MODULES**2 + 1))


def drawn(text: str, level: str, mask: int | None = None) -> int:
    """The symbol as `qrcode` itself makes it; without a mask it chooses the best one."""
    symbol = qrcode.QRCode(
        version=VERSION, error_correction=_LEVELS[level], border=0, mask_pattern=mask
    )
    symbol.add_data(QRData(text, mode=MODE_ALPHA_NUM), optimize=0)
    symbol.make(fit=False)
    return int("".join("1" if dark else "0" for row in symbol.modules for dark in (*row, 0)), 2)


class Maker:
    """Symbols for texts of one length at one level."""

    def __init__(self, length: int, level: str) -> None:
        """Ask `qrcode` about 100 to 220 times, which takes some 0.03 to 0.1 s.

        Raises ValueError for a length that version 2 does not hold at this level.
        """
        if not 1 <= length <= CAPACITY[level]:
            raise ValueError(f"{length} characters do not fit version {VERSION}-{level}")
        self._length = length
        # Two characters a group, the last one alone where the length is odd. All groups zero is
        # no error in qrcode: mode and length keep the block from being all zeros.
        zero = "0" * length
        base = drawn(zero, level, 0)
        # What a mask changes is the same in every symbol: the mask itself and its number.
        self._masks = tuple(base ^ drawn(zero, level, mask) for mask in range(8))
        self._steps: list[list[int]] = []
        for first in range(0, length, 2):
            two = first + 1 < length
            steps = []
            for bit in range(11 if two else 6):
                value = 1 << bit
                group = ALPHABET[value // 45] + ALPHABET[value % 45] if two else ALPHABET[value]
                text = zero[:first] + group + zero[first + len(group) :]
                steps.append(base ^ drawn(text, level, 0))
            self._steps.append(steps)
        self._base = base
        self._groups: list[dict[str, int]] = [{} for _ in self._steps]

    def unmasked(self, text: str) -> int:
        """The symbol with mask 0. Raises KeyError for a character outside of the alphabet."""
        made = self._base
        at = 0
        for known in self._groups:
            group = text[at : at + 2]
            at += 2
            part = known.get(group)
            made ^= self._learn(at // 2 - 1, group) if part is None else part
        return made

    def symbol(self, text: str) -> int:
        """The symbol with the mask of least penalty, the first of equals."""
        if len(text) != self._length:
            raise ValueError(f"{len(text)} characters given to a maker for {self._length}")
        made = self.unmasked(text)
        best, least = 0, 1 << 30
        for mask in self._masks:
            lost = penalty((made ^ mask) & _JUDGED)
            if lost < least:
                best, least = mask, lost
        return made ^ best

    def _learn(self, index: int, group: str) -> int:
        value = 0
        for char in group:
            value = value * 45 + _VALUE[char]
        part = 0
        for bit, step in enumerate(self._steps[index]):
            if value >> bit & 1:
                part ^= step
        self._groups[index][group] = part  # 2,025 entries a group at most
        return part


_VALUE = {char: value for value, char in enumerate(ALPHABET)}
_lock = Lock()


@lru_cache(maxsize=16)
def _maker(length: int, level: str) -> Maker:
    return Maker(length, level)


def symbol(text: str, level: str) -> int:
    """The symbol of a text of ALPHABET, as an integer of MODULES rows of STRIDE bits."""
    with _lock:
        maker = _maker(len(text), level)
    return maker.symbol(text)


def penalty(dark: int) -> int:
    """Points a symbol loses for shapes that hinder readers, ISO/IEC 18004 7.8.3."""
    light = _ALL ^ dark
    lost = 0
    # 1: five in a row or column lose three, each further one loses one. Windows of five are
    # as many as modules over four; a run's last window is the one without a window after it.
    for step in (1, STRIDE):
        for colour in (dark, light):
            two = colour & colour >> step
            five = two & two >> 2 * step & colour >> 4 * step
            lost += five.bit_count() + 2 * (five & ~(five >> step)).bit_count()
        # 3: dark-light-dark-dark-dark-light-dark with four light before or after.
        two = light & light >> step
        four = two & two >> 2 * step
        finder = (
            dark & light >> step & dark >> 2 * step & dark >> 3 * step
            & dark >> 4 * step & light >> 5 * step & dark >> 6 * step
        )  # fmt: skip
        if finder:
            lost += 40 * (finder & four >> 7 * step).bit_count()
            lost += 40 * (four & finder >> 4 * step).bit_count()
    # 2: each two by two of one colour loses three.
    for colour in (dark, light):
        two = colour & colour >> 1
        lost += 3 * (two & two >> STRIDE).bit_count()
    return lost + _BALANCE[dark.bit_count()]
