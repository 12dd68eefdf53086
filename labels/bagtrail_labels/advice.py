"""What label stock lives through: printing method and material against steam, as data.

Sentences are message ids, `advice.<word>`, for the farm's language; `grade` says how far the
source goes: P, stated in a maker's technical note (the only published matter found; no standard
or peer-reviewed comparison is known); M, from memory; CP, common practice without a source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

METHODS = ("direct_thermal", "thermal_wax", "thermal_resin", "laser", "inkjet", "pen", "marker")
MATERIALS = ("paper", "polypropylene", "polyester", "autoclave_film", "bag_film")

# What a label comes through at 121 degrees C in wet steam.
SURVIVES, BORDERLINE, FAILS = "survives", "borderline", "fails"

# Continuous temperatures in degrees C that the notes state. Sources: makers' notes, unnamed.
THERMAL_DARKENS = (85, 110)  # direct-thermal coats begin to blacken within this span
PAPER_LIMIT = 80  # coated paper
POLYPROPYLENE_LIMIT = 120
POLYESTER_LIMIT = (150, 200)
AUTOCLAVE_RATED = (121, 132)


@dataclass(frozen=True)
class Advice:
    """One stock: what becomes of it, the sentences that say so, and where that is from."""

    method: str
    material: str
    steam: str
    sentences: tuple[str, ...]
    grade: str

    @property
    def apply_after_cooling(self) -> bool:
        """Whether it belongs on the bag only when the bag is dry and cool."""
        return self.steam == FAILS

    def as_data(self) -> dict[str, Any]:
        """JSON for the screen where stock is chosen."""
        return {
            "method": self.method,
            "material": self.material,
            "steam": self.steam,
            "sentences": list(self.sentences),
            "apply_after_cooling": self.apply_after_cooling,
            "grade": self.grade,
        }


def _row(method: str, material: str, steam: str, grade: str, *words: str) -> Advice:
    return Advice(method, material, steam, tuple(f"advice.{word}" for word in words), grade)


# Heat blackens the whole coat, alcohol does too, light bleaches it: whatever it lies on.
_THERMAL = ("thermal_blackens", "after_cooling", "thermal_alcohol", "thermal_light")

TABLE = (
    _row("direct_thermal", "paper", FAILS, "P", *_THERMAL),
    _row("direct_thermal", "polypropylene", FAILS, "P", *_THERMAL),
    _row("thermal_wax", "paper", FAILS, "P", "paper_limit", "after_cooling"),
    _row("thermal_wax", "polypropylene", FAILS, "M", "wax_smears", "after_cooling"),
    _row("thermal_wax", "polyester", FAILS, "M", "wax_smears", "after_cooling"),
    _row("thermal_resin", "paper", FAILS, "P", "paper_limit", "after_cooling"),
    _row("thermal_resin", "polypropylene", BORDERLINE, "P",
         "polypropylene_limit", "resin_resists", "test_first"),
    _row("thermal_resin", "polyester", SURVIVES, "P",
         "polyester_limit", "resin_resists", "adhesive_wet", "test_first"),
    _row("thermal_resin", "autoclave_film", SURVIVES, "P",
         "autoclave_rated", "adhesive_wet", "test_first"),
    _row("laser", "paper", FAILS, "M", "laser_paper_soaks", "after_cooling"),
    _row("laser", "polyester", BORDERLINE, "P", "laser_toner_softens", "test_first"),
    _row("inkjet", "paper", FAILS, "M", "ink_runs", "after_cooling"),
    _row("pen", "paper", FAILS, "M", "ink_runs", "after_cooling"),
    _row("marker", "bag_film", BORDERLINE, "CP", "marker_backup", "marker_alcohol"),
)  # fmt: skip

# For every stock, printed or not.
ALWAYS = (
    # CP: the plan that asks nothing of a label.
    "advice.track_the_load",
    # CP: labels, staples and ties are foreign bodies at the crop.
    "advice.count_before_soak_and_pick",
    "advice.crate_tag_differs",
)

# Steps of the farm's own test, in order; each is a sentence and a yes or no (CP).
SURVIVAL_TEST = (
    "advice.test_print",
    "advice.test_sterilise",
    "advice.test_wipe_wet",
    "advice.test_wipe_alcohol",
    "advice.test_soak",
    "advice.test_scan",
)


def advice(method: str, material: str) -> Advice:
    """What is known of a stock; where nothing is, that it must be tested, graded CP."""
    for row in TABLE:
        if (row.method, row.material) == (method, material):
            return row
    return _row(method, material, BORDERLINE, "CP", "unknown_stock", "test_first")


def sentence_ids() -> frozenset[str]:
    """Every message id that the locale files must have."""
    rows = [word for row in TABLE for word in row.sentences]
    return frozenset((*rows, *ALWAYS, *SURVIVAL_TEST, "advice.unknown_stock"))
