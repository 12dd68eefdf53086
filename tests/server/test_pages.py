"""The client's files: types, caching, the strict policy, and what is said when nothing is built."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

FILES = {
    "index.html": b"<!doctype html><title>shell</title>",
    "sw.js": b"self;",
    "manifest.webmanifest": b"{}",
    "assets/main-Ab3dE_9x.js": b"1;" * 2_000,
    "assets/decoder-0a1b2c3d.wasm": b"\0asm",
    "icon.svg": b"<svg/>",
}


@pytest.fixture
def built(tmp_path: Path) -> Any:
    from bagtrail import create_app

    for name, data in FILES.items():
        path = tmp_path / "dist" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return create_app(
        {"BAGTRAIL_DATA": str(tmp_path / "farm"), "BAGTRAIL_STATIC": str(tmp_path / "dist")}
    ).test_client()


@pytest.mark.parametrize(
    ("path", "kind", "cache"),
    [
        ("/", "text/html", "no-cache"),
        ("/index.html", "text/html", "no-cache"),
        ("/bag/B0000001K", "text/html", "no-cache"),
        ("/B0000001K", "text/html", "no-cache"),
        ("/sw.js", "text/javascript", "no-cache"),
        ("/manifest.webmanifest", "application/manifest+json", "no-cache"),
        ("/assets/main-Ab3dE_9x.js", "text/javascript", "immutable"),
        ("/assets/decoder-0a1b2c3d.wasm", "application/wasm", "immutable"),
        ("/icon.svg", "image/svg+xml", "no-cache"),
    ],
)
def test_files_have_their_type_and_caching(built: Any, path: str, kind: str, cache: str) -> None:
    reply = built.get(path, follow_redirects=True, buffered=True)
    assert reply.status_code == 200
    assert reply.mimetype == kind
    assert cache in reply.headers["Cache-Control"]
    assert ("immutable" in reply.headers["Cache-Control"]) == (cache == "immutable")


@pytest.mark.parametrize(
    "path", ["/", "/sw.js", "/assets/main-Ab3dE_9x.js", "/api/farm", "/api/x", "/b"]
)
def test_policy_is_strict_everywhere(built: Any, path: str) -> None:
    headers = built.get(path, buffered=True).headers
    policy = dict(
        part.strip().split(" ", 1) for part in headers["Content-Security-Policy"].split(";")
    )
    assert policy["script-src"] == "'self' 'wasm-unsafe-eval'"
    assert policy["style-src"] == "'self'"
    assert policy["connect-src"] == "'self'"
    assert policy["object-src"] == policy["base-uri"] == policy["frame-ancestors"] == "'none'"
    assert "unsafe-inline" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert "Strict-Transport-Security" not in headers
    assert "Access-Control-Allow-Origin" not in headers


def test_unknown_file_is_no_page(built: Any) -> None:
    for path in ("/assets/gone-12345678.js", "/robots.txt", "/api", "/api/"):
        reply = built.get(path, buffered=True)
        assert reply.status_code == 404, path
        assert reply.json["error"]["code"] == "not_found"


def test_without_a_built_client_the_page_says_what_to_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from bagtrail import create_app
    from bagtrail.views import pages

    monkeypatch.setattr(pages, "static_dir", lambda *_: None)
    reply = create_app({"BAGTRAIL_DATA": str(tmp_path)}).test_client().get("/")
    assert reply.status_code == 200
    assert "npm run build" in reply.text


def test_packaged_client_comes_before_a_checkouts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from bagtrail.views import pages

    package = tmp_path / "server" / "bagtrail"
    for folder in (package / "views", tmp_path / "client" / "dist"):
        folder.mkdir(parents=True)
    monkeypatch.setattr(pages, "__file__", str(package / "views" / "pages.py"))
    assert pages.static_dir() is None
    (tmp_path / "client" / "dist" / "index.html").write_text("x")
    assert pages.static_dir() == tmp_path / "client" / "dist"
    (package / "static").mkdir()
    (package / "static" / "index.html").write_text("x")
    assert pages.static_dir() == package / "static"
