"""The farm's folded state in memory, kept up with the log, and its cache in the database.

State is only ever a consequence of the log: it is loaded from cached rows when they were made by
this very fold from this very log, else folded from the first record. Several processes may run:
each folds what the others wrote before it answers.
"""

from __future__ import annotations

import functools
import hashlib
import json
import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from . import ids
from .errors import AppError
from .findrow import find_row
from .fold import FARM, LOOSE, Farm
from .intake import Entry
from .line import Line, NotARecord, line_from, line_of
from .receipts import chain
from .scope import is_archived, may_rest, summary_row
from .store import ZERO_HASH, Store, Stored, Top

log = logging.getLogger("bagtrail.live")

PAGE = 1000
SAVE_AFTER_S = 30.0
MOST_TEXTS = 64 << 20  # bytes of row texts kept beside the state: some 60,000 live bags
_FOLDS = ("catalogue/*.py", "fold.py", "life.py", "index.py", "rules.py", "places.py",
          "reference.py", "line.py", "order.py", "ids.py", "live.py")  # fmt: skip


def dumps(row: Any) -> str:
    """Returns the one JSON text of a row: sorted keys, no spaces, ASCII.

    ASCII because a held record may hold half a surrogate pair, which has no UTF-8 form.
    """
    return json.dumps(row, sort_keys=True, separators=(",", ":"))


@functools.cache
def fold_mark() -> str:
    """Returns a mark of the code that folds; cached rows of another fold are not used."""
    here = Path(__file__).parent
    digest = hashlib.sha256()
    for pattern in _FOLDS:
        for path in sorted(here.glob(pattern)):
            digest.update(path.name.encode() + path.read_bytes())
    return digest.hexdigest()[:16]


def line_of_row(row: Stored) -> Line:
    """Returns the line of a row of the log; what cannot be read becomes a held line."""
    receipt = json.loads(row.receipt)
    try:
        line = line_of(row.text, receipt, row.pos)
    except NotARecord:
        flags = receipt["f"].split()
        return {
            "id": row.id, "k": "?", "tv": 0, "t": receipt["t"], "e": receipt["t"], "st": row.st,
            "sq": row.sq, "b": "", "by": "", "dev": row.dev, "a": receipt["a"],
            "ep": receipt["e"], "p": row.pos, "s": [], "d": {}, "f": flags, "w": "unread",
        }  # fmt: skip
    if line["id"] != row.id:  # another text under a known id: kept beside the first, held
        line["id"], line["w"] = row.id, "differs"
    return line


def _line_of_entry(entry: Entry, row: Stored) -> Line:
    """Returns the line of a row whose record is parsed already."""
    if entry.parsed is None or entry.said is None or entry.parsed["id"] != row.id:
        return line_of_row(row)
    return line_from(entry.parsed, entry.said, row.pos, "-")


class Live:
    """The folded farm of one process.

    Args:
        cache: use the cached rows and keep them up; without, the log is folded from its start.
    """

    def __init__(self, store: Store, cache: bool = True) -> None:
        self.store = store
        self._cache = cache
        self.lock = threading.RLock()
        self._timer: threading.Timer | None = None
        self._begin()
        if cache:
            self._load()
        self.catch_up()

    def _begin(self) -> None:
        self.farm = Farm()
        self.pos, self.h = 0, ZERO_HASH
        self._saved = 0
        self._touched: set[str] = set()
        self._texts: dict[str, str] = {}  # of rows as they are now; a new phone asks for all
        self._room = MOST_TEXTS
        self._archived: dict[str, tuple[str, dict[str, Any]]] = {}

    def _load(self) -> None:
        with self.store.reading():
            try:
                meta = json.loads(self.store.snapshot_meta() or "{}")
                if meta.get("fold") != fold_mark():
                    return
                if self.store.hash_at(meta["pos"]) != meta["h"]:
                    return  # the log was put back behind the cache
                if meta["epochs"] != self.store.epochs():
                    return  # what a writer had seen is judged by them
                self.farm.index.epochs[:] = meta["epochs"]
                texts = dict(self.store.snapshot_rows())
                rows = [json.loads(text) for text in texts.values()]
                # The farm first: batches look up strains and places in it.
                for row in sorted(rows, key=lambda r: (r["unit"] != FARM, r["unit"])):
                    self.farm.load_row(row)
                self.pos = self._saved = meta["pos"]
                self.h = meta["h"]
                for unit, text in texts.items():
                    self._keep_text(unit, text)
            except (ValueError, KeyError, TypeError):
                log.exception("the cached state cannot be used; folding the log again")
                self._begin()

    def catch_up(self) -> None:
        """Folds every row of the log that is not folded yet.

        A log that was put back behind our backs is folded from its start.
        """
        with self.lock, self.store.reading():
            top = self.store.top()
            if (top.pos, top.h) != (self.pos, self.h) and self.store.hash_at(self.pos) != self.h:
                log.warning("the log is not what was folded; folding it again")
                self._begin()
            self._know_epochs()
            self._follow(top)

    def take(self, entries: list[Entry]) -> None:
        """Folds what this process has just committed, whose lines are at hand, and all else new."""
        with self.lock:
            rows = sorted(((e.row.pos, e) for e in entries if e.row), key=lambda r: r[0])
            if rows and rows[0][0] == self.pos + 1 and self._joins(rows[0][1]):
                for _, entry in rows:
                    assert entry.row is not None
                    self._add(_line_of_entry(entry, entry.row))
                    self.pos, self.h = entry.row.pos, entry.row.h
                self._save_later()
            self.catch_up()

    def _joins(self, entry: Entry) -> bool:
        """Tells whether an entry is the next link of the chain that was folded."""
        row = entry.row
        return row is not None and row.h == chain(self.h, row.id, row.text, row.receipt)

    def _follow(self, top: Top) -> None:
        before = self.pos
        while self.pos < top.pos and (rows := self.store.after(self.pos, PAGE)):
            for row in rows:
                self._add(line_of_row(row))
                self.pos, self.h = row.pos, row.h
        if self.pos > before:
            self._save_later()

    def _know_epochs(self) -> None:
        """Takes over the order of epochs; one put in before others changes what had been seen."""
        epochs, known = self.store.epochs(), self.farm.index.epochs
        if epochs == known:
            return
        if epochs[: len(known)] != known:
            new = set(epochs) - set(known)
            lines = self.farm.index.lines.values()
            if any(x["ep"] in new or x["b"].partition(".")[0] in new for x in lines):
                self._begin()
                known = self.farm.index.epochs
        known[:] = epochs

    def _add(self, line: Line) -> None:
        """Folds one line; one that the fold breaks on is held, and stops nobody behind it."""
        try:
            touched = self.farm.add(line)
        except Exception:
            log.exception("record %s at %d breaks the fold; it is held", line["id"], line["p"])
            line["w"] = "broken"
            self.farm.index.lines[line["id"]] = line
            self.farm.index.forget(line["id"])
            self._texts.clear()
            self._room = MOST_TEXTS
            self._archived.clear()
        else:
            self._touched |= touched
            for unit in touched:
                self._archived.pop(unit, None)
                self._room += len(self._texts.pop(unit, ""))

    @contextmanager
    def now(self) -> Iterator[Farm]:
        """The farm as the log says at this moment; nobody folds while it is looked at."""
        with self.lock:
            self.catch_up()
            yield self.farm

    def place(self) -> tuple[str, int, str]:
        """Returns (epoch, position, hash) of the log up to which the state is folded."""
        with self.store.reading():
            return self.store.top().epoch, self.pos, self.h

    def texts(self) -> list[str]:
        """Returns the JSON text of every row, in the order of their units.

        The caller holds the lock and has caught up.
        """
        return [self._text(unit) for unit in self.farm.units()]

    def scoped(self, now_ms: int) -> tuple[list[str], list[tuple[str, dict[str, Any]]]]:
        """Returns the rows a phone holds whole, as texts, and the rest as (summary row, find row).

        The caller holds the lock and has caught up.

        Args:
            now_ms: ms UTC, from which the days since the newest record of a batch are counted.
        """
        whole: list[str] = []
        archived: list[tuple[str, dict[str, Any]]] = []
        for unit in self.farm.units():
            short = self._archived.get(unit) or self._shorten(unit, now_ms)
            if short:
                archived.append(short)
            else:
                whole.append(self._text(unit))
        return whole, archived

    def _shorten(self, unit: str, now_ms: int) -> tuple[str, dict[str, Any]] | None:
        folded = self.farm.unit(unit)
        if not may_rest(folded):
            return None
        lines = self.farm.row(unit)["lines"]
        if not is_archived(folded, lines, now_ms):
            return None
        short = self._archived[unit] = (dumps(summary_row(folded, lines)), find_row(folded, lines))
        self._room += len(self._texts.pop(unit, ""))
        return short

    def _text(self, unit: str) -> str:
        text = self._texts.get(unit)
        if text is None:
            text = dumps(self.farm.row(unit))
            self._keep_text(unit, text)
        return text

    def _keep_text(self, unit: str, text: str) -> None:
        if unit == LOOSE or len(text) > self._room:
            return  # what nobody has born changes with births elsewhere
        self._texts[unit] = text
        self._room -= len(text)

    def ref(self, name: str) -> dict[str, Any]:
        """Returns a collection of reference data by code; "settings" are the farm's own fields."""
        with self.now() as farm:
            found: dict[str, Any] = farm.unit(FARM)["ref"][name]
            return dict(found.get("farm", {}) if name == "settings" else found)

    def held(self, record_ids: set[str]) -> set[str]:
        """Returns which of these stored records wait for a person's answer."""
        with self.lock:
            index = self.farm.index
            return {i for i in record_ids if i in index.lines and index.held(i)}

    def born(self, code: str) -> bool:
        """Returns whether any record names a code."""
        with self.lock:
            return bool(self.farm.index.all_naming(code) or self.farm.index.all_claimants(code))

    def free_code(self, letter: str) -> str:
        """Returns a new code of a type that no record names yet."""
        while self.born(code := ids.new_code(letter)):
            pass
        return code

    # The cache

    def _save_later(self) -> None:
        if self._cache and self._timer is None:
            self._timer = threading.Timer(SAVE_AFTER_S, self._save_quietly)
            self._timer.daemon = True
            self._timer.start()

    def _save_quietly(self) -> None:
        try:
            self.save()
        except AppError:
            log.warning("the cached state could not be saved now; the log has everything")

    def save(self) -> None:
        """Writes the rows that changed since the last save, all of one place of the log."""
        with self.lock:
            if self._timer is not None:
                self._timer.cancel()
                self._timer = None
            if self.pos == self._saved:
                return
            units = self.farm.units()
            changed = [(u, self._text(u)) for u in units if u in self._touched]
            pos, h, since = self.pos, self.h, self._saved
            meta = {"pos": pos, "h": h, "fold": fold_mark(), "epochs": self.farm.index.epochs}
            with self.store.writing():
                there = json.loads(self.store.snapshot_meta() or "{}")
                if there.get("fold") == fold_mark() and there["pos"] > pos:
                    return  # another process is further
                if there.get("fold") != fold_mark() or there["pos"] < since:
                    self.store.drop_snapshot()
                    changed = [(u, self._text(u)) for u in units]
                self.store.put_snapshot([*changed, ("", dumps(meta))], pos)
                self.store.keep_snapshots(units)
            self._saved = pos
            self._touched.clear()

    def close(self) -> None:
        """Saves the cache; the log needs no closing."""
        self._save_quietly()

    def refold(self) -> tuple[int, list[str]]:
        """Throws state away and folds the log again.

        Returns:
            (records folded, units whose row differs from what was; none when the fold is sound).
        """
        with self.lock:
            self.catch_up()
            before = {row["unit"]: dumps(row) for row in self.farm.rows()}
            with self.store.writing():
                self.store.drop_snapshot()
            self._begin()
            self.catch_up()
            after = {row["unit"]: dumps(row) for row in self.farm.rows()}
            self.save()
            names = sorted(before.keys() | after.keys())
            return self.pos, [u for u in names if before.get(u) != after.get(u)]
