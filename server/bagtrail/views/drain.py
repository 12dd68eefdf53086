"""An answer given before its body was read: the rest of the body is read all the same.

A server that closes with bytes unread resets the connection, and the answer that says why is lost
on its way. So a refused body is read to its end and thrown away, up to a bound; beyond it the
connection ends.
"""

from __future__ import annotations

from collections.abc import Iterable
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

from werkzeug.exceptions import ClientDisconnected
from werkzeug.wsgi import get_input_stream

MOST = 8 << 20  # bytes; eight times the largest body that is taken
CHUNK = 1 << 16


class Drain:
    """WSGI around an application."""

    def __init__(self, inner: WSGIApplication) -> None:
        self.inner = inner

    def __call__(self, environ: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
        # Bounded by the stated length: not every server ends the stream where the body ends.
        body = get_input_stream(environ)
        environ["wsgi.input"] = body
        environ["wsgi.input_terminated"] = True
        reply = self.inner(environ, start)
        left = MOST
        try:
            while left > 0 and (data := body.read(CHUNK)):
                left -= len(data)
        except (OSError, ClientDisconnected):
            pass  # it went away, and wants no answer
        return reply
