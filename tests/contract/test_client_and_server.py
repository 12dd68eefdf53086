"""The client's own code and the real server: two phones write, push and pull; all agree."""

from __future__ import annotations

import json
import shutil
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from werkzeug.serving import make_server

from bagtrail import devices

from .folding import Client, canonical, first_difference

ROUNDS = 4


def test_two_phones_and_the_server_agree(each_farm: Callable[[], Any]) -> None:
    client = Client()
    try:
        for seed in range(3):
            agree(client, each_farm(), seed)
    finally:
        client.close()


def test_C5_two_phones_that_keep_summaries_and_the_server_agree(
    each_farm: Callable[[], Any],
) -> None:
    client = Client()
    try:
        for seed in range(3):
            agree(client, each_farm(), seed, archive=True)
    finally:
        client.close()


WAYS = ("copy", "empty")


@pytest.mark.parametrize("way", WAYS)
def test_P4_C3_clients_reset_and_offers_bring_a_real_server_back(
    way: str, each_farm: Callable[[], Any], tmp_path: Path
) -> None:
    """The log is put back between the phones' rounds; the client's own code brings it back."""
    farm = each_farm()
    acknowledged: dict[str, str] = {}

    def receipts() -> dict[str, str]:
        with farm.log.store.reading():
            return {row.text: row.receipt for row in farm.log.store.after(0, 100_000)}

    def keep() -> None:
        farm.log.close()
        shutil.copy(farm.folder / "farm.db", tmp_path / "old.db")
        farm.open()

    def put_back() -> None:
        acknowledged.update(receipts())
        farm.log.close()
        for file in farm.folder.glob("farm.db*"):
            file.unlink()
        if way == "copy":
            shutil.copy(tmp_path / "old.db", farm.folder / "farm.db")
        farm.open()
        left = receipts()
        assert len(left) < len(acknowledged) - 20, "the log was to lose most of it"

    def confirm() -> None:
        devices.confirm(farm.log, devices.owner_of(farm.log))

    steps = {"/keep": keep, "/put-back": put_back, "/confirm": confirm}

    def app(environ: dict[str, Any], start_response: Any) -> Any:
        step = steps.get(environ["PATH_INFO"])
        if step is None:
            return farm.app(environ, start_response)
        step()
        start_response("204 No Content", [])
        return [b""]

    client = Client()
    served = make_server("127.0.0.1", 0, app)  # one request at a time: a step stands alone
    thread = threading.Thread(target=served.serve_forever, daemon=True)
    thread.start()
    try:
        codes = [devices.new_code(farm.log, role)["code"] for role in ("owner", "worker")]
        url = f"http://127.0.0.1:{served.server_port}"
        rounds = ["/keep", "", "/put-back", "/confirm", ""]
        found = client.work(url, codes, len(rounds), 7, rounds)
    finally:
        served.shutdown()
        thread.join()
        served.server_close()
        client.close()
    assert "raised" not in found, found["raised"]
    assert found["unsent"] == [0, 0], found["links"]
    assert [link["state"] for link in found["links"]] == ["ok", "ok"]
    now = receipts()
    assert {text: now.get(text) for text in acknowledged} == acknowledged, "lost, or decided anew"
    with farm.log.live.now() as live:
        # An emptied log first begins an epoch, then another where it meets one it does not know.
        assert len(live.index.epochs) == {"copy": 2, "empty": 3}[way]
        assert set(found["written"]) <= set(live.index.lines)
        rows = canonical(list(live.rows()))
    for phone in found["rows"]:
        if phone != rows:
            raise AssertionError(first_difference(json.loads(rows), json.loads(phone)))


def agree(client: Client, farm: Any, seed: int, archive: bool = False) -> None:
    served = make_server("127.0.0.1", 0, farm.app, threaded=True)
    thread = threading.Thread(target=served.serve_forever, daemon=True)
    thread.start()
    try:
        codes = [devices.new_code(farm.log, role)["code"] for role in ("owner", "worker")]
        found = client.work(
            f"http://127.0.0.1:{served.server_port}", codes, ROUNDS, seed, archive=archive
        )
    finally:
        served.shutdown()
        thread.join()
        served.server_close()
    assert "raised" not in found, found["raised"]
    assert (found["revived"] > 0) is archive
    assert found["unsent"] == [0, 0], found["links"]
    assert [link["state"] for link in found["links"]] == ["ok", "ok"]
    assert len(found["written"]) > 10 * ROUNDS
    with farm.log.live.now() as live:
        assert set(found["written"]) <= set(live.index.lines)
        rows = canonical(list(live.rows()))
    for phone in found["rows"]:
        if phone != rows:
            where = first_difference(json.loads(rows), json.loads(phone))
            raise AssertionError(f"seed {seed}: server | phone at {where}")
