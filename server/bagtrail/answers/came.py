"""One record as it came: what the desk shows of one that could not be read."""

from __future__ import annotations

from typing import Any

from ..errors import NotFound
from ..sync import Log


def came(log: Log, record_id: str) -> dict[str, Any]:
    """Returns {"id", "text", "pos", "st", "sq", "dev", "received"} of a record of the log.

    ``text`` is byte for byte what was sent, ``dev`` the device it is of, ``received`` when it
    came to this log, ms UTC.

    Raises:
        NotFound: the log has no such record.
    """
    with log.store.reading():
        row = log.store.by_id([record_id]).get(record_id)
    if row is None:
        raise NotFound(f"There is no record {record_id[:40]} on the log.")
    return {
        "id": row.id, "text": row.text, "pos": row.pos, "st": row.st, "sq": row.sq,
        "dev": row.dev, "received": row.rt,
    }  # fmt: skip
