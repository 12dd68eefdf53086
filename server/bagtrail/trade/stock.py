"""What a recipe's dry mass means in grams of the lots in store, oldest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .moisture import dry_mass, wet_mass


@dataclass(frozen=True)
class Lot:
    """A lot in store: what is left of it, its own moisture (0.01 %), `price_minor` a `price_g`."""

    code: str
    mass_g: int
    moisture: int
    price_minor: int | None = None
    price_g: int = 1_000


@dataclass(frozen=True)
class Ingredient:
    """One ingredient of a recipe and what there is of it.

    Attributes:
        amount: in the recipe's basis, any one whole unit (see `recipe`).
        wood: whether it belongs to the 100 of wood.
        moisture: 0.01 % as received, where no lot says better; the weighed bases read it too.
        lots: in the order in which they are to be used up; None when its store is not kept.
        price_minor: of `price_g` grams, for what is not in a lot.
        bulk_g_l: bulk density as received, g/L.
        swell: volume after wetting over volume as received, in 0.01 (pellets about 300).
    """

    name: str
    amount: int
    wood: bool = False
    moisture: int = 0
    lots: tuple[Lot, ...] | None = None
    price_minor: int | None = None
    price_g: int = 1_000
    bulk_g_l: int | None = None
    swell: int = 100


@dataclass(frozen=True)
class Draw:
    """Exact grams of one lot; `lot` "" is what stands in none, `short` what must be bought."""

    ingredient: Ingredient
    lot: str
    g: Fraction
    moisture: int
    short: bool
    price_minor: int | None
    price_g: int


def draw(ingredient: Ingredient, dry: Fraction) -> list[Draw]:
    """Return what to weigh of an ingredient's lots for `dry` oven-dry grams, in their order."""
    draws = []
    for lot in ingredient.lots or ():
        if dry <= 0:
            break
        held = dry_mass(lot.mass_g, lot.moisture)
        if held == 0:
            continue
        g = Fraction(lot.mass_g) if held <= dry else wet_mass(dry, lot.moisture)
        draws.append(
            Draw(ingredient, lot.code, g, lot.moisture, False, lot.price_minor, lot.price_g)
        )
        dry -= held
    if dry > 0:
        g = wet_mass(dry, ingredient.moisture)
        short = ingredient.lots is not None
        draws.append(
            Draw(ingredient, "", g, ingredient.moisture, short,
                 ingredient.price_minor, ingredient.price_g)
        )  # fmt: skip
    return draws


def dry_in_store(ingredient: Ingredient) -> Fraction | None:
    """Return the oven-dry grams of all lots; None when the store is not kept."""
    if ingredient.lots is None:
        return None
    return sum((dry_mass(lot.mass_g, lot.moisture) for lot in ingredient.lots), Fraction(0))


@dataclass(frozen=True)
class Needs:
    """How the grams and litres to weigh grow with the dry mass of a mix.

    Both are straight lines between the dry masses at which a lot runs out and the next one, of
    another moisture, takes its place.
    """

    ingredients: tuple[Ingredient, ...]
    shares: tuple[Fraction, ...]

    def draws(self, dry: Fraction) -> list[Draw]:
        """Return everything to weigh for `dry` grams of oven-dry mix."""
        return [
            d
            for i, s in zip(self.ingredients, self.shares, strict=True)
            if s
            for d in draw(i, dry * s)
        ]

    def weighed(self, dry: Fraction) -> Fraction:
        """Return the grams of all ingredients as they are weighed, water not counted."""
        return sum((d.g for d in self.draws(dry)), Fraction(0))

    def unmeasured(self) -> list[str]:
        """Name the ingredients whose bulk density is not known."""
        return [
            i.name
            for i, s in zip(self.ingredients, self.shares, strict=True)
            if s and i.bulk_g_l is None
        ]

    def volume(self, dry: Fraction) -> Fraction | None:
        """Return the millilitres that the swollen ingredients fill; None without all densities.

        Water counts nothing: it goes into the pores. Loose volumes are added, so it errs high.
        """
        total = Fraction(0)
        for d in self.draws(dry):
            if d.ingredient.bulk_g_l is None:
                return None
            total += d.g * 10 * d.ingredient.swell / d.ingredient.bulk_g_l
        return total

    def dry_for_weighed(self, g: Fraction | int) -> Fraction:
        """Return the dry mass whose ingredients weigh `g`: the inverse of `weighed`."""
        knots = [(b, self.weighed(b)) for b in self._breaks()]
        return _invert(knots, Fraction(g))

    def dry_for_volume(self, ml: Fraction | int) -> Fraction:
        """Return the dry mass whose ingredients fill `ml`: the inverse of `volume`."""
        knots = [(b, v) for b in self._breaks() if (v := self.volume(b)) is not None]
        return _invert(knots, Fraction(ml))

    def _breaks(self) -> list[Fraction]:
        """Dry masses of the mix at which a lot runs out, from 0, and one beyond the last."""
        breaks = {Fraction(0)}
        for i, s in zip(self.ingredients, self.shares, strict=True):
            total = Fraction(0)
            for lot in (i.lots or ()) if s else ():
                total += dry_mass(lot.mass_g, lot.moisture)
                breaks.add(total / s)
        return [*sorted(breaks), max(breaks) + 1]


def _invert(knots: Sequence[tuple[Fraction, Fraction]], goal: Fraction) -> Fraction:
    """Find x of y = goal on a rising line through the knots, straight on beyond the last."""
    last = len(knots) - 1
    at = next((i for i in range(1, last) if goal <= knots[i][1]), last)
    (x0, y0), (x1, y1) = knots[at - 1], knots[at]
    return x0 + (goal - y0) * (x1 - x0) / (y1 - y0)
