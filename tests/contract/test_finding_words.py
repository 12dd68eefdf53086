"""Every remark and every fault of the sums has its sentence: no screen shows a bare code."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCE = "\n".join(
    path.read_text(encoding="utf-8") for path in (ROOT / "server/bagtrail/trade").glob("*.py")
)
WORDS = {
    id_: text
    for path in (ROOT / "client/src/i18n").glob("en-GB*.json")
    for id_, text in json.loads(path.read_text(encoding="utf-8")).items()
}
FINDINGS = set(re.findall(r'Finding\(\s*"([a-z_]+)"', SOURCE))
FINDINGS |= set(re.findall(r'\.fault\(\s*"([a-z_]+)"', SOURCE))
FINDINGS |= {f"guessed_{what}" for what in re.findall(r'_guessed\(\s*"([a-z_]+)"', SOURCE)}
FINDINGS |= {"clock_back", "clock_restarted"}  # chosen in readings._runs
UNFIT = set(re.findall(r'Unfit\(\s*"([a-z_]+)"', SOURCE))
MAGIC = set(re.findall(r'b"[^"]+", "([a-z]+)"\)', SOURCE))  # kinds of files that are no table


def test_the_codes_are_found() -> None:
    assert len(FINDINGS) > 50
    assert len(UNFIT) > 40
    assert {"spreadsheet", "pdf", "compressed"} <= MAGIC


@pytest.mark.parametrize("code", sorted(FINDINGS))
def test_every_finding_has_its_sentence(code: str) -> None:
    assert WORDS.get(f"finding.{code}", "").endswith((".", "?"))


@pytest.mark.parametrize("code", sorted(UNFIT | MAGIC))
def test_every_fault_has_its_sentence(code: str) -> None:
    assert WORDS.get(f"unfit.{code}", "").endswith((".", "?"))
