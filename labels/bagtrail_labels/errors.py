"""The one error of this package."""

from __future__ import annotations

from typing import Any


class LabelError(ValueError):
    """A label that cannot be printed as asked.

    `code` is a stable word for programs, `message` says what is wrong and where, `todo` what
    to do about it, `details` holds the values concerned (JSON types only).
    """

    def __init__(self, code: str, message: str, todo: str, **details: Any) -> None:
        super().__init__(f"{message} {todo}")
        self.code = code
        self.message = message
        self.todo = todo
        self.details = details


def shown(value: object) -> str:
    """A value as it may stand in an error: short, and with every control character escaped."""
    return ascii(value[:40]) if isinstance(value, str) else type(value).__name__
