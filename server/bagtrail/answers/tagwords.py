"""The few words a label or tag bears, in the languages of the farm's phones.

A phone that prints says the same words from its own texts (``tag.*``, ``choice.type.*``,
``choice.carrier.*`` and ``name.bags`` of client/src/i18n); a test holds the two equal. In a
language that is not here the type's word is left out and its sign stands alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Words:
    """What one language says on a tag.

    Attributes:
        types: by the letter of a code.
        places: by type of place.
        carriers: by what spawn was made on.
        bags: how many bags a group's tag stands for; ``{n}`` is the number.
        one: the same for one.
        months: short names; empty where a month is its number.
        date: how day ``{d}`` and month ``{m}`` stand.
    """

    types: dict[str, str]
    places: dict[str, str]
    carriers: dict[str, str]
    bags: str
    one: str
    months: tuple[str, ...]
    date: str = "{d} {m}"

    def count(self, n: int) -> str:
        """Returns "60 bags"."""
        return (self.one if n == 1 else self.bags).format(n=n)

    def day(self, day: datetime) -> str:
        """Returns "12 Jun", in the zone the time is given in."""
        month = self.months[day.month - 1] if self.months else str(day.month)
        return self.date.format(d=day.day, m=month)


def _by(letters: str, words: str) -> dict[str, str]:
    return dict(zip(letters.split(), words.split("|"), strict=True))


TYPES = "G P S H M K W"
PLACES = "room rack shelf trolley cold_store"
CARRIERS = "agar grain liquid plug sawdust"

WORDS = {
    "en": Words(
        _by(TYPES, "Group|Place|Spawn|Load|Batch|Crate|Person"),
        _by(PLACES, "Room|Rack|Shelf|Trolley|Cold store"),
        _by(CARRIERS, "agar|grain|liquid|plug|sawdust"),
        "{n} bags",
        "{n} bag",
        tuple("Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()),
    ),
    "es": Words(
        _by(TYPES, "Grupo|Lugar|Semilla|Carga|Lote|Caja|Persona"),
        _by(PLACES, "Sala|Estantería|Estante|Carro|Cámara fría"),
        _by(CARRIERS, "Agar|Grano|Líquido|Tacos|Serrín"),
        "{n} bolsas",
        "{n} bolsa",
        tuple("ene feb mar abr may jun jul ago sept oct nov dic".split()),
    ),
    "zh": Words(
        _by(TYPES, "组|位置|菌种|灭菌锅|批次|筐|人员"),
        _by(PLACES, "房间|菌架|层架|推车|冷库"),
        _by(CARRIERS, "琼脂|谷粒|液体|木塞|木屑"),
        "{n} 个菌包",
        "{n} 个菌包",
        (),
        "{m}月{d}日",
    ),
    "vi": Words(
        _by(TYPES, "Nhóm|Vị trí|Meo giống|Mẻ hấp|Mẻ|Sọt|Người"),
        _by(PLACES, "Phòng|Giàn|Kệ|Xe đẩy|Kho lạnh"),
        _by(CARRIERS, "Thạch|Hạt|Dịch lỏng|Chốt gỗ|Mùn cưa"),
        "{n} bịch",
        "{n} bịch",
        (),
        "{d} thg {m}",
    ),
}


def words_of(language: str) -> Words | None:
    """Returns a language's words ("" is English), or None where there are none.

    Traditional Chinese is another script than ours, and no guess.
    """
    first, _, more = language.lower().partition("-")
    if first == "zh" and more not in ("", "cn", "hans", "hans-cn", "sg"):
        return None
    return WORDS.get(first or "en")
