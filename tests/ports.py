"""Ports for servers that a test starts, ends and starts again on the same port.

The kernel gives ports above its bound to whoever dials out: a server of a test that is down for a
second may find its port taken by a stranger's connection. So ports are chosen below that bound,
each worker of a run counts through a range of its own, and no port is given twice.
"""

from __future__ import annotations

import os
import random
import re
import socket
from collections.abc import Iterator

# Linux dials out from 32768 on, others from 49152. Browsers refuse some below 11,000.
FIRST, LAST = 12_000, 32_000
#: Ranges, one a worker; runs beside each other begin at different points of theirs.
WORKERS = 8


def _mine() -> Iterator[int]:
    found = re.search(r"\d+$", os.environ.get("PYTEST_XDIST_WORKER", ""))
    room = (LAST - FIRST) // WORKERS
    first = FIRST + room * (int(found[0]) % WORKERS if found else 0)
    begin = random.SystemRandom().randrange(room)
    for n in range(room):
        yield first + (begin + n) % room


_ports = _mine()


def free_port() -> int:
    """Return a port of 127.0.0.1 that nobody has, and that nobody gets who dials out."""
    for port in _ports:
        with socket.socket() as probe:
            # As servers bind, so that a port of a server that just ended counts as free.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise OSError("no port is free")
