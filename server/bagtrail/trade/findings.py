"""What a sum has to say beside its result: data with a stable code, worded by the screens."""

from __future__ import annotations

from dataclasses import dataclass, field

REFUSE = "refuse"  # the sum is not made, or must not be used, before a person corrected this
WARN = "warn"  # the sum stands; something in it is unlikely, risky or missing
NOTE = "note"  # a caution or a remark on how the result was come by


@dataclass(frozen=True)
class Finding:
    """One remark on a sum.

    Attributes:
        code: a stable word; its text has the message id `finding.<code>`.
        level: REFUSE, WARN or NOTE.
        about: the ingredient, line or column it is about, "" for the whole.
        values: numbers in their smallest unit and words that the text names.
    """

    code: str
    level: str
    about: str = ""
    values: dict[str, int | str] = field(default_factory=dict)


class Unfit(ValueError):
    """Values that no sum can be made from; `code` is stable, `values` names what was wrong."""

    def __init__(self, code: str, **values: int | str) -> None:
        self.code = code
        self.values = values
        said = ", ".join(f"{name}={value}" for name, value in values.items())
        super().__init__(f"{code} ({said})" if said else code)
