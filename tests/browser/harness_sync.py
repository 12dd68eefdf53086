"""What tests of sync do to real browsers: clone a profile, set a clock, read the phone's view."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

from .harness import ROOT, FarmServer, wait_until
from .harness_browser import Phone

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


#: What a fork does to a phone: from here on it writes to a stream of its own.
NEW_STREAM = """
(st) => new Promise((done, failed) => {
  const open = indexedDB.open('bagtrail-outbox');
  open.onerror = () => failed(open.error);
  open.onsuccess = () => {
    const tx = open.result.transaction('meta', 'readwrite');
    const meta = tx.objectStore('meta');
    const get = meta.get('stream');
    get.onsuccess = () => meta.put({ ...get.result, st, sq: 0 }, 'stream');
    tx.oncomplete = () => { open.result.close(); done(null); };
    tx.onabort = () => failed(tx.error);
  };
})
"""


def new_stream(phone: Phone) -> None:
    """Let a phone go on with another stream, as it does by itself after a fork or a clone."""
    phone.page.evaluate(NEW_STREAM, "5" * 16)


def clone_profile(home: Path, to: Path) -> None:
    """Copy the profile of a stopped browser, as a phone's backup is put on another phone."""

    def locks(_: str, names: list[str]) -> set[str]:
        return {name for name in names if name.startswith("Singleton")}

    shutil.copytree(home / "profile", to / "profile", ignore=locks)


def build_next(folder: Path) -> Path:
    """Build a later release: rows of another form, a field renamed, a kind gone."""
    client = folder / "client"
    skip = shutil.ignore_patterns("node_modules", "dist", ".tsbuild*")
    shutil.copytree(ROOT / "client", client, ignore=skip)
    (client / "node_modules").symlink_to(ROOT / "client" / "node_modules")
    shutil.copy2(ROOT / "pyproject.toml", folder)
    fold = client / "src" / "fold.ts"
    text = fold.read_text(encoding="utf-8")
    assert "ROW_VERSION = 1;" in text
    fold.write_text(text.replace("ROW_VERSION = 1;", "ROW_VERSION = 2;"), encoding="utf-8")
    catalogue = client / "src" / "catalogue.json"
    kinds = json.loads(catalogue.read_text(encoding="utf-8"))
    del kinds["kinds"]["label.tested"]
    note = kinds["kinds"]["note.written"]
    note["version"], note["fields"][0]["name"] = 2, "words"
    note["example"]["d"] = {"words": "x"}
    catalogue.write_text(json.dumps(kinds), encoding="utf-8")
    node = subprocess.run(
        [sys.executable, str(ROOT / "client" / "build.py"), "--node-dir"],
        capture_output=True, text=True, check=True, timeout=600,
    ).stdout.strip()  # fmt: skip
    vite = [str(Path(node) / "node"), str(client / "node_modules" / "vite" / "bin" / "vite.js")]
    done = subprocess.run([*vite, "build"], cwd=client, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stdout + done.stderr
    return client / "dist"


def lines_seen(phone: Phone) -> set[str]:
    """Return the ids of all records in the rows a phone has stored."""
    return {line["id"] for row in phone.rows().values() for line in row["lines"]}


def sees_all(phone: Phone, texts: list[str]) -> None:
    """Wait until a phone's own rows hold a record for each text of the log."""
    wait_until(lambda: len(lines_seen(phone)) == len(texts), "the phone has all of the log", 60)


def knows(phone: Phone, code: str) -> None:
    """Wait until a phone has a code in its own rows or records.

    "All sent" says nothing of it: a phone with nothing to send may not have pulled yet.
    """

    def here() -> bool:
        return any(code in text for text in [*phone.outbox(), *phone.row_texts()])

    if not here():
        phone.now()
        wait_until(here, f"the phone knows {code}", 60)


def notes_in(server: FarmServer) -> list[str]:
    """Return the texts of all notes on the log, sorted, with repeats."""
    return sorted(r["d"]["text"] for r in server.log() if r["ty"] == "note.written")


def turn_clock(phone: Phone, off_ms: int) -> None:
    """Set a phone's wall clock off by so many ms, now and in every page it loads from here on."""
    phone.context.add_init_script(f"({CLOCK})({off_ms})")
    phone.page.evaluate(CLOCK, off_ms)
