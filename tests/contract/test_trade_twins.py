"""Phone and server make the same sums: random inputs, also bad ones, through both languages."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
from pathlib import Path
from typing import Any

from tests.server.trade.calls import CALLS, call

RUNNER = Path(__file__).with_name("trade_runner.mjs")
ROUNDS = 20_000 if os.environ.get("BAGTRAIL_LONG") == "1" else 1_500
LETTERS = "abcdeCaB2₂ -()éКакарбид电石カ5720un1402'.,%/ﬁİß"
NAMES = ("wood", "Oak sawdust", "bran", "gypsum", "hydrated lime", "hulls")
Job = tuple[str, list[Any]]


def amount(r: random.Random, most: int) -> int:
    """A whole number with many small, round and nought among them, rarely one below nought."""
    kind = r.random()
    if kind < 0.02:
        return -r.randint(1, 100)
    if kind < 0.1:
        return 0
    return r.choice((r.randint(1, 20), r.randint(1, most), round(r.uniform(1, most), -2).__int__()))


def moisture(r: random.Random) -> int:
    return r.choice((0, 800, 1_200, 4_000, r.randint(0, 7_500), r.randint(0, 10_100)))


def ingredient(r: random.Random, name: str) -> dict[str, Any]:
    lots = [
        {"code": f"m{i}", "mass_g": amount(r, 200_000), "moisture": moisture(r),
         "price_minor": r.choice((None, amount(r, 9_000))), "price_g": r.choice((1, 1_000, 25_000))}
        for i in range(r.randint(0, 3))
    ]  # fmt: skip
    return {"name": name, "amount": amount(r, 10_000), "wood": r.random() < 0.4,
            "moisture": moisture(r), "lots": r.choice((None, lots)),
            "price_minor": r.choice((None, 45)), "price_g": 1_000,
            "bulk_g_l": r.choice((None, r.randint(40, 900), r.randint(40, 900))),
            "swell": r.choice((100, 300))}  # fmt: skip


def plan_job(r: random.Random) -> Job:
    rows = [ingredient(r, name) for name in r.sample(NAMES, r.randint(1, 5))]
    wish = r.choice((
        {"kind": "bags", "n": amount(r, 900)}, {"kind": "wet", "g": amount(r, 3_000_000)},
        {"kind": "all_of", "name": r.choice(NAMES)}, {"kind": "charges", "n": amount(r, 12)},
    ))  # fmt: skip
    mixer = r.choice((None, {"g": amount(r, 90_000), "ml": r.choice((None, amount(r, 300_000)))}))
    # A charge of a few grams makes millions of charges: true, but no test.
    if mixer and 0 < mixer["g"] < 3_000:
        mixer["g"] = 3_000
    if mixer and mixer["ml"] is not None and 0 < mixer["ml"] < 9_000:
        mixer["ml"] = 9_000
    options = {"fill_g": r.choice((None, r.randint(1, 9_000), 2_500)),
               "loss_g": r.choice((0, r.randint(0, 90))), "mixer": mixer,
               "bag_minor": r.choice((0, 21)),
               "base": r.choice(("", "sawdust", "straw"))}  # fmt: skip
    return "plan", [rows, basis(r), r.choice((6_000, moisture(r))), wish, options]


def basis(r: random.Random) -> str:
    return r.choice(("of_total_dry", "per_wood_dry", "of_total_weighed", "per_wood_weighed", "?"))


def parts(r: random.Random) -> list[dict[str, Any]]:
    return [
        {"name": name, "amount": amount(r, 10_000), "wood": r.random() < 0.5,
         "moisture": moisture(r)}
        for name in r.sample(NAMES, r.randint(1, 5))
    ]  # fmt: skip


def other_job(r: random.Random) -> Job:
    a, b, m = amount(r, 500_000), amount(r, 500_000), moisture(r)
    three = sorted(r.randint(0, 6_000) for _ in range(3))
    n = sorted(r.choice((0, r.randint(0, 300))) for _ in range(3))
    reading = {"wet": 900 + amount(r, 400), "dry": 100 + amount(r, 800), "tare": amount(r, 60),
               "dry_before": r.choice((None, 900))}  # fmt: skip
    weighing = [
        {"name": name, "planned_g": a, "moisture": moisture(r),
         "actual_g": r.choice((None, a, a + 3, a // 1_000, amount(r, 500_000)))}
        for name in NAMES[: r.randint(1, 4)]
    ]  # fmt: skip
    text = "".join(r.choice(LETTERS) for _ in range(r.randint(0, 12)))
    word = r.choice(("carbide", "calcium carbonate", "karbide", "CaC2", "gypsum", "carbamide"))
    i = r.randint(0, len(word))
    number = r.choice((f"{a / 100}", f"{a},5", f"{a} lb {b} oz", f"-{a} °F", text, f"{a}kg"))
    return r.choice((
        ("every_basis", [basis(r), parts(r)]),
        ("dry_shares", [basis(r), parts(r)]),
        ("check_sum", [basis(r), parts(r), 10_000]),
        ("water_to_add", [[[a, m], [b, moisture(r)]], moisture(r)]),
        ("mix_moisture", [[[a, m], [b, 10_000]]]),
        ("second_mass", [a, m, moisture(r), moisture(r)]),
        ("after_loss", [a, m, b]),
        ("from_dry_basis", [b]),
        ("to_dry_basis", [m]),
        ("drying", [[reading] * r.randint(0, 3), r.choice((0, 200))]),
        ("ratio", [[{"dry": a, "c": three, "n": n}, {"dry": b, "c": [4_500] * 3, "n": n}]]),
        ("mass_for_ratio", [a, [m, 4_800, n[0]], [moisture(r), 4_500, n[2]], r.randint(1, 30_000)]),
        ("spawn_mass", [r.choice(("wet_substrate", "final_block", "dry_substrate", "?")), m, a, m]),
        ("spawn_rates", [a, b, m]),
        ("block_moisture", [a, m, b, moisture(r)]),
        ("per_bag", [[{**p, "name": x} for p, x in zip(parts(r), NAMES, strict=False)], basis(r),
                     m, r.randint(1, 5_000), 20, "sawdust"]),
        ("weigh_in", [weighing, m, r.choice((None, b)), r.choice((0, 200))]),
        ("correct", [a, m, moisture(r), [[f"{b}/10000", moisture(r)], ["1/3", 0]]]),
        ("of_weight", ["w", a, b]),
        ("of_fill", [b]),
        ("of_amounts", [[[text, a], [word, b]]]),
        ("refuse", [word[:i] + r.choice(LETTERS) + word[i + r.randint(0, 1) :]]),
        ("plain", [text]),
        ("said", [a, r.choice(("lb", "oz", "gal", "psi", "ft", "°F", "bar")), r.randint(0, 3)]),
        ("read", [number, r.choice(("mass", "temperature")), r.choice(("kg", "lb", "°C", "?"))]),
        ("number", [number]),
    ))  # fmt: skip


def load_job(r: random.Random) -> Job:
    """A steriliser's readings with what goes wrong: gaps, lost and wild readings, odd clocks."""
    probes = [f"Core {i}" for i in range(1, r.choice((1, 1, 2, 3)) + 1)]
    usual = r.choice((1_000, 60_000, 300_000, 61_234))
    ms, temps, t = [], [], r.choice((0, 0, 1_764_000_000_000))
    level = [float(r.randint(1_500, 9_000)) for _ in probes]
    top = r.choice((9_900, 12_110, 12_150, r.randint(9_000, 13_500)))
    n = r.choice((2, 8, 20, 60, 150))
    for i in range(n):
        ms.append(t)
        goal = top if i < n * 0.7 else 4_000
        level = [x + (goal - x) * r.choice((0, 0.2, 0.5, 1)) for x in level]
        temps.append([None if r.random() < 0.02 else r.choice((round(x), round(x), 12_100))
                      for x in level])  # fmt: skip
        t += usual if r.random() < 0.95 else r.choice((0, 0, usual * 4, -usual * 3, -t))
        t = t if r.random() < 0.97 else t + r.choice((7 * usual, 500))
    if r.random() < 0.1:
        ms, temps = ms[::-1], temps[::-1]
    if r.random() < 0.1:
        ms, temps = ms + ms[:5], temps + temps[:5]
    if r.random() < 0.2:
        temps[r.randrange(len(temps))][0] = r.choice((99_900, -9_000, None))
    options = {"ref": r.choice((12_110, 12_100, r.randint(11_500, 13_000), 4_999, 20_001)),
               "z": r.choice((1_000, 1_000, r.randint(500, 2_000), 99, 10_001)),
               "limit": r.choice((12_100, 9_500, top, r.randint(6_000, 12_500))),
               "by_hand": r.random() < 0.4, "longest_ms": r.choice((None, None, usual, 10 * usual)),
               "accept": r.choice(([], [], [1], [1, 2, 3])), "fill": r.random() < 0.2,
               "points": r.choice((800, 800, 40))}  # fmt: skip
    return "score", [ms, temps, probes if r.random() < 0.99 else [], options]


def steam_job(r: random.Random) -> Job:
    mm = r.choice(
        (0, 300_000, 1_000_000, r.randint(-6_000_000, 12_000_000), r.randint(0, 3_000_000))
    )
    temp = r.choice((12_100, 12_110, r.randint(-100, 38_000), r.randint(9_000, 13_500)))
    pa = r.choice((103_421, 100_000, r.randint(-120_000, 300_000), r.randint(0, 30_000_000)))
    return r.choice((
        ("air_pressure", [mm]), ("geopotential", [r.randint(-5_000_000, 11_000_000)]),
        ("saturation_pressure", [temp]), ("saturation_temperature", [pa]), ("boiling", [mm]),
        ("gauge_for", [temp, mm]), ("temperature_at_gauge", [pa, mm]), ("pot", [mm, temp]),
        ("trapped_air", [pa, temp, mm]),
        ("lethal_rate", [r.randint(-4_000, 13_500), 12_110, r.choice((1_000, 900, 1_200))]),
        ("hundredths", [r.choice((87.95, 101.78, r.uniform(0, 400)))]),
    ))  # fmt: skip


def job(r: random.Random) -> Job:
    kind = r.random()
    if kind < 0.35:
        return plan_job(r)
    if kind < 0.5:
        return load_job(r)
    return steam_job(r) if kind < 0.6 else other_job(r)


def test_the_same_sums_on_both_sides() -> None:
    node = shutil.which("node")
    assert node, "no node on PATH: tests/run puts one there"
    seed = random.SystemRandom().randint(0, 2**32)
    r = random.Random(seed)
    jobs = [job(r) for _ in range(ROUNDS)]
    text = "".join(json.dumps({"call": name, "args": args}) + "\n" for name, args in jobs)
    done = subprocess.run([node, str(RUNNER)], input=text, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    theirs = done.stdout.splitlines()
    assert len(theirs) == ROUNDS, done.stderr
    good = 0
    for (name, args), got in zip(jobs, theirs, strict=True):
        mine = json.loads(json.dumps(call(name, args)))
        assert json.loads(got) == mine, f"seed {seed}: {name}({json.dumps(args)})"
        good += not (isinstance(mine, dict) and "error" in mine)
    # Most of them are sums, not refusals: else this would compare error codes.
    assert good * 2 > ROUNDS
    assert {name for name, _ in jobs} <= set(CALLS)
