"""Plans a mix: from any one wish to what to weigh of each lot and the water to add.

1. The recipe becomes exact dry shares (`recipe`).
2. The wish becomes one dry mass and one total, through the lots' own moistures (`stock`).
3. The total is cut into whole grams of every lot and of water that add up to it.
4. Those are dealt out over equal charges; every charge has the same recipe to the gram.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .carbide import refuse
from .cautions import of_amounts, of_fill, of_moisture
from .findings import NOTE, WARN, Finding, Unfit
from .moisture import WHOLE, dry_mass, mix_moisture, wet_mass
from .recipe import Part, dry_shares, express
from .stock import Ingredient, Needs, dry_in_store
from .whole import ceiling, half_up, largest_remainder, spread

# The phone plans too: more than the catalogue lets a batch be (100 t) is a slip of the finger.
MOST_G = 100_000_000


@dataclass(frozen=True)
class Bags:
    """So many bags; needs a fill weight."""

    n: int


@dataclass(frozen=True)
class Wet:
    """So many grams of finished mix."""

    g: int


@dataclass(frozen=True)
class AllOf:
    """All there is in store of one ingredient."""

    name: str


@dataclass(frozen=True)
class Charges:
    """So many mixer fillings, each as full as the mixer allows."""

    n: int = 1


Wish = Bags | Wet | AllOf | Charges


@dataclass(frozen=True)
class Mixer:
    """What one charge may weigh and, when known, what it may fill."""

    g: int
    ml: int | None = None


@dataclass(frozen=True)
class Line:
    """Whole grams to weigh of one lot, its cost in minor units, and whether it must be bought."""

    name: str
    lot: str
    g: int
    moisture: int
    short: bool
    cost_minor: int | None


@dataclass(frozen=True)
class Charge:
    """One mixer filling: grams of each line, in the plan's order, water, and their sum."""

    g: tuple[int, ...]
    water_g: int
    total_g: int


@dataclass(frozen=True)
class Plan:
    """What to weigh.

    Attributes:
        lines: every lot to weigh; their grams and `water_g` add up to `total_g`.
        dry_g, moisture: of the whole grams, as they would be mixed.
        shares: of total dry, 0.01 %, one an ingredient in the recipe's order; they make 10,000.
        charges: their columns add up to the lines.
        volume_ml: of one charge; None when a bulk density is missing.
        bags, left_g: full bags and what is over; None without a fill weight.
        cost_minor: of all lines with a price and of the bags; `unpriced` names the others.
        bag_cost_minor, kg_cost_minor: of one bag, of one kilogram of mix, half up.
        short: grams to be bought, by ingredient.
        store_g, store_bags: what the store would allow of this recipe; None when none is kept.
    """

    lines: tuple[Line, ...]
    water_g: int
    total_g: int
    dry_g: int
    moisture: int
    shares: tuple[int, ...]
    charges: tuple[Charge, ...]
    volume_ml: int | None
    bags: int | None
    left_g: int | None
    cost_minor: int
    bag_cost_minor: int | None
    kg_cost_minor: int
    unpriced: tuple[str, ...]
    short: tuple[tuple[str, int], ...]
    store_g: int | None
    store_bags: int | None
    findings: tuple[Finding, ...]


def plan(
    ingredients: Sequence[Ingredient],
    basis: str,
    target: int,
    wish: Wish,
    *,
    fill_g: int | None = None,
    loss_g: int = 0,
    mixer: Mixer | None = None,
    bag_minor: int = 0,
    base: str = "",
) -> Plan:
    """Return what to weigh and the water to add.

    Args:
        basis: of the ingredients' amounts, one of `recipe.BASES`.
        target: moisture of the mix, 0.01 % wet basis.
        fill_g: what one bag is filled with.
        loss_g: what is lost a bag on the way from mixer to bag.
        mixer: without one the mix is a single charge.
        bag_minor: price of one empty bag.
        base: "sawdust" or "straw": which moistures are usual; "" asks nothing.

    Returns:
        A plan. A target below what the lots bring is no error: no water is added, and "too_wet"
        names the moisture reached.

    Raises:
        Unfit: "carbide" and what `recipe` and `moisture` raise; "fill_missing", "wish_range",
            "mixer_missing", "mixer_range", "bulk_range", "price_range", "ingredient_twice",
            "ingredient_unknown", "none_in_store", "too_much".

    Example: 130 kg sawdust at 40 %, 22.73 bran at 12 %, 1 gypsum, 1 lime for 250 kg at 60 %: add
        95.27 kg of water.
    """
    _check(ingredients, wish, fill_g, loss_g, mixer)
    parts = [Part(i.name, i.amount, i.wood, i.moisture) for i in ingredients]
    needs = Needs(tuple(ingredients), tuple(dry_shares(basis, parts)))
    dry, total = _size(needs, target, wish, fill_g, loss_g, mixer)
    if total > MOST_G:
        raise Unfit("too_much", g=total, most=MOST_G)

    draws = needs.draws(dry)
    exact = [d.g for d in draws]
    water = max(Fraction(0), wet_mass(dry, target) - sum(exact, Fraction(0)))
    *grams, water_g = largest_remainder([*exact, water], total)
    lines = tuple(
        Line(d.ingredient.name, d.lot, g, d.moisture, d.short, _cost(g, d.price_minor, d.price_g))
        for d, g in zip(draws, grams, strict=True)
    )

    volume = needs.volume(dry)
    ways = _ways(total, volume, mixer, wish)
    rows = spread([*grams, water_g], ways)
    charges = tuple(Charge(tuple(row[:-1]), row[-1], sum(row)) for row in rows)

    a_bag = (fill_g or 0) + loss_g
    bags = total // a_bag if fill_g else None
    cost = _costs([(d.price_minor, d.price_g, g) for d, g in zip(draws, grams, strict=True)])
    cost += bag_minor * (bags or 0)
    store_g = _store(needs, target)
    reached = mix_moisture([*((line.g, line.moisture) for line in lines), (water_g, WHOLE)])
    findings = [*of_moisture(target, base), *(of_fill(fill_g) if fill_g else ())]
    findings += of_amounts(_in_charges(lines, charges))
    if wet_mass(dry, target) < needs.weighed(dry):
        findings.append(Finding("too_wet", WARN, "", {"target": target, "reached": reached}))
    if mixer and mixer.ml is not None and volume is None:
        for name in needs.unmeasured():
            findings.append(Finding("no_bulk_density", NOTE, name))
    return Plan(
        lines=lines,
        water_g=water_g,
        total_g=total,
        dry_g=half_up(sum((dry_mass(line.g, line.moisture) for line in lines), Fraction(0))),
        moisture=reached,
        shares=tuple(express("of_total_dry", needs.shares, parts)),
        charges=charges,
        volume_ml=None if volume is None else half_up(volume / ways),
        bags=bags,
        left_g=None if bags is None else total - bags * a_bag,
        cost_minor=half_up(cost),
        bag_cost_minor=half_up(cost / bags) if bags else None,
        kg_cost_minor=half_up(cost * 1_000 / total),
        unpriced=_unpriced(lines),
        short=_short(lines),
        store_g=store_g,
        store_bags=None if store_g is None or not fill_g else store_g // a_bag,
        findings=tuple(findings),
    )


def _check(
    ingredients: Sequence[Ingredient],
    wish: Wish,
    fill_g: int | None,
    loss_g: int,
    mixer: Mixer | None,
) -> None:
    names = [i.name for i in ingredients]
    for i in ingredients:
        if refuse(i.name):
            raise Unfit("carbide", name=i.name)
        if names.count(i.name) > 1:
            raise Unfit("ingredient_twice", name=i.name)
        if (i.bulk_g_l is not None and i.bulk_g_l < 1) or i.swell < 1:
            raise Unfit("bulk_range", name=i.name)
        if i.price_g < 1 or any(lot.price_g < 1 for lot in i.lots or ()):
            raise Unfit("price_range", name=i.name)
        if any(lot.mass_g < 0 for lot in i.lots or ()):
            raise Unfit("amount_range", name=i.name)
    if fill_g is not None and fill_g < 1:
        raise Unfit("wish_range", fill_g=fill_g)
    if loss_g < 0:
        raise Unfit("wish_range", loss_g=loss_g)
    if mixer and (mixer.g < 1 or (mixer.ml is not None and mixer.ml < 1)):
        raise Unfit("mixer_range")
    if isinstance(wish, Bags) and fill_g is None:
        raise Unfit("fill_missing")
    if isinstance(wish, Charges) and mixer is None:
        raise Unfit("mixer_missing")
    size = 1 if isinstance(wish, AllOf) else wish.g if isinstance(wish, Wet) else wish.n
    if size < 1:
        raise Unfit("wish_range", size=size)


def _size(
    needs: Needs,
    target: int,
    wish: Wish,
    fill_g: int | None,
    loss_g: int,
    mixer: Mixer | None,
) -> tuple[Fraction, int]:
    """The exact dry mass of the mix and its whole grams in all."""
    if isinstance(wish, AllOf):
        dry = _dry_of_all(needs, wish.name)
        return dry, half_up(_total(needs, target, dry))
    if isinstance(wish, Bags):
        total = wish.n * ((fill_g or 0) + loss_g)
    elif isinstance(wish, Wet):
        total = wish.g
    else:
        assert mixer is not None
        total = wish.n * mixer.g
        if mixer.ml is not None and not needs.unmeasured():
            fits = needs.dry_for_volume(wish.n * mixer.ml)
            a_charge = _total(needs, target, fits) / wish.n
            total = min(total, wish.n * (a_charge.numerator // a_charge.denominator))
            if total < 1:
                raise Unfit("mixer_range")
    dry = dry_mass(total, target)
    if needs.weighed(dry) > total:
        dry = needs.dry_for_weighed(total)
    return dry, total


def _total(needs: Needs, target: int, dry: Fraction) -> Fraction:
    """What a dry mass makes at the target moisture, or without any water when that is more."""
    return max(wet_mass(dry, target), needs.weighed(dry))


def _dry_of_all(needs: Needs, name: str) -> Fraction:
    for ingredient, share in zip(needs.ingredients, needs.shares, strict=True):
        if ingredient.name == name and share:
            held = dry_in_store(ingredient)
            if not held:
                raise Unfit("none_in_store", name=name)
            return held / share
    raise Unfit("ingredient_unknown", name=name)


def _ways(total: int, volume: Fraction | None, mixer: Mixer | None, wish: Wish) -> int:
    if mixer is None:
        return 1
    if isinstance(wish, Charges):
        return wish.n
    ways = -(-total // mixer.g)
    if mixer.ml is not None and volume is not None:
        ways = max(ways, ceiling(volume / mixer.ml))
    return ways


def _store(needs: Needs, target: int) -> int | None:
    """How many grams of mix the store allows before any ingredient runs out."""
    limits = [
        held / share
        for ingredient, share in zip(needs.ingredients, needs.shares, strict=True)
        if share and (held := dry_in_store(ingredient)) is not None
    ]
    if not limits:
        return None
    total = _total(needs, target, min(limits))
    return total.numerator // total.denominator


def _cost(g: int, price_minor: int | None, price_g: int) -> int | None:
    return None if price_minor is None else half_up(Fraction(g * price_minor, price_g))


def _costs(rows: Sequence[tuple[int | None, int, int]]) -> Fraction:
    """Exact: lines are rounded for show only, so that the sum is rounded once."""
    costs = (Fraction(g * minor, per) for minor, per, g in rows if minor is not None)
    return sum(costs, Fraction(0))


def _in_charges(lines: Sequence[Line], charges: Sequence[Charge]) -> list[tuple[str, int]]:
    """What a person lifts at once: the most of each line that any charge takes."""
    return [(line.name, max(c.g[i] for c in charges)) for i, line in enumerate(lines)]


def _unpriced(lines: Sequence[Line]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(line.name for line in lines if line.cost_minor is None))


def _short(lines: Sequence[Line]) -> tuple[tuple[str, int], ...]:
    return tuple((line.name, line.g) for line in lines if line.short)
