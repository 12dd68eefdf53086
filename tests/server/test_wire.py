"""Bodies on the wire: gzip both ways, bombs, torn and foreign encodings."""

from __future__ import annotations

import gzip
import json
from typing import Any

import pytest


def note(phone: Any, text: str = "x") -> dict[str, Any]:
    return phone.record("note.written", [phone.by], {"text": text})


def send(phone: Any, data: bytes, encoding: str = "gzip", kind: str = "application/json") -> Any:
    headers = {**phone.headers, "Content-Encoding": encoding}
    return phone.server.http.post("/api/sync/push", data=data, headers=headers, content_type=kind)


def test_gzip_body_is_read(phone: Any, outcome: Any) -> None:
    assert outcome(phone.push(note(phone), packed=True)) == ["ok"]


def test_gzip_reply_is_sent_to_who_takes_it(phone: Any) -> None:
    phone.push(*[note(phone) for _ in range(20)])
    headers = {**phone.headers, "Accept-Encoding": "gzip"}
    reply = phone.server.http.get("/api/sync/pull", headers=headers)
    assert reply.headers["Content-Encoding"] == "gzip"
    plain = phone.pull()
    assert "Content-Encoding" not in plain.headers
    unpacked = json.loads(gzip.decompress(reply.data))
    assert unpacked == {**plain.json, "now": unpacked["now"]}  # asked a moment later


@pytest.mark.parametrize("size", [1 << 20, 1 << 30])
def test_gzip_bomb_is_refused_without_being_unrolled(phone: Any, size: int) -> None:
    import tracemalloc
    import zlib

    packer = zlib.compressobj(9, zlib.DEFLATED, 31)
    block = b" " * (1 << 20)
    packed = b"".join(packer.compress(block) for _ in range(max(1, size >> 20)))
    packed += packer.compress(b"  ") + packer.flush()
    assert len(packed) < 1 << 20
    tracemalloc.start()
    reply = send(phone, packed)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert reply.status_code == 413
    assert reply.json["error"]["code"] == "too_big"
    assert peak < 16 << 20


def test_body_over_a_megabyte_is_refused(phone: Any) -> None:
    body = phone.body(pad="x" * (1 << 20))
    reply = phone.server.http.post("/api/sync/push", json=body, headers=phone.headers)
    assert reply.status_code == 413
    assert reply.json["error"]["code"] == "too_big"


def test_torn_gzip_is_refused(phone: Any) -> None:
    packed = gzip.compress(json.dumps(phone.body(phone.sign(note(phone)))).encode())
    reply = send(phone, packed[:-9])
    assert reply.status_code == 400
    assert send(phone, b"no gzip").status_code == 400


@pytest.mark.parametrize(
    ("encoding", "kind"), [("br", "application/json"), ("identity", "text/plain"), ("gzip", "")]
)
def test_other_encodings_and_types_are_refused(phone: Any, encoding: str, kind: str) -> None:
    reply = send(phone, b"{}", encoding, kind)
    assert reply.status_code == 415
    assert reply.json["error"]["code"] == "wrong_type"


def test_members_from_a_newer_phone_are_ignored(phone: Any, outcome: Any) -> None:
    assert outcome(phone.push(note(phone), novelty={"a": 1})) == ["ok"]


BAD: list[tuple[str, Any]] = [
    ("records", [["only text"]]),
    ("records", [["a", "b", "c"]]),
    ("records", [[1, 2]]),
    ("records", [["a", "b"]] * 501),
    ("records", "text"),
    ("proof", "e0.1.2"),
    ("proof", "e" + "0" * 11 + ".1." + "0" * 32 + "\n"),
    ("st", "XYZ"),
    ("now", 1.5),
    ("now", True),
    ("now", "5"),
    ("now", 10**20),
    ("farm", None),
    ("nonce", "\ud800"),
    ("nonce", "a\x00"),
]


@pytest.mark.parametrize(("field", "value"), BAD)
def test_malformed_push_names_the_field(phone: Any, field: str, value: Any) -> None:
    reply = phone.server.http.post(
        "/api/sync/push", json=phone.body(**{field: value}), headers=phone.headers
    )
    assert reply.status_code == 422
    assert field in reply.json["error"]["details"]["fields"]["json"]
