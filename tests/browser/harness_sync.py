"""What tests of sync do to real browsers: clone a profile, set a clock, read the phone's view."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

from .harness import FarmServer
from .harness_browser import Phone

ROWS = """
() => new Promise((done, failed) => {
  const open = indexedDB.open('bagtrail-view');
  open.onerror = () => failed(open.error);
  open.onsuccess = () => {
    const all = open.result.transaction('units').objectStore('units').getAll();
    all.onsuccess = () => { open.result.close(); done(all.result.map((row) => row.text)); };
    all.onerror = () => failed(all.error);
  };
})
"""

#: Replaces the wall clock only: the steady one, performance.now, goes on as on a real phone.
CLOCK = """
(off) => {
  globalThis.clockOff = off;
  if (globalThis.trueDate) return;
  const True = globalThis.trueDate = Date;
  globalThis.Date = class Date extends True {
    constructor(...words) {
      if (words.length) super(...words);
      else super(True.now() + globalThis.clockOff);
    }
    static now() { return True.now() + globalThis.clockOff; }
  };
}
"""


def clone_profile(home: Path, to: Path) -> None:
    """Copy the profile of a stopped browser, as a phone's backup is put on another phone."""

    def locks(_: str, names: list[str]) -> set[str]:
        return {name for name in names if name.startswith("Singleton")}

    shutil.copytree(home / "profile", to / "profile", ignore=locks)


def lines_seen(phone: Phone) -> set[str]:
    """Return the ids of all records in the rows a phone has stored."""
    rows: list[str] = phone.page.evaluate(ROWS)
    return {line["id"] for row in rows for line in json.loads(row)["lines"]}


def notes_in(server: FarmServer) -> list[str]:
    """Return the texts of all notes on the log, sorted, with repeats."""
    return sorted(r["d"]["text"] for r in server.log() if r["ty"] == "note.written")


def turn_clock(phone: Phone, off_ms: int) -> None:
    """Set a phone's wall clock off by so many ms, now and in every page it loads from here on."""
    phone.context.add_init_script(f"({CLOCK})({off_ms})")
    phone.page.evaluate(CLOCK, off_ms)
