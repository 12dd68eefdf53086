"""The sums of the trade: plain values to plain values, one file a sum; no clock, database, HTTP.

Whole numbers in the smallest unit come in and go out (g, mL, 0.01 %, 0.01 °C, Pa, ms, minor
currency units). Sums that the phone makes too (mix, bases, moisture, spawn) are exact fractions in
between, rounded once at the end by `whole`, so that both languages agree to the gram; their twins
lie in client/src/trade/ under the same names. Steam, lethality and logs run on the server only.
"""
