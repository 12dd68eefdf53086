"""Calls a sum of the trade by name with JSON, and gives its result as JSON; twin of calls.ts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, is_dataclass
from fractions import Fraction
from typing import Any

from bagtrail.trade import (
    atmosphere,
    carbide,
    carbon,
    cautions,
    correct,
    drying,
    lethality,
    moisture,
    per_bag,
    plan,
    readings,
    recipe,
    score,
    spawn,
    steam,
    stock,
    units,
    weigh,
    whole,
)
from bagtrail.trade.findings import Unfit

Json = Any


def ingredient(d: Json) -> stock.Ingredient:
    lots = d.get("lots")
    made = None if lots is None else tuple(stock.Lot(**lot) for lot in lots)
    return stock.Ingredient(**{**d, "lots": made})


def ingredients(rows: Json) -> list[stock.Ingredient]:
    return [ingredient(row) for row in rows]


def parts(rows: Json) -> list[recipe.Part]:
    return [recipe.Part(**row) for row in rows]


def wish(d: Json) -> plan.Wish:
    made = {"bags": plan.Bags, "wet": plan.Wet, "all_of": plan.AllOf, "charges": plan.Charges}
    found: plan.Wish = made[d["kind"]](**{k: v for k, v in d.items() if k != "kind"})
    return found


def make_plan(rows: Json, basis: str, target: int, wanted: Json, options: Json) -> plan.Plan:
    mixer = options.get("mixer")
    made = {**options, "mixer": plan.Mixer(**mixer) if mixer else None}
    return plan.plan(ingredients(rows), basis, target, wish(wanted), **made)


def content(d: Json) -> carbon.Content:
    return carbon.Content(d["dry"], tuple(d["c"]), tuple(d["n"]))


def micro(x: float) -> int:
    """Millionths: what floats of two languages are compared by."""
    return whole.nearest(1e6 * float(x))


def score_load(ms: Json, temps: Json, probes: Json, options: Json) -> score.Score:
    """Readings in 0.01 °C, None missing; `options` has ref, z, limit and those of `tidy`."""
    nan = float("nan")
    rows = [[nan if x is None else x / 100 for x in row] for row in temps]
    tidying = {k: options[k] for k in ("by_hand", "longest_ms", "accept") if k in options}
    series = readings.tidy(ms, rows, probes, **tidying)
    if options.get("fill"):
        series = readings.fill_missing(series)
    return score.score(
        series, options["ref"], options["z"], options["limit"], options.get("points", 800)
    )


def fractions(texts: Json) -> list[Fraction]:
    return [Fraction(text) for text in texts]


CALLS: dict[str, Callable[..., Any]] = {
    "half_up": lambda x: whole.half_up(Fraction(x)),
    "ceiling": lambda x: whole.ceiling(Fraction(x)),
    "largest_remainder": lambda xs, total: whole.largest_remainder(fractions(xs), total),
    "spread": whole.spread,
    "dry_mass": moisture.dry_mass,
    "wet_mass": moisture.wet_mass,
    "mix_moisture": moisture.mix_moisture,
    "water_to_add": moisture.water_to_add,
    "mass_at": moisture.mass_at,
    "second_mass": moisture.second_mass,
    "from_dry_basis": moisture.from_dry_basis,
    "to_dry_basis": moisture.to_dry_basis,
    "of_dry": moisture.of_dry,
    "after_loss": moisture.after_loss,
    "drying": lambda rows, gypsum=0: drying.drying([drying.Reading(**r) for r in rows], gypsum),
    "dry_shares": lambda basis, rows: recipe.dry_shares(basis, parts(rows)),
    "express": lambda basis, shares, rows: recipe.express(basis, fractions(shares), parts(rows)),
    "every_basis": lambda basis, rows: recipe.every_basis(basis, parts(rows)),
    "check_sum": lambda basis, rows, total: recipe.check_sum(basis, parts(rows), total),
    "ratio": lambda rows: carbon.ratio([content(row) for row in rows]),
    "mass_for_ratio": lambda g, a, b, goal: carbon.mass_for_ratio(g, tuple(a), tuple(b), goal),
    "nitrogen_of_protein": carbon.nitrogen_of_protein,
    "carbon_of_ash": carbon.carbon_of_ash,
    "spawn_mass": spawn.spawn_mass,
    "spawn_rates": spawn.spawn_rates,
    "one_to": spawn.one_to,
    "spawn_units": spawn.spawn_units,
    "block_moisture": spawn.block_moisture,
    "refuse": carbide.refuse,
    "plain": carbide.plain,
    "of_moisture": cautions.of_moisture,
    "of_nitrogen": cautions.of_nitrogen,
    "of_fill": cautions.of_fill,
    "of_weight": cautions.of_weight,
    "of_amounts": cautions.of_amounts,
    "of_mixer": cautions.of_mixer,
    "plan": make_plan,
    "per_bag": lambda rows, basis, target, fill, bags, base: per_bag.per_bag(
        ingredients(rows), basis, target, fill, bags, base
    ),
    "weigh_in": lambda rows, target, water, tolerance: weigh.weigh_in(
        [weigh.Weighing(**row) for row in rows], target, water, tolerance
    ),
    "dry_per_bag": weigh.dry_per_bag,
    "correct": lambda g, measured, target, rows: correct.correct(
        g, measured, target, [(Fraction(share), at) for share, at in rows]
    ),
    "from_squeeze": correct.from_squeeze,
    "whole": lambda value, unit: units.whole(Fraction(value), unit),
    "said": units.said,
    "number": units.number,
    "read": units.read,
    "air_pressure": lambda mm: whole.nearest(atmosphere.pressure_pa(mm / 1_000)),
    "geopotential": lambda mm: whole.nearest(atmosphere.at_geopotential(mm / 1_000)),
    "saturation_pressure": lambda temp: whole.nearest(steam.saturation_pressure_pa(temp / 100)),
    "saturation_temperature": lambda pa: micro(steam.saturation_temperature_c(pa)),
    "boiling": lambda mm: micro(steam.boiling_c(mm / 1_000)),
    "gauge_for": lambda temp, mm: whole.nearest(steam.gauge_for_pa(temp / 100, mm / 1_000)),
    "temperature_at_gauge": lambda pa, mm: micro(steam.temperature_at_gauge_c(pa, mm / 1_000)),
    "pot": steam.pot,
    "trapped_air": lambda pa, temp, mm: steam.trapped_air(pa, temp / 100, mm / 1_000),
    "lethal_rate": lambda temp, ref, z: micro(
        float(lethality.lethal_rate(temp / 100, ref / 100, z / 100))
    ),
    "hundredths": lethality.hundredths,
    "score": score_load,
}


def call(name: str, args: list[Json]) -> Json:
    """Return a result as JSON; fractions are "n/d", `Unfit` is {"error", "values"}."""
    try:
        return encode(CALLS[name](*args))
    except Unfit as error:
        return {"error": error.code, "values": error.values}


def encode(value: Any) -> Json:
    if isinstance(value, Fraction):
        return f"{value.numerator}/{value.denominator}"
    if is_dataclass(value) and not isinstance(value, type):
        return encode(asdict(value))
    if isinstance(value, dict):
        return {key: encode(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [encode(item) for item in value]
    return value


def within(want: Json, got: Json) -> bool:
    """Tell whether a result holds what a vector names: of objects the named keys, else all."""
    if isinstance(want, dict) and isinstance(got, dict):
        return all(key in got and within(item, got[key]) for key, item in want.items())
    if isinstance(want, list) and isinstance(got, list):
        return len(want) == len(got) and all(map(within, want, got))
    return bool(want == got)
