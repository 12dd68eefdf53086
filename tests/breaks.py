"""Breaks the code in known places and tells which tests see it: a test that stays green is none.

    python tests/breaks.py            every break, each in a copy of the tree: nothing here changes
    python tests/breaks.py B9 C4      those whose name begins so

Run by hand when a test of a promise was changed; a browser test takes a minute a break.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
CLIENT = "client/src/"
SERVER = "server/bagtrail/"


@dataclass(frozen=True)
class Break:
    """One change of the code, and the tests that must go red by it."""

    name: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]


CLOCKS = ("tests/browser/test_sync_clones.py", "-k", "fast")
ALONE = ("tests/browser/test_sync_recover.py", "-k", "one_phone_alone")
FUZZ = ("tests/server/test_any_record.py", "-k", "sqlite")
HOSTILE = ("tests/server/test_hostile_records.py", "-k", "sqlite and block_nobody")
AWAY = ("tests/server/test_long_offline.py", "-k", "sqlite")
FOREIGN = ("tests/server/test_foreign.py", "-k", "sqlite")
SCOPE = ("tests/server/test_scope.py", "-k", "sqlite")
SUMMARIES = ("tests/client/core/scope.test.ts",)

TURNS = ("tests/client/core/turns.test.ts",)
LEAVING = ("tests/client/core/exported.test.ts",)
TRIGGERS = ("'online', () => this.now()", "'pageshow', () => this.now()",
            "'visibilitychange', () => { if (page?.visibilityState === 'visible') this.now(); }",
            "afterWrite(): void {\n    this.later(AFTER_WRITE_MS);")  # fmt: skip

BREAKS = (
    *(Break(f"A4 no turn by {one.split(',')[0].split('(')[0]}", CLIENT + "turns.ts", one,
            one.replace("this.now()", "undefined").replace("this.later(AFTER_WRITE_MS);", ""),
            TURNS) for one in TRIGGERS),
    Break("A4 no turn by itself", CLIENT + "turns.ts", "EVERY_MS = 15_000", "EVERY_MS = 15_000_000",
          TURNS),
    Break("A6 a tick before the disk has it", CLIENT + "outbox.ts",
          "'readwrite', { durability: 'strict' })", "'readwrite')",
          ("tests/client/core/outbox.test.ts",)),
    Break("C3 a gap in the server's count is not sent again", CLIENT + "ledger.ts",
          "if (gap?.state !== 'acked') return;", "if (gap?.state !== undefined) return;",
          ("tests/client/core/ledger.test.ts",)),
    Break("A14 a phone may leave with records in no file", CLIENT + "aside.ts",
          "IDBKeyRange.lowerBound(known, true)", "IDBKeyRange.lowerBound(known + 1e9, true)",
          LEAVING),
    Break("A14 what is put aside is forgotten", CLIENT + "aside.ts",
          "records: [...before, ...carried] }], ASIDE)", "records: before }], ASIDE)", LEAVING),
    Break("7.8 another farm's file is taken without a word", CLIENT + "desk-work.ts",
          "if (read.foreign && !foreign) {", "if (read.torn && !read.foreign) {", LEAVING),
    Break("7.8 who refuses them stops everything", CLIENT + "sync.ts",
          "(error.status === 403 || error.status === 404)", "(error.status === 1)", LEAVING),
    Break("B9 the server believes any time", SERVER + "receipts.py",
          "        eff = received\n", "        pass\n", CLOCKS),
    Break("B9 no phone is told that its clock was wrong", CLIENT + "ledger.ts",
          "stream.at !== kept.at || t >= kept.at", "stream.at !== kept.at || t !== -1", CLOCKS),
    Break("B9 the server's time is not taken up", CLIENT + "clock.ts",
          "offset: Math.round(server - (sent + answered) / 2)", "offset: server * 0", CLOCKS),
    Break("B9 a clock set by hand is not noticed", CLIENT + "clock.ts",
          "Math.abs(lead - this.lead) > JUMP_MS", "lead === JUMP_MS / 7", CLOCKS),
    Break("B9 a second jump unsays the first", CLIENT + "clock.ts",
          "this.jumped ||= this.best !== null", "this.jumped = this.best !== null", CLOCKS),
    Break("B9 no order within a phone", SERVER + "intake.py",
          "floor = max(last_eff.get(entry.st, 0), self._seen_until(entry, seen))", "floor = 0",
          ("tests/server/test_clock.py",)),
    Break("C3 own records are not offered", CLIENT + "ledger.ts",
          "if (own === undefined) return null;", "if (own !== -1) return null;", ALONE),
    Break("C3 what is wanted is not sent again", CLIENT + "ledger.ts",
          "if (kept?.state === 'acked') requeue(tx, kept);", "if (!kept) continue;", ALONE),
    Break("C3 others' records are not offered", CLIENT + "sync.ts",
          "if (!epoch || Date.now() < this.othersNotBefore) return;", "if (epoch !== null) return;",
          ALONE),
    Break("C3 others' records are not kept", CLIENT + "sync.ts",
          "      await this.others.keep(epoch, from, to, rows);\n    } catch",
          "      await this.others.keep(epoch, from, to, []);\n    } catch", ALONE),
    Break("B4 a record that breaks the fold breaks the server", SERVER + "live.py",
          '            line["w"] = "broken"\n', "            raise\n", FUZZ),
    Break("B4 wrong fields are folded", SERVER + "line.py",
          'why = _whole(record) or check(line["k"], line["tv"], line["s"], line["d"])',
          "why = _whole(record)", FUZZ),
    Break("B4 a whole push falls with one record", SERVER + "intake.py",
          "        except line.NotARecord:\n", "        except ZeroDivisionError:\n", HOSTILE),
    Break("B4 any seal is good", SERVER + "intake.py",
          "if not keys.same(keys.mac(key, entry.text), entry.mac):", "if not entry.text:", HOSTILE),
    Break("B4 any receipt is good", SERVER + "receipts.py",
          "len(receipt) > MAX_BYTES or not keys.same(keys.mac(key, receipt), rmac)",
          "len(receipt) > MAX_BYTES", HOSTILE),
    Break("B4 held records are not shown", SERVER + "fold.py",
          "if why and not self.index.voided(i)]", "if why and not i]", HOSTILE),
    Break("C4 400 days are not believed", SERVER + "receipts.py",
          "OLDEST_MS = 400 * DAY_MS", "OLDEST_MS = 30 * DAY_MS", AWAY),
    Break("C4 what is known is not known again", SERVER + "intake.py",
          "known = self.store.by_id([e.id for e in todo])", "known: dict[str, Stored] = {}", AWAY),
    Break("C4 the order of arrival counts", SERVER + "receipts.py",
          "    return max(eff, floor), flags", "    return max(received, floor), flags", AWAY),
    Break("C4 an old cursor begins a page too late", SERVER + "sync.py",
          'start = int(cursor.split(".")[1]) if cursor else 0',
          'start = int(cursor.split(".")[1]) + 1 if cursor else 0', AWAY),
    Break("C5 lines from beyond the cursor", SERVER + "scope.py",
          'if 0 < line["p"] <= pos', 'if 0 < line["p"]', SCOPE),
    Break("C5 a label's lines stay with its new batch", SERVER + "scope.py",
          "todo += [*index.all_naming(code), *index.all_claimants(code)]", "todo += []", SCOPE),
    Break("C5 a record leads to its present batch only", SERVER + "scope.py",
          "for one in (code, *births)", "for one in (code,)", SCOPE),
    Break("C5 a summary outlives a record", SERVER + "live.py",
          "                self._archived.pop(unit, None)\n", "", SCOPE),
    Break("C5 a place fetches all that ever stood there", CLIENT + "pull.ts",
          "return found.filter((unit) => !resting.has(unit));", "return found;", SUMMARIES),
    Break("C5 own records hide a summary", CLIENT + "live.ts",
          " && !this.reader.archived.has(unit)", "", SUMMARIES),
    Break("C5 own records of a summary are of an unknown bag", CLIENT + "live.ts",
          "await this.reader.house(", "void (", SUMMARIES),
    Break("C5 a correction without a code finds nothing", CLIENT + "pull.ts",
          "if (missed.length) {", "if (!missed) {", SUMMARIES),
    Break("C5 what did not fit is not asked for again", CLIENT + "archive.ts",
          "    left = next;\n", "    left = [];\n", SUMMARIES),
    Break("C5 a clock nobody compared lets go", CLIENT + "archive.ts",
          "q === 'none' || q === 'jump' || ", "", SUMMARIES),
    Break("C5 who looks gets nothing", CLIENT + "sync.ts",
          "      await this.reviveWanted();\n", "", SUMMARIES),
    Break("7.8 another farm's records count at once", SERVER + "intake.py",
          "        if entry.foreign:\n            return \"-\"\n", "", FOREIGN),
    Break("7.8 they come back as nobody's", SERVER + "intake.py",
          "if not keys.same(keys.mac(self._foreign_key, entry.text), entry.mac):",
          "if len(record) == 4 or caller.role == \"worker\":", FOREIGN),
    Break("7.8 what was taken out is let count", SERVER + "foreign.py",
          'and not index.voided(line["id"])', "", FOREIGN),
)  # fmt: skip


def copy_tree(to: Path) -> None:
    """Copy what git would keep, with the packages of the client linked."""
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard"],
        cwd=ROOT, check=True, capture_output=True, text=True,
    ).stdout.split("\n")  # fmt: skip
    for name in filter(None, listed):
        source = ROOT / name
        if source.is_file() and not source.is_symlink():
            (to / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(source, to / name)
    modules = ROOT / "client" / "node_modules"
    (to / "client" / "node_modules").symlink_to(modules.resolve())


def seen(one: Break) -> str:
    """Apply a break in a copy and return what the tests said: "red" is what is wanted."""
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder)
        copy_tree(tree)
        file = tree / one.file
        text = file.read_text(encoding="utf-8")
        if text.count(one.old) != 1:
            return f"no break: its text stands {text.count(one.old)} times in {one.file}"
        file.write_text(text.replace(one.old, one.new), encoding="utf-8")
        paths = os.pathsep.join(str(tree / part) for part in ("server", "labels"))
        env = {**os.environ, "PYTHONPATH": paths}
        env.pop("BAGTRAIL_STATIC", None)
        if "browser" in one.tests[0]:
            vite = ["node", "node_modules/vite/bin/vite.js", "build"]
            built = subprocess.run(vite, cwd=tree / "client", capture_output=True, text=True)
            if built.returncode:
                return f"no break: it does not build\n{built.stderr[-500:]}"
            env["BAGTRAIL_STATIC"] = str(tree / "client" / "dist")
        if one.tests[0].endswith(".ts"):
            return vitest(tree, one.tests)
        pytest = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *one.tests]
        done = subprocess.run(pytest, cwd=tree, env=env, capture_output=True, text=True)
        why = next((x for x in done.stdout.splitlines() if x.startswith("E  ")), "")
        said = {0: "GREEN: no test saw it", 1: "red"}.get(done.returncode)
        return f"{said or f'pytest ended with {done.returncode}'}  {why[:110]}"


def vitest(tree: Path, tests: tuple[str, ...]) -> str:
    """Return what tests of the client say, as ``seen`` does."""
    subprocess.run(["node", "vite/linkTests.js"], cwd=tree / "client", check=True)
    runner = ["node", "node_modules/vitest/vitest.mjs", "run", *(f"../{one}" for one in tests)]
    done = subprocess.run(runner, cwd=tree / "client", capture_output=True, text=True)
    if done.returncode == 0:
        return "GREEN: no test saw it"
    why = next((x for x in done.stdout.splitlines() if "Error" in x), "")
    return f"red  {why[:110]}" if "failed" in done.stdout else f"no break: {done.stderr[-300:]}"


def main() -> int:
    """Try the breaks asked for; returns 0 if each was seen."""
    wanted = sys.argv[1:]
    chosen = [b for b in BREAKS if not wanted or any(b.name.startswith(w) for w in wanted)]
    said = []
    for one in chosen:
        said.append(seen(one))
        sys.stdout.write(f"{one.name}: {said[-1]}\n")
        sys.stdout.flush()
    return 0 if all(word.startswith("red") for word in said) else 1


if __name__ == "__main__":
    sys.exit(main())
