"""P6, C5: what a device holds whole and what as a summary; what it lacks is given on asking."""

from __future__ import annotations

import json
from typing import Any

import pytest

from bagtrail import scope, sync

BOTH_STORES = True

NOW = 1_764_072_000_000
DAY = 86_400_000


@pytest.fixture
def later(server: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Moves the server's clock on by days."""

    def move(days: int) -> None:
        monkeypatch.setattr(server.log, "clock", lambda: NOW + days * DAY)

    move(0)
    return move


def ended(phone: Any) -> tuple[str, list[str], dict[str, Any]]:
    """A batch of two bags that both ended; and the record of the second end."""
    batch, bags = phone.batch(2, 2)
    ends = [phone.record("bag.finished", [bag], {"cause": "spent"}) for bag in bags]
    phone.accept(*ends)
    return batch, bags, ends[1]


def scoped(phone: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    """The rows held whole and the archived ones (summary, find row) of a scoped snapshot."""
    snap = phone.get("/api/sync/snapshot", rows="text", scope="live").json
    rows = {row["unit"]: row for row in map(json.loads, snap["rows"])}
    return rows, {find["unit"]: (json.loads(text), find) for text, find in snap["archived"]}


def lines(phone: Any, **asked: Any) -> Any:
    body = {"farm": phone.paired["farm"], "proof": "", "nonce": "n1", "st": phone.st, **asked}
    return phone.server.http.post("/api/sync/lines", json=body, headers=phone.headers)


def test_C5_a_batch_long_ended_comes_as_its_summary(server: Any, phone: Any, later: Any) -> None:
    batch, bags, _ = ended(phone)
    living, _ = phone.batch(3)
    later(60)
    rows, archived = scoped(phone)
    assert batch in rows
    assert not archived
    later(61)
    rows, archived = scoped(phone)
    assert set(archived) == {batch}
    assert batch not in rows
    assert living in rows
    assert "farm" in rows
    summary, find = archived[batch]
    assert summary["archived"] is True
    assert summary["lines"] == []
    assert "parts" not in summary
    assert summary["summary"]["all"]["ends"] == {"spent": 2}
    assert summary["name"] == find["name"] == "25 Nov A1"
    assert sorted(find["codes"].split()) == sorted(bags)
    assert set(bags) < set(find["keys"].split())
    # The whole farm is still there for who asks for it.
    whole = phone.get("/api/sync/snapshot").json
    assert whole["archived"] == []
    assert batch in {row["unit"] for row in whole["rows"]}


def test_C5_a_void_brings_a_batch_back_into_scope(server: Any, phone: Any, later: Any) -> None:
    batch, bags, end = ended(phone)
    later(61)
    assert set(scoped(phone)[1]) == {batch}
    at = NOW + 61 * DAY
    void = phone.record("record.voided", [bags[1]], {"target": end["id"]}, at=at)
    phone.accept(void, now=at)
    rows, archived = scoped(phone)
    assert not archived
    assert "end" not in rows[batch]["parts"][bags[1]]
    # What was written of it lately keeps it, even when all of it has ended again.
    phone.accept(phone.record("bag.finished", [bags[1]], {"cause": "sold"}, at=at + 1), now=at)
    assert batch in scoped(phone)[0]
    later(61 + 61)
    assert set(scoped(phone)[1]) == {batch}


def test_C5_summaries_are_the_same_after_a_restart(server: Any, phone: Any, later: Any) -> None:
    ended(phone)
    later(61)
    before = scoped(phone)
    server.log.live.save()
    server.restart()
    server.log.clock = lambda: NOW + 61 * DAY
    assert scoped(phone) == before


def test_P6_lines_of_a_batch_as_they_were_where_the_device_stands(phone: Any) -> None:
    batch, bags, end = ended(phone)
    told = lines(phone, pos=10_000, units=[batch]).json
    assert (told["k"], told["nonce"], told["farm"]) == ("sync1", "n1", phone.paired["farm"])
    ((unit, all_lines),) = told["lines"]
    assert unit == batch
    assert [x["k"] for x in all_lines] == [
        "batch.mixed", "bag.filled", "bag.finished", "bag.finished",
    ]  # fmt: skip
    # Before the last of them: the device has not been shown it yet, and pull brings it.
    pos = next(x["p"] for x in all_lines if x["id"] == end["id"])
    ((_, some),) = lines(phone, pos=pos - 1, units=[batch]).json["lines"]
    assert some == all_lines[:-1]
    assert lines(phone, pos=0, units=[batch]).json["lines"] == [[batch, []]]


def test_P6_records_lead_to_their_batches(phone: Any) -> None:
    batch, bags, end = ended(phone)
    other, _ = phone.batch(2)
    pick = phone.record("bag.harvested", [bags[0]], {"g": 9, "of": [[batch, ""], [other, ""]],
                                                     "flush": 1})  # fmt: skip
    phone.push(pick)
    void = phone.record("record.voided", [batch], {"target": pick["id"]})
    phone.push(void)
    told = lines(phone, pos=10_000, records=[void["id"]]).json
    assert (told["leads"], told["lines"]) == (sorted([batch, other]), [])
    found = lines(phone, pos=10_000, units=told["leads"]).json["lines"]
    assert all({pick["id"], void["id"]} <= {x["id"] for x in its} for _, its in found)
    unknown = "00000000-0000-7000-8000-000000000009"
    assert lines(phone, pos=10_000, records=[unknown]).json["leads"] == []


def test_P6_what_was_born_of_a_label_that_is_anothers_by_now_comes_too(phone: Any) -> None:
    """The bag's label was claimed by an earlier record that came later: it led here before."""
    batch, bags, end = ended(phone)
    place = lines(phone, pos=10_000, units=[batch]).json["lines"][0][1][-1]["p"]
    thief = phone.code("M")
    phone.push(
        phone.record("batch.mixed", [thief], {"name": "Earlier"}, at=NOW - DAY),
        phone.record("bag.filled", [thief], {"to": [bags[0]], "n": 1}, at=NOW - DAY),
    )
    with phone.server.log.live.now() as farm:
        assert farm.home(bags[0]) == thief
    ((_, its),) = lines(phone, pos=place, units=[batch]).json["lines"]
    # Who holds the batch from before is led to it by its records, although they are another's now.
    first = its[2]["id"]
    assert lines(phone, pos=place, records=[first]).json["leads"] == sorted([batch, thief])
    ends = [x for x in its if x["k"] == "bag.finished"]
    assert {x["s"][0] for x in ends} == set(bags), "the lines of the label that was lost"
    assert all(x["p"] <= place for x in its)


def test_lines_that_do_not_fit_are_left_for_the_next_request(
    phone: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    batches = [phone.batch(2)[0] for _ in range(4)]
    monkeypatch.setattr(sync, "PAGE_BYTES", 1_300)
    got = [unit for unit, _ in lines(phone, pos=10_000, units=batches).json["lines"]]
    assert 1 <= len(got) < 4
    assert got == batches[: len(got)]
    monkeypatch.setattr(sync, "PAGE_BYTES", 1)
    assert len(lines(phone, pos=10_000, units=batches).json["lines"]) == 1


def test_lines_are_told_to_nobody_who_may_not_pull(server: Any, phone: Any) -> None:
    batch, *_ = ended(phone)
    assert lines(phone, pos=9, units=["farm"]).status_code == 422
    assert lines(phone, pos=9, units=[batch] * 501).status_code == 422
    assert lines(phone, pos=9, units=[batch], farm="f" + "0" * 16).status_code == 409
    unknown = phone.code("M")
    assert lines(phone, pos=9, units=[unknown]).json["lines"] == [[unknown, []]]
    wrong = lines(phone, pos=9, units=[batch], proof=f"e{'0' * 10}9.5.{'0' * 32}")
    assert (wrong.status_code, wrong.json["k"]) == (409, "reset")


def test_a_batch_that_breaks_the_fold_is_never_archived(phone: Any, later: Any) -> None:
    """One with a held record waits for a person, however old it is."""
    batch, bags, _ = ended(phone)
    phone.push(phone.record("bag.harvested", [bags[0]], {"g": -1, "of": [[batch, ""]]}))
    later(400)
    rows, archived = scoped(phone)
    assert not archived
    assert rows[batch]["held"]
    assert scope.KEPT_DAYS == 60
