"""The client's files, by whitenoise: hashed assets for ever, the shell asked for every time."""

from __future__ import annotations

import re
from pathlib import Path
from wsgiref.headers import Headers

from flask import Flask, Response, send_file
from werkzeug.exceptions import NotFound
from whitenoise import WhiteNoise

HASHED = re.compile(r"/assets/[^/]+-[A-Za-z0-9_-]{8,}\.[a-z0-9]+$")
FRESH = ("/", "/index.html", "/sw.js", "/manifest.webmanifest", "/app.webmanifest")
TYPES = {
    ".wasm": "application/wasm",
    ".webmanifest": "application/manifest+json",
    ".js": "text/javascript",
    ".mjs": "text/javascript",
}
# Never HSTS: the same address must stay reachable by plain http while certificates are set up.
SAFE = {
    "Content-Security-Policy": "; ".join(
        (
            "default-src 'self'",
            "script-src 'self' 'wasm-unsafe-eval'",
            "worker-src 'self'",
            "connect-src 'self'",
            "img-src 'self' blob: data:",
            "media-src 'self' blob:",
            "style-src 'self'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
            "object-src 'none'",
        )
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), microphone=(), geolocation=()",
}
NOT_BUILT = (
    "The client is not built yet: run <code>npm ci &amp;&amp; npm run build</code> in the folder"
    " <code>client</code>, or start with <code>server/run</code>, and load this page again."
)


def static_dir(given: Path | None = None) -> Path | None:
    """Returns the folder of the built client: given, packaged, or client/dist of a checkout."""
    here = Path(__file__).resolve().parent.parent
    candidates = [given] if given else [here / "static"]
    if not given:
        candidates += [up / "client" / "dist" for up in here.parents]
    return next((c for c in candidates if (c / "index.html").is_file()), None)


def is_immutable(path: str, url: str) -> bool:
    """Returns whether a file's name holds its hash, as Vite writes them."""
    return bool(HASHED.search(url))


def safe_headers(plain: str = "") -> dict[str, str]:
    """Returns the headers of every reply.

    Args:
        plain: address of the farm's own page over plain http, which the app asks whether only the
            certificate is at fault; "" where there is none.
    """
    more = f"connect-src 'self' {plain}".strip()
    policy = SAFE["Content-Security-Policy"].replace("connect-src 'self'", more)
    return {**SAFE, "Content-Security-Policy": policy}


def install(app: Flask, folder: Path | None, plain: str = "") -> None:
    """Serves the client's files in front of an application and its shell behind it."""
    always = safe_headers(plain)

    def add_headers(headers: Headers, path: str, url: str) -> None:
        for name, value in always.items():
            headers[name] = value
        if not HASHED.search(url):
            headers["Cache-Control"] = "no-cache"

    if folder is not None:
        app.wsgi_app = WhiteNoise(  # type: ignore[method-assign]
            app.wsgi_app,
            root=str(folder),
            index_file=True,
            max_age=0,
            allow_all_origins=False,
            mimetypes=TYPES,
            immutable_file_test=is_immutable,
            add_headers_function=add_headers,
        )

    @app.after_request
    def safe(reply: Response) -> Response:
        for name, value in always.items():
            reply.headers[name] = value
        return reply

    @app.get("/", defaults={"path": ""})
    @app.get("/<path:path>")
    def shell(path: str) -> Response:
        """The client's own router knows the rest of the addresses."""
        last = path.rsplit("/", 1)[-1]
        if path == "api" or path.startswith(("api/", "assets/")) or "." in last:
            raise NotFound()
        if folder is None and path == "":
            page = f"<!doctype html><html lang=en><title>Bagtrail</title><p>{NOT_BUILT}</p>"
            return Response(page)
        if folder is None:
            raise NotFound()
        reply = send_file(folder / "index.html", etag=True)
        reply.headers["Cache-Control"] = "no-cache"
        return reply
