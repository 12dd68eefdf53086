"""What goes into each bag on a farm without a mixer: grams of everything, millilitres of water."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from .findings import NOTE, Finding
from .plan import Wet, plan
from .stock import Ingredient

# Below how many grams does a kitchen scale of 1 g weigh a mineral badly? Our choice: 10 g, where
# one gram is a tenth. Such an ingredient is better mixed into the bran for all bags first.
FINE_G = 10


@dataclass(frozen=True)
class PerBag:
    """One bag's amounts, all bags alike.

    Attributes:
        g: whole grams of each ingredient in the recipe's order; with `water_ml` they make the fill.
        water_ml: a gram of water taken as a millilitre (0.2 % off at 20 °C).
        dry_g, moisture: of these whole grams.
        all_g: grams of each ingredient for all bags.
        short: grams to be bought, by ingredient.
        bags_from_store: how many bags the store allows; None when none is kept.
    """

    g: tuple[int, ...]
    water_ml: int
    dry_g: int
    moisture: int
    all_g: tuple[int, ...]
    short: tuple[tuple[str, int], ...]
    bags_from_store: int | None
    findings: tuple[Finding, ...]


def per_bag(
    ingredients: Sequence[Ingredient], basis: str, target: int, fill_g: int, bags: int = 1,
    base: str = "",
) -> PerBag:  # fmt: skip
    """Return what to weigh into each bag.

    Each ingredient counts at its own `moisture`; when a lot of another moisture is opened, ask
    again with that one, as a bag holds one lot of each.

    Raises:
        Unfit: as `plan`.

    Example: 80 pellets (8 %), 18 bran (12 %), 2 gypsum at 62 % in bags of 2,500 g: 826 g, 194 g,
        19 g and 1,461 mL.
    """
    alone = [replace(i, lots=None) for i in ingredients]
    one = plan(alone, basis, target, Wet(fill_g), base=base)
    by_name = {line.name: line.g for line in one.lines}
    g = tuple(by_name.get(i.name, 0) for i in ingredients)
    held = [None if i.lots is None else sum(lot.mass_g for lot in i.lots) for i in ingredients]
    all_g = tuple(a_bag * bags for a_bag in g)
    short = tuple(
        (i.name, need - has)
        for i, need, has in zip(ingredients, all_g, held, strict=True)
        if has is not None and need > has
    )
    enough = [has // a for a, has in zip(g, held, strict=True) if has is not None and a]
    fine = [
        Finding("fine_amount", NOTE, i.name, {"g": a, "all_g": a * bags})
        for i, a in zip(ingredients, g, strict=True)
        if i.amount and a < FINE_G
    ]
    return PerBag(
        g=g,
        water_ml=one.water_g,
        dry_g=one.dry_g,
        moisture=one.moisture,
        all_g=all_g,
        short=short,
        bags_from_store=min(enough) if enough else None,
        findings=(*one.findings, *fine),
    )
