"""Sums up a run of tests/run: a line a part, and last 'N passed, N failed, N skipped'.

    python tests/tally.py FOLDER warn|fail

FOLDER holds parts.tsv (part, exit code, seconds) and, for parts that count tests, PART.xml in
JUnit's form. A part without such a file counts as one test. Exits 1 if anything failed.
"""

from __future__ import annotations

import sys
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from pathlib import Path

NO_TESTS = 5
TIMED_OUT = (124, 137)


@dataclass(frozen=True)
class Tally:
    """Counts of one part; `note` says what the counts do not."""

    passed: int = 0
    failed: int = 0
    skipped: int = 0
    note: str = ""


def tally(code: int, report: Path, empty: str) -> Tally:
    """The counts of a part that ended with `code` and may have left a report."""
    if code == NO_TESTS:
        return Tally(failed=int(empty == "fail"), note="no tests")
    if not report.exists():
        passed = int(code == 0)
        return Tally(passed, 1 - passed, note="" if passed else _ending(code))
    try:
        counts = _counts(report)
    except ET.ParseError:
        return Tally(failed=1, note=f"{_ending(code)}, its report is broken off")
    if code != 0 and counts.failed == 0:
        # A crash, an interrupt, a broken file: no test says so, the exit code does.
        return Tally(counts.passed, 1, counts.skipped, _ending(code))
    return counts


def _ending(code: int) -> str:
    return "took too long" if code in TIMED_OUT else f"ended with exit code {code}"


def _counts(report: Path) -> Tally:
    passed = failed = skipped = 0
    for case in ET.parse(report).iter("testcase"):
        if case.find("failure") is not None or case.find("error") is not None:
            failed += 1
        elif case.find("skipped") is not None:
            skipped += 1
        else:
            passed += 1
    return Tally(passed, failed, skipped)


def main(folder: Path, empty: str) -> int:
    total = Tally()
    for line in (folder / "parts.tsv").read_text().splitlines():
        part, code, seconds = line.split("\t")
        one = tally(int(code), folder / f"{part}.xml", empty)
        counts = f"{one.passed:5} passed {one.failed:4} failed {one.skipped:4} skipped"
        print(f"{part:10}{counts} {seconds:>6} s  {one.note}".rstrip())
        total = Tally(
            total.passed + one.passed, total.failed + one.failed, total.skipped + one.skipped
        )
    print(f"{total.passed} passed, {total.failed} failed, {total.skipped} skipped")
    # A run that tried nothing has shown nothing.
    return int(total.failed > 0 or total.passed == 0)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), sys.argv[2]))
