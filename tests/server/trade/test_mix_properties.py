"""What must hold of every mix: scaling, dry mass, round trips of bases, and the gram."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bagtrail import rules
from bagtrail.catalogue.check import is_carbide
from bagtrail.trade import carbide, correct, moisture, plan, recipe, spawn, stock, units, weigh
from bagtrail.trade.cautions import SLIPS
from bagtrail.trade.per_bag import per_bag

NAMES = ("wood", "bran", "gypsum", "hulls", "chalk")
moistures = st.integers(0, 9_000)
targets = st.integers(3_000, 8_000)
lots = st.lists(
    st.builds(stock.Lot, st.just("m"), st.integers(0, 300_000), moistures), max_size=3
).map(tuple)


@st.composite
def mixes(draw: st.DrawFn, stores: bool = True) -> list[stock.Ingredient]:
    names = NAMES[: draw(st.integers(1, 5))]
    return [
        stock.Ingredient(
            name, draw(st.integers(1, 9_000)), name in ("wood", "hulls"), draw(moistures),
            draw(st.one_of(st.none(), lots)) if stores else None,
            bulk_g_l=draw(st.integers(50, 900)), swell=draw(st.sampled_from([100, 300])),
        )
        for name in names
    ]  # fmt: skip


bases = st.sampled_from(recipe.BASES)
wishes = st.one_of(
    st.builds(plan.Bags, st.integers(1, 500)),
    st.builds(plan.Wet, st.integers(1_000, 2_000_000)),
    st.builds(plan.AllOf, st.sampled_from(NAMES)),
    st.builds(plan.Charges, st.integers(1, 9)),
)
mixers = st.builds(plan.Mixer, st.integers(5_000, 200_000),
                   st.one_of(st.none(), st.integers(20_000, 900_000)))  # fmt: skip


def exact_shares(basis: str, mix: list[stock.Ingredient]) -> list[Fraction]:
    parts = [recipe.Part(i.name, i.amount, i.wood, i.moisture) for i in mix]
    return recipe.dry_shares(basis, parts)


@given(mixes(), bases, targets, wishes, mixers, st.integers(300, 5_000), st.integers(0, 60))
def test_a_plan_balances_to_the_gram(
    mix: list[stock.Ingredient], basis: str, target: int, wish: plan.Wish, mixer: plan.Mixer,
    fill: int, loss: int,
) -> None:  # fmt: skip
    try:
        made = plan.plan(mix, basis, target, wish, fill_g=fill, loss_g=loss, mixer=mixer)
    except plan.Unfit as error:
        if error.code in ("none_in_store", "ingredient_unknown", "mixer_range", "too_much"):
            return
        raise
    # Mass: lines and water, charges, bags.
    assert sum(line.g for line in made.lines) + made.water_g == made.total_g
    for i, line in enumerate(made.lines):
        assert sum(c.g[i] for c in made.charges) == line.g
    assert sum(c.water_g for c in made.charges) == made.water_g
    assert sum(c.total_g for c in made.charges) == made.total_g
    assert made.bags is not None
    assert made.left_g is not None
    assert made.bags * (fill + loss) + made.left_g == made.total_g
    assert 0 <= made.left_g < fill + loss
    # Charges: alike to the gram, none above what the mixer takes.
    rows = [(*c.g, c.water_g, c.total_g) for c in made.charges]
    for numbers in zip(*rows, strict=True):
        assert max(numbers) - min(numbers) <= 1
    assert all(c.total_g <= mixer.g for c in made.charges) or isinstance(wish, plan.AllOf)
    if mixer.ml is not None and made.volume_ml is not None:
        assert made.volume_ml <= mixer.ml + 1
    # No lot gives more than it has; what is short is said.
    for ingredient in mix:
        lines = [line for line in made.lines if line.name == ingredient.name]
        if ingredient.lots is not None:
            held = sum(lot.mass_g for lot in ingredient.lots)
            assert sum(line.g for line in lines if not line.short) <= held
    assert sum(g for _, g in made.short) == sum(line.g for line in made.lines if line.short)
    # Dry mass: every ingredient's is its share of the whole, to what one gram of it holds.
    total = sum((moisture.dry_mass(x.g, x.moisture) for x in made.lines), Fraction(0))
    for ingredient, share in zip(mix, exact_shares(basis, mix), strict=True):
        lines = [line for line in made.lines if line.name == ingredient.name]
        own = sum((moisture.dry_mass(x.g, x.moisture) for x in lines), Fraction(0))
        assert abs(own - share * total) <= len(made.lines) + 1
    # Moisture: the target, or no water at all and more than it.
    if made.water_g > len(made.lines):
        wanted = total / (1 - Fraction(target, 10_000))
        assert abs(wanted - made.total_g) <= (len(made.lines) + 1) / (1 - target / 10_000)
    elif made.total_g > 1_000:
        assert made.moisture >= target - 100 * len(made.lines)


@given(mixes(stores=False), bases, targets, st.integers(1_000, 100_000), st.integers(2, 40))
def test_k_times_as_much_takes_k_times_everything(
    mix: list[stock.Ingredient], basis: str, target: int, g: int, k: int
) -> None:
    one = plan.plan(mix, basis, target, plan.Wet(g))
    many = plan.plan(mix, basis, target, plan.Wet(k * g))
    assert many.shares == one.shares
    for a, b in zip([*(x.g for x in one.lines), one.water_g],
                    [*(x.g for x in many.lines), many.water_g], strict=True):  # fmt: skip
        assert abs(b - k * a) <= k


@given(mixes(stores=False), bases, targets, st.integers(1, 2_000), st.integers(20_000, 500_000))
def test_a_wetter_target_takes_more_water_and_less_of_all_else(
    mix: list[stock.Ingredient], basis: str, target: int, more: int, g: int
) -> None:
    drier = plan.plan(mix, basis, target, plan.Wet(g))
    wetter = plan.plan(mix, basis, min(9_500, target + more), plan.Wet(g))
    assert wetter.water_g >= drier.water_g - 1
    for a, b in zip(drier.lines, wetter.lines, strict=True):
        assert b.g <= a.g + 1


@given(mixes(stores=False), bases, targets, st.integers(1_000, 500_000))
def test_one_wish_leads_to_the_other(
    mix: list[stock.Ingredient], basis: str, target: int, g: int
) -> None:
    """From the total to the wood to weigh; from all of that wood back to the total."""
    first = plan.plan(mix, basis, target, plan.Wet(g))
    wood = sum(line.g for line in first.lines if line.name == "wood")
    assume(wood > 100)
    here = stock.Lot("m", wood, mix[0].moisture)
    stored = [stock.Ingredient(**{**vars(mix[0]), "lots": (here,)}), *mix[1:]]
    back = plan.plan(stored, basis, target, plan.AllOf("wood"))
    assert abs(back.total_g - g) <= g / (wood - 1) + 1
    assert [x.g for x in back.lines if x.name == "wood"] == [wood]
    assert back.store_g is not None
    assert abs(back.store_g - back.total_g) <= 1


@given(mixes(stores=False), targets, st.integers(200, 5_000), st.integers(1, 300))
def test_bags_balance_each(mix: list[stock.Ingredient], target: int, fill: int, bags: int) -> None:
    one = per_bag(mix, "of_total_dry", target, fill, bags)
    assert sum(one.g) + one.water_ml == fill
    assert [g * bags for g in one.g] == list(one.all_g)


@given(mixes(), bases, bases)
def test_bases_go_there_and_back_exactly(
    mix: list[stock.Ingredient], first: str, second: str
) -> None:
    shares = exact_shares(first, mix)
    assert sum(shares) == 1
    parts = [recipe.Part(i.name, 0, i.wood, i.moisture) for i in mix]
    # Said in another basis without rounding, read in that basis: the same shares.
    weights = [
        s / (1 - Fraction(i.moisture, 10_000)) if "weighed" in second else s
        for s, i in zip(shares, mix, strict=True)
    ]
    scale = 1
    for w in weights:
        scale = scale * w.denominator
    again = [recipe.Part(p.name, int(w * scale), p.wood, p.moisture)
             for w, p in zip(weights, parts, strict=True)]  # fmt: skip
    assert recipe.dry_shares(second, again) == shares
    # With rounding to 0.01 %: the whole stays whole, nothing is off by a step.
    said = recipe.express(second, shares, parts)
    whole = [n for n, i in zip(said, mix, strict=True) if i.wood or second.startswith("of_total")]
    assert sum(whole) == 10_000


@given(st.lists(st.tuples(st.integers(1, 10**6), moistures), min_size=1, max_size=6), targets)
def test_water_never_changes_the_dry_mass(parts: list[tuple[int, int]], target: int) -> None:
    water = moisture.water_to_add(parts, target)
    dry = sum((moisture.dry_mass(g, at) for g, at in parts), Fraction(0))
    assert moisture.dry_mass(sum(g for g, _ in parts) + water, target) == dry


@given(st.integers(1, 10**6), moistures, moistures)
def test_drying_and_wetting_undo_each_other(g: int, a: int, b: int) -> None:
    there = moisture.mass_at(g, a, b)
    assert moisture.wet_mass(moisture.dry_mass(there, b), a) == g


halves = st.integers(4_000, 8_000)
dry_mixes = st.lists(st.tuples(st.integers(1, 100), st.integers(0, 2_000)), min_size=1, max_size=5)


@given(st.integers(10_000, 10**6), halves, halves, dry_mixes)
def test_a_correction_reaches_the_target(
    g: int, measured: int, target: int, mix: list[tuple[int, int]]
) -> None:
    done = correct.correct(g, measured, target, mix)
    assert done.moisture is not None
    assert abs(done.moisture - target) <= 1
    assert done.total_g == g + done.g
    assert done.kind == "water" or sum(done.parts) == done.g


@given(mixes(stores=False), targets, st.integers(20_000, 200_000), st.data())
def test_weighing_in_as_planned_is_the_plan(
    mix: list[stock.Ingredient], target: int, g: int, data: st.DataObject
) -> None:
    made = plan.plan(mix, "of_total_dry", target, plan.Wet(g))
    assume(made.water_g > 0)
    lines = [weigh.Weighing(x.name, x.g, x.moisture, x.g) for x in made.lines]
    as_planned = weigh.weigh_in(lines, target, made.water_g)
    assert as_planned.findings == ()
    assert as_planned.total_g == made.total_g
    assert as_planned.moisture == made.moisture
    # Each gram rounded at most one off its exact weight; so is the water that makes up for it.
    assert abs(as_planned.water_g - made.water_g) <= len(lines) / (1 - target / 10_000) + 1
    # More on the scale takes more water, to the moisture asked for.
    i = data.draw(st.integers(0, len(lines) - 1))
    heavier = [weigh.Weighing(x.name, x.planned_g, x.moisture, (x.actual_g or 0) + 500 * (j == i))
               for j, x in enumerate(lines)]  # fmt: skip
    after = weigh.weigh_in(heavier, target)
    assert after.dry_g >= as_planned.dry_g
    if after.water_g:
        assert abs(after.moisture - target) <= 1


@given(st.integers(1, 10**6), st.integers(0, 5_000), moistures)
def test_a_spawn_rate_there_and_back(g: int, rate: int, at: int) -> None:
    for basis in spawn.SPAWN_BASES:
        mass = spawn.spawn_mass(basis, rate, 1_000 * g, at)
        back = spawn.spawn_rates(round(mass), 1_000 * g, at)[basis]
        assert abs(back - rate) <= 1 + 10_000 / (1_000 * g * (1 - at / 10_000))


@given(st.sampled_from(sorted(units.UNITS)), st.integers(-(10**7), 10**7))
def test_units_there_and_back(name: str, count: int) -> None:
    shown = units.said(count, name, 6)
    assert units.whole(Fraction(shown, 10**6), name) == pytest.approx(count, abs=1)
    unit = units.unit_of(name)
    assert (Fraction(count) - unit.offset) / unit.factor * unit.factor + unit.offset == count


@pytest.mark.parametrize(
    ("unit", "value", "source"),
    [
        ("lb", "453.59237", "NIST Handbook 44, App. C"), ("oz", "28.349523125", "NIST HB 44, C"),
        ("gal", "3785.411784", "NIST HB 44, C"), ("qt", "946.352946", "NIST HB 44, C"),
        ("fl oz", "29.5735295625", "NIST HB 44, C"), ("ft³", "28316.846592", "NIST HB 44, C"),
        ("ft", "304.8", "NIST HB 44, C"), ("in", "25.4", "NIST HB 44, C"),
        ("gal UK", "4546.09", "UK Weights and Measures Act 1985"),
    ],
)  # fmt: skip
def test_exact_definitions(unit: str, value: str, source: str) -> None:
    assert units.UNITS[unit].factor == Fraction(value), source


@pytest.mark.parametrize(
    ("unit", "value"), [("psi", 6_894.757), ("lb/ft³", 16.01846), ("lb/yd³", 0.5932764)]
)
def test_factors_as_nist_prints_them(unit: str, value: float) -> None:
    """NIST SP 811, Appendix B.8, seven figures."""
    assert float(units.UNITS[unit].factor) == pytest.approx(value, rel=5e-7)


def test_a_pound_is_the_same_in_every_sum() -> None:
    assert SLIPS["lb_for_g"] * units.UNITS["lb"].factor == 1
    assert SLIPS["oz_for_g"] * units.UNITS["oz"].factor == 1
    assert SLIPS["lb_for_kg"] * SLIPS["kg_for_lb"] == 1


def test_psi_in_the_steam_tests_is_the_units() -> None:
    assert float(units.UNITS["psi"].factor) == pytest.approx(6_894.757293168361, rel=1e-15)


@given(st.text("carbideyCaKk2₂ -", max_size=14))
def test_what_the_catalogue_refuses_is_refused_here(name: str) -> None:
    """The catalogue keeps records out of the fold; what a person types is caught more widely."""
    if is_carbide(name):
        assert carbide.refuse(name)


@given(
    st.sampled_from(["carbide", "karbide"]), st.integers(0, 7), st.sampled_from("abcdeikmnoprstuz")
)
def test_every_single_slip_is_refused(word: str, at: int, letter: str) -> None:
    at = min(at, len(word) - 1)
    slips = [word[:at] + letter + word[at:], word[:at] + word[at + 1 :],
             word[:at] + letter + word[at + 1 :]]  # fmt: skip
    if at:
        slips.append(word[: at - 1] + word[at] + word[at - 1] + word[at + 1 :])
    assert all(carbide.refuse(f"Calcium {slip}") for slip in slips)


@given(st.integers(1, 10_000), st.integers(1, 9_999))
def test_efficiency_counts_the_bags_dry_mass(fill: int, at: int) -> None:
    exact = rules.efficiency(fill, rules.dry_share_g(1, fill, at), 10_000)
    assert exact == rules.round_half_up(10_000 * 10_000, 10_000 - at)
    assert abs(weigh.dry_per_bag(fill, at) - fill * (10_000 - at) / 10_000) <= 0.5
