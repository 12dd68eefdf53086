"""The command card, day sheet and mix sheet over HTTP: words come along, codes are the farm's."""

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


def m(n: int) -> str:
    body = f"M{n:07d}"
    return body + ids.check_symbol(body)


def mix(name: str = "Oak pellets", **change: Any) -> dict[str, Any]:
    # The worked figures of the trade page: 18 and 3 kg take 27 kg of water, here in three charges.
    rows = [{"name": name, "about": "8 % moisture", "amount": "6.000 kg"},
            {"name": "Wheat bran", "amount": "1.000 kg"},
            {"name": "Water", "amount": "9.000 kg"}]  # fmt: skip
    charges = [{"title": f"Charge {i} of 3", "rows": rows, "total": "Wet mix",
                "total_amount": "16.000 kg"} for i in (1, 2, 3)]  # fmt: skip
    return {"title": "25 Nov A1", "words": "% of total dry mix", "code": m(1), "charges": charges,
            "heads": ["What", "Weigh", "Scale"], "facts": [{"name": "Bags", "value": "20"}],
            "blanks": ["Mixed by"], "cautions": ["Wear a dust mask."]} | change  # fmt: skip


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_mix_sheet_bears_weights_basis_cautions_and_the_batchs_code(
    phone: Any, paper: str
) -> None:
    reply = post(phone, "mix-sheet", mix(paper=paper))
    assert (reply.status_code, reply.mimetype) == (200, "application/pdf"), reply.text
    assert read(reply.data) == {f"{phone.server.log.identity.tag}.{m(1)}"}
    words = " ".join(said(reply.data).split())
    for word in ("25 Nov A1", "% of total dry mix", "Mixed by", "Wear a dust mask.", "8 % moisture",
                 "Charge 3 of 3", "Bags"):  # fmt: skip
        assert word in words
    for amount in ("6.000 kg", "1.000 kg", "9.000 kg", "16.000 kg"):
        assert words.count(f" {amount}") == 3
    assert words.index("Wear a dust mask.") < words.index("6.000 kg")


@pytest.mark.parametrize(("name", "meant"), [
    ("Calcium carbyde", "calcium carbonate"), ("CaC\u2082", "calcium carbonate"),
    ("gypsum carbide", "gypsum"),
])  # fmt: skip
def test_a_mix_sheet_never_prints_carbide(phone: Any, name: str, meant: str) -> None:
    reply = post(phone, "mix-sheet", mix(name))
    assert reply.status_code == 422
    error = reply.json["error"]
    assert error["details"]["reason"] == "carbide"
    assert name in error["message"]
    assert "acetylene" in error["message"]
    assert meant in error["todo"]


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
        ("mix-sheet", mix(charges=[]), "bad_fields"),
        ("mix-sheet", mix(code=m(1)[:-1] + ("0" if m(1)[-1] != "0" else "1")), "bad_code"),
        ("mix-sheet", mix(code="B0000001K"), "bad_fields"),
        ("mix-sheet", mix(heads=["What"]), "bad_fields"),
        ("mix-sheet", mix(charges=[{"rows": mix()["charges"][0]["rows"] * 15}] * 14), "bad_label"),
        ("mix-sheet", mix(charges=mix()["charges"] * 34), "bad_fields"),
    ],
)  # fmt: skip
def test_what_cannot_be_printed_is_told(phone: Any, path: str, body: Any, code: str) -> None:
    reply = post(phone, path, body)
    assert reply.status_code == 422
    error = reply.json["error"]
    assert (error["code"], bool(error["message"]), bool(error["todo"])) == (code, True, True)
