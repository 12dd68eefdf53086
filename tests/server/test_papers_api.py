"""The command card and the day sheet over HTTP: words come along, codes are the farm's."""

from __future__ import annotations

from typing import Any

import pytest

from bagtrail import ids

from .test_labels_api import read, said


def x(n: int) -> str:
    body = f"X{n:07d}"
    return body + ids.check_symbol(body)


def card(**change: Any) -> dict[str, Any]:
    tags = [{"code": x(1), "text": "Hecho"}, {"code": x(2), "text": "Deshacer"}]
    return {"title": "Tarjeta", "words": "Escanea", "language": "es",
            "groups": [{"title": "Ronda", "tags": tags}]} | change  # fmt: skip


def sheet(**change: Any) -> dict[str, Any]:
    columns = ["Time", "What", "Label", "How many", "To", "Grams", "Note"]
    return {"title": "Day sheet", "date": "Day", "by": "Who", "columns": columns} | change


def post(phone: Any, path: str, body: Any) -> Any:
    return phone.server.http.post(f"/api/papers/{path}", json=body, headers=phone.headers)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_card_bears_the_farms_tag_and_the_phones_words(phone: Any, paper: str) -> None:
    reply = post(phone, "card", card(paper=paper))
    assert (reply.status_code, reply.mimetype) == (200, "application/pdf"), reply.text
    tag = phone.server.log.identity.tag
    assert read(reply.data) == {f"{tag}.{x(1)}", f"{tag}.{x(2)}"}
    for word in ("Tarjeta", "Escanea", "Ronda", "Hecho", "Deshacer"):
        assert word in said(reply.data)


def test_a_day_sheet_has_its_columns(phone: Any) -> None:
    reply = post(phone, "day-sheet", sheet(acts="moved, picked", words="Write."))
    assert (reply.status_code, reply.mimetype) == (200, "application/pdf"), reply.text
    words = " ".join(said(reply.data).split())  # a heading may stand on two lines
    for word in ("Day sheet", "Who", "Grams", "How many", "moved, picked", "Write."):
        assert word in words


@pytest.mark.parametrize(
    ("path", "body", "code"),
    [
        ("card", card(groups=[]), "bad_fields"),
        ("card", card(groups=[{"title": "a", "tags": [{"code": x(1)[:-1] + "#", "text": "b"}]}]),
         "bad_fields"),
        ("card", card(groups=[{"title": "a", "tags": [{"code": "X0000001X", "text": "b"}]}]),
         "bad_code"),
        ("card", card(groups=[{"title": "a", "tags": [{"code": "B0000001K", "text": "b"}]}]),
         "bad_fields"),
        ("card", card(title="a\x00"), "bad_fields"),
        ("card", card(paper="a5"), "bad_fields"),
        ("card", card(language="no language"), "bad_label"),
        ("day-sheet", sheet(columns=["Time"]), "bad_fields"),
        ("day-sheet", sheet(by=""), "bad_fields"),
        ("day-sheet", sheet(novelty=1), "bad_fields"),
    ],
)  # fmt: skip
def test_what_cannot_be_printed_is_told(phone: Any, path: str, body: Any, code: str) -> None:
    reply = post(phone, path, body)
    assert reply.status_code == 422
    error = reply.json["error"]
    assert (error["code"], bool(error["message"]), bool(error["todo"])) == (code, True, True)
