"""Labels over HTTP: a PDF, or a sentence that names what cannot be printed."""

from __future__ import annotations

import subprocess
import sys
from typing import Any

import pytest


def post(phone: Any, **body: Any) -> Any:
    return phone.server.http.post("/api/labels", json=body, headers=phone.headers)


@pytest.mark.parametrize("stock", ["a4-24", "roll-50x30"])
def test_labels_come_as_a_pdf_with_the_farms_tag(phone: Any, stock: str) -> None:
    label = {"code": phone.code("B"), "batch": "25 Nov A1", "number": "A12", "what": "Fen 4",
             "day": "12 Jun"}  # fmt: skip
    reply = post(phone, stock=stock, labels=[label, {"code": phone.code("P")}])
    assert reply.status_code == 200, reply.text
    assert reply.mimetype == "application/pdf"
    assert reply.data.startswith(b"%PDF")


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"stock": "papyrus"}, "bad_label"),
        ({"labels": [{"code": "B0000001X"}]}, "bad_code"),
        ({"labels": [{"code": "b0000001k"}]}, "bad_fields"),
        ({"labels": []}, "bad_fields"),
        ({"labels": [{"code": "B0000001K", "batch": "x" * 41}]}, "bad_fields"),
        ({"labels": [{"code": "B0000001K", "what": "a\x00"}]}, "bad_fields"),
        ({"labels": [{"code": "B0000001K"}], "start": 400}, "bad_label"),
        ({"start": -1}, "bad_fields"),
        ({"novelty": 1}, "bad_fields"),
    ],
)
def test_what_cannot_be_printed_is_named(phone: Any, change: dict[str, Any], code: str) -> None:
    reply = post(phone, **{"stock": "a4-24", "labels": [{"code": "B0000001K"}], **change})
    assert reply.status_code == 422
    assert reply.json["error"]["code"] == code
    assert reply.json["error"]["details"]


def test_strangers_print_nothing(server: Any) -> None:
    body = {"stock": "a4-24", "labels": [{"code": "B0000001K"}]}
    assert server.http.post("/api/labels", json=body).status_code == 401


def test_server_starts_without_the_printing_library(tmp_path: Any) -> None:
    """WeasyPrint and what it pulls in take longer to import than the whole server."""
    script = (
        "import sys, bagtrail; bagtrail.create_app({'BAGTRAIL_DATA': sys.argv[1]});"
        "sys.exit(any(n in sys.modules for n in ('weasyprint', 'bagtrail_labels', 'rich')))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)],
        env={"PYTHONPATH": ":".join(p for p in sys.path if p), "PATH": ""},
        timeout=60,
    )
    assert done.returncode == 0
