"""Temperature logs of loads: the logger's own file, kept as it came, and what it was worth.

The file is never changed and lies in every backup, so that a load can be scored again another way.
"""

from __future__ import annotations

import threading
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from .errors import BadLog, LogsFull
from .pieces import Pieces
from .trade import csvpreview
from .trade.csvlayout import HEAD, Layout, Probe
from .trade.csvlog import read_log
from .trade.findings import Unfit
from .trade.readings import fill_missing, tidy
from .trade.score import score

# How many points of the curve are sent? Twice the width of a phone's screen.
POINTS = 800
# How many findings are sent? A log with more than these is no log of one load.
MOST_FINDINGS = 200
# What no choice of columns mends.
_HOPELESS = {"empty", "binary", "spreadsheet", "pdf", "compressed", "too_big", "line_too_long"}


class LoadLogs(Pieces):
    """The temperature logs of one farm, scored one at a time, so that memory is bounded."""

    missing = "This temperature log is not on the farm's computer."
    bad, full = BadLog, LogsFull

    def __init__(self, folder: Path, most: int = 0) -> None:
        super().__init__(folder, most)
        self._scoring = threading.Lock()

    def answer(self, asked: dict[str, Any]) -> dict[str, Any]:
        """Reads a log and scores it.

        Args:
            asked: as ``LogAsked``; a layout of None is guessed.

        Returns:
            {"k","sha256","layout","names","rows","score"}.

        Raises:
            NotFound: the file is not here.
            BadLog: it cannot be read so; details have "unfit", its "values" and, where a person
                can choose columns, "layout", "names" and "rows".
        """
        path = self.path(asked["sha256"])
        with path.open("rb") as file:
            head = file.read(HEAD)
            layout = None if asked["layout"] is None else _layout(asked["layout"])
            try:
                with self._scoring:
                    log = read_log(file, layout)
                    series = tidy(
                        log.ms, log.temps, log.probes,
                        longest_ms=asked["longest_ms"], accept=asked["accept"],
                    )  # fmt: skip
                    if asked["fill"]:
                        series = fill_missing(series)
                    worth = score(series, asked["ref"], asked["z"], asked["limit"], POINTS)
            except Unfit as unfit:
                raise _refusal(unfit, head, layout) from unfit
        names, rows = csvpreview.first_rows(head, log.layout)
        # What was guessed, then what could not be read, then what is wrong with the readings.
        found = (*log.findings, *worth.findings)[:MOST_FINDINGS]
        return {
            "k": "load1", "sha256": asked["sha256"], "layout": _shown(log.layout),
            "names": names, "rows": rows, "score": asdict(replace(worth, findings=found)),
        }  # fmt: skip


def _refusal(unfit: Unfit, head: bytes, layout: Layout | None) -> BadLog:
    details: dict[str, Any] = {"unfit": unfit.code, "values": unfit.values}
    if unfit.code not in _HOPELESS:
        try:
            layout = layout or csvpreview.bare_layout(head)
            names, rows = csvpreview.first_rows(head, layout)
            details |= {"layout": _shown(layout), "names": names, "rows": rows}
        except Unfit:
            pass  # nothing to choose from; the first fault is told
    return BadLog(f"The log cannot be read: {unfit.code}.", details=details)


def _layout(given: dict[str, Any]) -> Layout:
    columns, kind = tuple(given["columns"]), given["kind"]
    fitting = {"every": (0,), "moment": (1, 2)}.get(kind, (1,))
    if len(columns) not in fitting:
        raise BadLog("Choose the column of the time.", details={"unfit": "no_time", "values": {}})
    probes = tuple(Probe(p["column"], p["name"], p["unit"]) for p in given["probes"])
    return Layout(**{**given, "columns": columns, "probes": probes})


def _shown(layout: Layout) -> dict[str, Any]:
    made = asdict(layout)
    del made["findings"]
    return {**made, "unit_ms": round(layout.unit_ms)}
