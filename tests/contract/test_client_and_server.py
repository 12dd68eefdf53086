"""The client's own code and the real server: two phones write, push and pull; all agree."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from typing import Any

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


def agree(client: Client, farm: Any, seed: int) -> None:
    served = make_server("127.0.0.1", 0, farm.app, threaded=True)
    thread = threading.Thread(target=served.serve_forever, daemon=True)
    thread.start()
    try:
        codes = [devices.new_code(farm.log, role)["code"] for role in ("owner", "worker")]
        found = client.work(f"http://127.0.0.1:{served.server_port}", codes, ROUNDS, seed)
    finally:
        served.shutdown()
        thread.join()
        served.server_close()
    assert "raised" not in found, found["raised"]
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
