"""Waiting for news: told at once, bounded, let go; and nothing hangs on it."""

from __future__ import annotations

import signal
import threading
import time
from typing import Any

import pytest
from tests.served import Served

from bagtrail.news import MOST_WAITING

BOTH_STORES = True


def place(phone: Any) -> dict[str, Any]:
    page = phone.pull().json
    return {"epoch": page["epoch"], "pos": page["to"]}


def ask(phone: Any, into: list[Any], **at: Any) -> threading.Thread:
    """Asks in a thread; what is answered, and after how long, goes into a list."""

    def run() -> None:
        began = time.monotonic()
        reply = phone.get("/api/sync/wait", **at).json
        into.append((reply, time.monotonic() - began))

    thread = threading.Thread(target=run)
    thread.start()
    return thread


def waits(log: Any, n: int) -> None:
    end = time.monotonic() + 10
    while len(log.news._waiting) != n:
        assert time.monotonic() < end, log.news._waiting
        time.sleep(0.005)


def note(phone: Any) -> list[Any]:
    return phone.record("note.written", [phone.by], {"text": "x"})


def test_who_waits_is_told_of_a_push(server: Any, phone: Any) -> None:
    other = server.pair("worker", "Other")
    at = place(other)
    told: list[Any] = []
    thread = ask(other, told, **at, nonce="q")
    waits(server.log, 1)
    assert told == []
    phone.push(note(phone))
    thread.join(10)
    (reply, _) = told[0]
    assert (reply["k"], reply["news"], reply["full"]) == ("wait1", True, False)
    assert (reply["farm"], reply["nonce"]) == (server.log.identity.farm, "q")
    waits(server.log, 0)
    # Behind the log already, or of another epoch: no waiting at all.
    assert other.get("/api/sync/wait", **at).json["news"] is True
    assert other.get("/api/sync/wait", epoch="elsewhere", pos=10**9).json["news"] is True


def test_without_news_it_ends_by_itself(
    server: Any, phone: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bagtrail.news.News.wait.__defaults__", (0.2,))
    reply = phone.get("/api/sync/wait", **place(phone)).json
    assert (reply["news"], reply["full"]) == (False, False)
    assert server.log.news._waiting == {}


def test_what_another_process_writes_is_seen(server: Any, phone: Any) -> None:
    at = place(phone)
    told: list[Any] = []
    thread = ask(phone, told, **at)
    waits(server.log, 1)
    from bagtrail import open_log, settings

    given = {"BAGTRAIL_DATA": str(server.folder), "BAGTRAIL_DATABASE": server.database}
    beside = open_log(settings.load(given))
    beside.write("note.written", [phone.by], {"text": "from the command line"})
    beside.close()
    thread.join(15)
    assert told[0][0]["news"] is True


def test_a_few_wait_each_once_and_work_goes_on(server: Any, phone: Any) -> None:
    server.log.news._most = 2
    phones = [phone, server.pair("worker", "B"), server.pair("worker", "C")]
    at = place(phones[2])
    told: list[list[Any]] = [[], [], []]
    threads = [ask(p, t, **at) for p, t in zip(phones[:2], told, strict=False)]
    waits(server.log, 2)
    assert phones[2].get("/api/sync/wait", **at).json == {
        "k": "wait1", "farm": server.log.identity.farm, "nonce": "", "news": False, "full": True,
    }  # fmt: skip
    # The same device again takes its own place, not another's.
    again = ask(phones[1], told[2], **at)
    threads[1].join(10)
    assert told[1][0][0]["full"] is True
    waits(server.log, 2)
    assert phones[2].push(note(phones[2])).status_code == 200
    for thread in (threads[0], again):
        thread.join(10)
    assert [t[-1][0]["news"] for t in (told[0], told[2])] == [True, True]


def test_the_end_of_the_server_lets_all_go(server: Any, phone: Any) -> None:
    at = place(phone)
    told: list[Any] = []
    thread = ask(phone, told, **at)
    waits(server.log, 1)
    server.log.news.close()
    thread.join(5)
    assert told[0][0]["full"] is True
    assert phone.get("/api/sync/wait", **at).json["full"] is True
    server.restart()


def test_as_many_as_may_wait_take_no_thread_from_the_work_and_end_with_the_server(
    server: Any, phone: Any
) -> None:
    """Real processes: every place taken, a push is answered; SIGTERM answers each who waits."""
    if server.database:
        pytest.skip("one database is enough: threads and signals are the same")
    phones = [server.pair("worker", f"P{i}") for i in range(MOST_WAITING + 1)]
    at = place(phone)
    server.log.close()
    served = Served(server.folder)
    served.wait()
    told: list[Any] = []
    path = f"/api/sync/wait?epoch={at['epoch']}&pos=10000000"

    def run(one: Any) -> None:
        told.append(served.call(path, headers=one.headers))

    threads = [threading.Thread(target=run, args=(one,)) for one in phones]
    for thread in threads:
        thread.start()
    end = time.monotonic() + 10
    while not told:
        assert time.monotonic() < end
        time.sleep(0.01)
    assert [reply["full"] for reply in told] == [True]  # the one too many
    sent = phone.body(phone.sign(note(phone)))
    assert [r[1] for r in served.call("/api/sync/push", sent, phone.headers)["r"]] == ["ok"]
    assert len(told) == 1
    served.end(signal.SIGTERM)
    for thread in threads:
        thread.join(15)
    assert [reply["full"] for reply in told] == [True] * (MOST_WAITING + 1)
    assert served.process.returncode == 0
    server.open()
