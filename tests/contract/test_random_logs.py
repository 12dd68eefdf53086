"""The promise the product stands on: same log, same state, in any order, in both languages."""

from __future__ import annotations

import json
import os
import random
from collections.abc import Iterator

import pytest

from bagtrail.fold import LOOSE, Farm
from bagtrail.live import dumps

from . import folding
from .random_logs import T0, Log, Maker

LONG = os.environ.get("BAGTRAIL_LONG") == "1"
LOGS = 20_000 if LONG else 1_000
# Reading after every record folds as often as there are records: a tenth of the logs will do.
EVERY = 10
RECORDS = 45


def log_of(seed: int) -> Log:
    """Return a random log, some of whose questions were answered."""
    maker = Maker(seed, random.Random(seed).randint(3, RECORDS))
    log = maker.make()
    farm = folding.farm_of(log, folding.lines_of(log.sent))
    maker.answer([q for row in farm.rows() for q in row.get("questions", ())])
    return log


@pytest.fixture(scope="module")
def client() -> Iterator[folding.Client]:
    started = folding.Client()
    yield started
    started.close()


def assert_same(seed: int, left: str, right: str) -> None:
    if left != right:
        where = folding.first_difference(json.loads(left), json.loads(right))
        raise AssertionError(f"seed {seed}: {where}")


def test_python_and_client_fold_alike(client: folding.Client) -> None:
    for seed in range(LOGS):
        log = log_of(seed)
        shuffled = list(log.sent)
        random.Random(seed).shuffle(shuffled)
        client.ask(log, shuffled)
        text = folding.folded(log, shuffled)
        if client.digest() != folding.digest(text):
            assert_same(seed, text, client.text(log, shuffled))
            raise AssertionError(f"seed {seed}: same JSON value, other text")


def test_order_of_arrival_and_repeats_change_nothing() -> None:
    for seed in range(LOGS):
        log = log_of(seed)
        lines = folding.lines_of(log.sent)
        first = folding.canonical(folding.state_of(folding.farm_of(log, lines)))
        rng = random.Random(-seed)
        again = lines + rng.sample(lines, len(lines) // 2)
        rng.shuffle(again)
        farm = folding.farm_of(log, again)
        assert_same(seed, first, folding.canonical(folding.state_of(farm)))


def test_reading_between_records_changes_nothing() -> None:
    for seed in range(0, LOGS, EVERY):
        log = log_of(seed)
        lines = [line for line in folding.lines_of(log.sent) if line]
        random.Random(seed).shuffle(lines)
        farm = folding.farm_of(log, [])
        for line in lines:
            touched = farm.add(line)
            for unit in touched:
                farm.unit(unit)
        whole = folding.farm_of(log, lines)
        left, right = folding.state_of(whole), folding.state_of(farm)
        assert_same(seed, folding.canonical(left), folding.canonical(right))


def test_a_row_changes_only_where_a_record_says_that_it_touches_it() -> None:
    """What the server keeps as texts, and saves, is what was not touched since."""
    for seed in range(0, LOGS, EVERY):
        log = log_of(seed)
        lines = [line for line in folding.lines_of(log.sent) if line]
        random.Random(seed).shuffle(lines)
        farm = folding.farm_of(log, [])
        kept: dict[str, str] = {}
        for line in lines:
            for unit in farm.add(line):
                kept.pop(unit, None)
            now = {unit: dumps(farm.row(unit)) for unit in farm.units() if unit != LOOSE}
            for unit, text in now.items():
                assert kept.setdefault(unit, text) == text, f"seed {seed}: {unit}"


def test_stored_rows_carry_on_where_they_were() -> None:
    for seed in range(0, LOGS, EVERY // 2):
        log = log_of(seed)
        lines = folding.lines_of(log.sent)
        early, late = lines[: len(lines) * 2 // 3], lines[len(lines) * 2 // 3 :]
        rows = json.loads(folding.canonical(list(folding.farm_of(log, early).rows())))
        farm = Farm()
        farm.index.epochs = log.epochs
        random.Random(seed).shuffle(rows)
        for row in rows:
            farm.load_row(row)
        for line in late:
            if line is not None:
                farm.add(line)
        whole = folding.state_of(folding.farm_of(log, lines))
        assert_same(seed, folding.canonical(whole), folding.canonical(folding.state_of(farm)))


def test_the_clients_stored_rows_are_one_fold_of_the_log(client: folding.Client) -> None:
    """Only the units a page touches are read, folded and written; unsent records lie on top."""
    for seed in range(0, LOGS, EVERY // 2):
        page = random.Random(seed).choice((1, 2, 5, 1_000))
        wrong = client.pull(log_of(seed), page)
        assert not wrong, f"seed {seed}, {page} records a page: {wrong}"


def test_C5_batches_archived_between_pages_come_back_as_one_fold_of_the_log(
    client: folding.Client,
) -> None:
    """A device that keeps summaries of some batches ends with the rows of one that kept all."""
    for seed in range(0, LOGS, EVERY // 2):
        page = random.Random(seed).choice((1, 2, 5))
        wrong = client.pull(log_of(seed), page, archive=True)
        assert not wrong, f"seed {seed}, {page} records a page: {wrong}"


def test_a_long_chain_of_voids_is_no_trouble(client: folding.Client) -> None:
    """Undo and undo of the undo, two thousand times; each void takes the one before it back."""
    log = Log(0)
    maker = Maker(0, 1)
    for i in range(2_001):
        record_id = f"00000000-0000-7000-8000-{i:012d}"
        record = {
            "v": 1, "id": record_id, "dev": "d" + "0" * 16, "gen": 1, "st": "a" * 16, "sq": i + 1,
            "at": T0 + i, "ty": "record.voided", "tv": 1, "sub": maker.pool["M"][:1], "base": "",
            "by": "W00000012", "d": {"target": f"00000000-0000-7000-8000-{i - 1:012d}"},
        }  # fmt: skip
        if i == 0:
            record |= {"ty": "bag.filled", "d": {"n": 7}}
        log.sent.append((json.dumps(record), None, 0, "o"))
    text = folding.folded(log, log.sent)
    assert_same(0, text, client.text(log, log.sent))
    bags = [sums["all"]["bags"] for sums in json.loads(text)["sums"].values()]
    assert bags == [7]  # an even number of voids
