"""The sums of the trade: plain values to plain values, one file a sum; no clock, database, HTTP.

Whole numbers in the smallest unit come in and go out (g, mL, 0.01 %, 0.01 °C, Pa, ms, minor
currency units). Sums that the phone makes too have twins in client/src/trade/ under the same names:
mix, bases, moisture and spawn are exact fractions in between, rounded once at the end by `whole`,
so that both languages agree to the gram; steam, lethality, hold and curve are floats in between,
rounded at the end by `whole.nearest` (F0 is cut, by `lethality.hundredths`). Reading a logger's
file (`csvlayout`, `csvlog`) is the server's alone.
"""
