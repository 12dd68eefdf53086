"""The print history: what the server's own computer prints is written down like a phone's print."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from . import devices, ids
from .fold import FARM, Farm
from .sync import Log

MOST_CODES = 900  # a record: 16 KiB hold them with room for the rest


def note(log: Log, codes: Sequence[str], stock: str = "") -> None:
    """Writes that labels of these codes were printed: known ones as subjects, unborn as blank.

    Args:
        codes: as printed, repeats included.
        stock: its name, or "" for one of other measures.
    """
    with log.live.now() as farm:
        jobs = list(_jobs(farm, list(dict.fromkeys(codes))))
    by = devices.owner_of(log)
    for job, part in jobs:
        d = {"n": len(part), "job": job} | ({"stock": stock} if stock else {})
        if job == "blank":
            log.write("label.printed", [], d | {"codes": part}, by)
        else:
            log.write("label.printed", part, d, by)
    log.live.catch_up()


def _jobs(farm: Farm, codes: list[str]) -> Iterator[tuple[str, list[str]]]:
    known = set(farm.units())
    sorted_out: dict[str, list[str]] = {"first": [], "again": [], "blank": []}
    for code in codes:
        if code[0] in "BG" and farm.part(code) is None:
            sorted_out["blank"].append(code)
        elif ids.type_of(code) != "X" and (code[0] != "M" or code in known):
            sorted_out["again" if printed(farm, code) else "first"].append(code)
    for job, found in sorted_out.items():
        for start in range(0, len(found), MOST_CODES):
            yield job, found[start : start + MOST_CODES]


def blanks(farm: Farm) -> set[str]:
    """Returns the codes of all labels that were printed blank: issued, whoever adopts them."""
    return {
        code
        for line in farm.row(FARM)["lines"]
        if line["k"] == "label.printed" and "w" not in line
        for code in line["d"].get("codes", ())
    }


def printed(farm: Farm, code: str) -> bool:
    """Tells whether a label of this code was printed before."""
    return any(line["k"] == "label.printed" for line in farm.index.naming(code))
