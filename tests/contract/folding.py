"""Folds a random log in Python, and in the client's own code in one process of Node."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from bagtrail import rules, scope
from bagtrail.findrow import find_row
from bagtrail.fold import Farm
from bagtrail.line import Line, NotARecord, line_of

from .random_logs import Log, Sent

RUNNER = Path(__file__).with_name("fold_runner.mjs")


def canonical(value: Any) -> str:
    """Return JSON that is the same text for the same value, in both languages."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"))


def lines_of(sent: Iterable[Sent]) -> list[Line | None]:
    """Return the lines of what was sent; None where it is no record."""
    found: list[Line | None] = []
    for text, receipt, pos, role in sent:
        try:
            found.append(line_of(text, receipt, pos, role))
        except NotARecord:
            found.append(None)
    return found


def farm_of(log: Log, lines: Iterable[Line | None]) -> Farm:
    """Return a farm that took these lines in, one after the other."""
    farm = Farm()
    farm.index.epochs = log.epochs
    for line in lines:
        if line is not None:
            farm.add(line)
    return farm


def state_of(farm: Farm) -> dict[str, Any]:
    """Return everything a farm answers: rows, sums, and which acts reached each part."""
    rows = list(farm.rows())
    batches = [row for row in rows if row["unit"].startswith("M")]
    finds = {row["unit"]: find_row(row, row["lines"]) for row in batches}
    return {
        "rows": rows,
        "short": {
            row["unit"]: {
                "find": {k: v for k, v in finds[row["unit"]].items() if k not in ("asks", "held")},
                "summary": scope.summary_row(row, row["lines"]),
                "rests": scope.may_rest(row),
            }
            for row in batches
        },
        "sums": {row["unit"]: rules.summary(row) for row in batches},
        "paths": {
            code: [line["id"] for line in farm.history(code)]
            for row in batches
            for code in row["parts"]
        },
    }


def folded(log: Log, sent: list[Sent]) -> str:
    """Return lines and state of a log as canonical JSON; twin of `foldLog` in contract.ts."""
    lines = lines_of(sent)
    return canonical({"lines": lines, **state_of(farm_of(log, lines))})


class Client:
    """The client's fold in a process of Node, which bundles it first (about two seconds)."""

    def __init__(self) -> None:
        node = shutil.which("node")
        if node is None:
            raise RuntimeError("no node on PATH: tests/run puts one there")
        self._process = subprocess.Popen(
            [node, str(RUNNER)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        first = self._read()
        if first != "ready":
            raise RuntimeError(f"the client's fold did not start: {first!r}")

    def ask(self, log: Log, sent: list[Sent], full: bool = False) -> None:
        """Send a log; the answer is read later, so that both sides work at once."""
        assert self._process.stdin
        job = {"epochs": log.epochs, "sent": sent, "full": full}
        self._process.stdin.write(json.dumps(job) + "\n")
        self._process.stdin.flush()

    def digest(self) -> str:
        """Return the SHA-256 of the canonical JSON of the log asked for first."""
        return self._read()

    def text(self, log: Log, sent: list[Sent]) -> str:
        """Return the whole canonical JSON of a log."""
        self.ask(log, sent, full=True)
        return self._read()

    def pull(self, log: Log, page: int, archive: bool = False) -> str:
        """Pull a log into the client's stored rows, page by page; return what differs, or "".

        `archive`: between pages some batches become summaries, and come back when touched.
        """
        assert self._process.stdin
        job = {"epochs": log.epochs, "sent": log.sent, "page": page, "name": f"view-{log.seed}",
               "archive": archive}  # fmt: skip
        self._process.stdin.write(json.dumps(job) + "\n")
        self._process.stdin.flush()
        return str(json.loads(self._read()))

    def work(
        self,
        url: str,
        codes: list[str],
        rounds: int,
        seed: int,
        steps: list[str] | None = None,
        archive: bool = False,
    ) -> dict[str, Any]:
        """Let two phones of the client work on a real server; return what they ended up with.

        `steps` are addresses asked for after each round ("" for none). `archive`: after each round
        each phone keeps only summaries of some batches.
        """
        assert self._process.stdin
        job = {"url": url, "codes": codes, "rounds": rounds, "seed": seed, "steps": steps or [],
               "archive": archive}  # fmt: skip
        self._process.stdin.write(json.dumps(job) + "\n")
        self._process.stdin.flush()
        found: dict[str, Any] = json.loads(self._read())
        return found

    def close(self) -> None:
        """End the process."""
        assert self._process.stdin
        assert self._process.stdout
        self._process.stdin.close()
        self._process.wait(10)
        self._process.stdout.close()

    def _read(self) -> str:
        assert self._process.stdout
        line = self._process.stdout.readline()
        if not line:
            raise RuntimeError(f"the client's fold ended with {self._process.wait()}")
        return line.rstrip("\n")


def digest(text: str) -> str:
    """Return the SHA-256 of a text, hex."""
    return hashlib.sha256(text.encode()).hexdigest()


def first_difference(a: Any, b: Any, path: str = "") -> str:
    """Say where two JSON values differ first."""
    if isinstance(a, dict) and isinstance(b, dict):
        for key in sorted({*a, *b}):
            if key not in a or key not in b:
                return f"{path}/{key}: only on {'the left' if key in a else 'the right'}"
            if a[key] != b[key]:
                return first_difference(a[key], b[key], f"{path}/{key}")
    if isinstance(a, list) and isinstance(b, list) and len(a) == len(b):
        for i, (x, y) in enumerate(zip(a, b, strict=True)):
            if x != y:
                return first_difference(x, y, f"{path}/{i}")
    return f"{path}: {json.dumps(a)[:600]} | {json.dumps(b)[:600]}"
