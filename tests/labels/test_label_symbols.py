"""Symbols made by exclusive-or are those of `qrcode`, of the standard and of another encoder."""

from __future__ import annotations

import random

import numpy as np
import pytest
import qrcode
import segno
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from qrcode.util import QRData, create_data

from bagtrail_labels import LabelError, symbols
from bagtrail_labels.qr import level, matrix, payload
from bagtrail_labels.symbols import ALPHABET, CAPACITY, MODULES, STRIDE, drawn, symbol

from .raster import SYMBOLS, codes


def texts(count: int, length: int, seed: int) -> list[str]:
    draw = random.Random(seed)
    return ["".join(draw.choice(ALPHABET) for _ in range(length)) for _ in range(count)]


def test_a_thousand_tags_are_equal_to_qrcodes_own_with_its_best_mask():
    wanted = [f"7K3Q.{code}" for code in codes(1_000, "BGPSHMKWX", seed=31)]
    assert [text for text in wanted if symbol(text, "H") != drawn(text, "H")] == []


@pytest.mark.parametrize(
    ("length", "name"),
    [(14, "H"), (20, "H"), (19, "H"), (29, "Q"), (38, "M"), (37, "M"), (1, "L"), (47, "L")],
)
def test_other_lengths_and_levels_are_equal_too(length, name):
    for text in texts(60, length, seed=length):
        assert symbol(text, name) == drawn(text, name), text


@settings(max_examples=100, deadline=None)
@given(st.text(ALPHABET, min_size=1, max_size=20))
def test_any_text_is_equal(text):
    # A block of zeros is what qrcode itself cannot encode; mode and length prevent it.
    assert symbol(text, "H") == drawn(text, "H")


def test_the_penalty_is_that_of_qrcode():
    draw = random.Random(5)
    for _ in range(200):
        rows = [[draw.random() < 0.5 for _ in range(MODULES)] for _ in range(MODULES)]
        if draw.random() < 0.3:  # long runs and finder-like rows
            rows[3] = [bit == "1" for bit in "1011101000010111010000101"]
            rows[9] = [True] * MODULES
        bits = "".join("1" if dark else "0" for row in rows for dark in (*row, 0))
        assert symbols.penalty(int(bits, 2)) == qrcode.util.lost_point(rows)


def test_the_standards_worked_example():
    """ISO/IEC 18004 Annex I: 01234567 in version 1-M. It holds the encoder that the table of
    steps is asked from."""
    data = [16, 32, 12, 86, 97, 128, 236, 17, 236, 17, 236, 17, 236, 17, 236, 17]
    correction = [165, 36, 212, 193, 237, 54, 199, 135, 44, 85]
    made = create_data(1, qrcode.constants.ERROR_CORRECT_M, [QRData("01234567")])
    assert list(made) == data + correction
    code = qrcode.QRCode(version=1, error_correction=qrcode.constants.ERROR_CORRECT_M, border=0)
    code.add_data("01234567")
    code.make(fit=False)
    assert codewords(np.array(code.get_matrix(), bool)) == data + correction


# Conditions of the eight data masks, ISO/IEC 18004 table 10; r row, c column.
MASKS = (
    lambda r, c: (r + c) % 2 == 0, lambda r, c: r % 2 == 0, lambda r, c: c % 3 == 0,
    lambda r, c: (r + c) % 3 == 0, lambda r, c: (r // 2 + c // 3) % 2 == 0,
    lambda r, c: r * c % 2 + r * c % 3 == 0, lambda r, c: (r * c % 2 + r * c % 3) % 2 == 0,
    lambda r, c: ((r + c) % 2 + r * c % 3) % 2 == 0,
)  # fmt: skip


def codewords(modules: np.ndarray) -> list[int]:
    """The codewords that stand in a symbol of version 1 or 2, found by the standard's own rules:
    two columns at a time from the lower right, up and down, round the patterns (7.7.3; numbers of
    clauses and tables from memory)."""
    side = len(modules)
    taken = np.zeros_like(modules)
    taken[:9, :9] = taken[:9, -8:] = taken[-8:, :9] = True  # finders, format
    taken[6] = taken[:, 6] = True  # timing
    if side == 25:
        taken[16:21, 16:21] = True  # alignment
    # The three mask bits of the format, under the mask 10101 of its first five bits.
    high = [bool(modules[8, column]) for column in range(5)]
    turned = [bit != under for bit, under in zip(high, (1, 0, 1, 0, 1), strict=True)]
    mask = MASKS[turned[2] * 4 + turned[3] * 2 + turned[4]]
    bits = []
    up = True
    for right in (c if c > 6 else c - 1 for c in range(side - 1, 0, -2)):
        for row in range(side - 1, -1, -1) if up else range(side):
            bits += [bool(modules[row, c]) != mask(row, c)
                     for c in (right, right - 1) if not taken[row, c]]  # fmt: skip
        up = not up
    whole = len(bits) // 8 * 8
    return [int("".join("01"[bit] for bit in bits[n : n + 8]), 2) for n in range(0, whole, 8)]


def test_our_modules_hold_the_codewords_where_the_standard_puts_them():
    for text in ("7K3Q.B7K2M4QX9", "7K3Q.K0000001V", *texts(40, 14, seed=18)):
        wanted = create_data(2, qrcode.constants.ERROR_CORRECT_H, [QRData(text)])
        drawn_ones = np.array([list(row) for row in matrix(text)], bool)
        assert codewords(drawn_ones) == list(wanted), text


# The fifteen format bits of level H by mask, ISO/IEC 18004 table C.1.
FORMATS_H = (0x1689, 0x13BE, 0x1CE7, 0x19D0, 0x0762, 0x0255, 0x0D0C, 0x083B)


def test_another_encoder_draws_the_same_modules():
    for code in codes(60, "BGPSHMKWX", seed=41):
        text = payload("7K3Q", code)
        ours = matrix(text)
        column = [ours[row][8] for row in (0, 1, 2, 3, 4, 5, 7, 8)]
        low = sum(bit << index for index, bit in enumerate(column))
        (mask,) = [n for n, bits in enumerate(FORMATS_H) if bits & 0xFF == low]
        theirs = segno.make(
            text, version=2, error="h", mode="alphanumeric", mask=mask, boost_error=False
        )
        assert [[bool(module) for module in row] for row in theirs.matrix] == [
            list(row) for row in ours
        ]


def test_an_address_before_the_code_is_read_at_level_m():
    text = payload("7K3Q", "B7K2M4QX9", "HTTPS://BAGTRAIL.LOCAL:8443/")
    assert level(text) == "M"
    image = np.where(np.kron(np.pad(np.array(matrix(text)), 4), np.ones((4, 4), bool)), 0, 255)
    (found,) = zxingcpp.read_barcodes(image.astype(np.uint8))
    assert (found.text, found.ec_level) == (text, "M")


@pytest.mark.parametrize(
    "address",
    ["https://farm.local/", "HTTPS://" + "A" * 30 + "/", "HTTPS://FARM", "FTP://A/", "\n"],
)
def test_an_address_that_does_not_fit_is_refused(address):
    with pytest.raises(LabelError) as caught:
        payload("7K3Q", "B7K2M4QX9", address)
    assert caught.value.code == "label_address"


def test_lengths_that_do_not_fit_are_refused():
    for name, most in CAPACITY.items():
        with pytest.raises(ValueError, match="do not fit"):
            symbols.Maker(most + 1, name)


def test_a_symbol_keeps_a_light_column_at_its_right():
    value = symbol(f"7K3Q.B{SYMBOLS[:8]}", "H")
    bits = f"{value:0{STRIDE * MODULES}b}"
    assert {bits[row * STRIDE + MODULES] for row in range(MODULES)} == {"0"}
