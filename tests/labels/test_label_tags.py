"""Tags of every type: told apart by shape, their parts chosen by the farm, in every language."""

from __future__ import annotations

import itertools
import re
import unicodedata

import numpy as np
import pypdfium2
import pytest

from bagtrail_labels import LAYOUTS, STOCKS, Label, LabelError, Layout, Part, layout_from, render
from bagtrail_labels.fonts import package_for
from bagtrail_labels.looks import LOOKS, PLACES, SIGNS
from bagtrail_labels.parts import FIELDS, SMALLEST
from bagtrail_labels.plan import plan
from bagtrail_labels.render import prepare
from bagtrail_labels.text import shortened, width

from .raster import attempt, pdfium, read
from .test_label_words import words_of

TAG = "7K3Q"
A4, ROLL, LARGE = STOCKS["a4-24"], STOCKS["roll-50x30"], STOCKS["roll-100x50"]


def tag(letter: str, sort: str = "") -> Label:
    return Label(
        f"{letter}7K2M4QX9", "25 Nov A2", "A12", "Rye grain", "3 Nov", "", "Name 7", "Word", sort
    )


KINDS = [("P", sort) for sort in PLACES] + [(letter, "") for letter in LOOKS if letter != "P"]


def shape(letter: str, sort: str, stock) -> np.ndarray:
    """A tag without its code and words, in little squares as an eye sees it from afar."""
    bare = Label(f"{letter}7K2M4QX9", number="1" if letter == "B" else "", sort=sort)
    (page,) = pdfium(render([bare], stock, TAG))
    place = plan(stock, letter)
    page = page.astype(float)
    quiet = round(4 * place.module * 8)
    x, y, side = (round(v * 8) for v in (place.code_x, place.code_y, place.code_size))
    page[y + quiet : y + side - quiet, x + quiet : x + side - quiet] = 255
    page[round((place.human_y + 0.09 * place.human_em) * 8) :, round(place.human_x * 8) :
         round((place.human_x + place.human_width) * 8)] = 255  # fmt: skip
    high, wide = page.shape[0] // 10, page.shape[1] // 10
    return page[: high * 10, : wide * 10].reshape(high, 10, wide, 10).mean(axis=(1, 3))


@pytest.mark.parametrize("stock", [ROLL, A4, LARGE, STOCKS["roll-40x30"]], ids=lambda s: s.name)
def test_types_are_told_apart_by_shape_alone(stock):
    shapes = {(letter, sort): shape(letter, sort, stock) for letter, sort in KINDS}
    for (one, a), (other, b) in itertools.combinations(shapes.items(), 2):
        # Squares of 1.25 mm that differ by a third of black: six and more, a patch of 3 x 3 mm.
        # Places are all black bands, and are told apart by the signs on them from nearer.
        step, least = (30, 3) if one[0] == other[0] else (80, 6)
        assert (np.abs(a - b) > step).sum() >= least, (one, other)


@pytest.mark.parametrize("stock", [ROLL, LARGE, STOCKS["a4-8"], STOCKS["letter-6"]],
                         ids=lambda s: s.name)  # fmt: skip
@pytest.mark.parametrize(("letter", "sort"), KINDS)
def test_every_tag_is_read_and_says_what_it_was_given(letter, sort, stock, rasterise):
    pdf = render([tag(letter, sort)], stock, TAG)
    (page,) = rasterise(pdf)
    assert read(page) == [f"{TAG}.{letter}7K2M4QX9"]
    said = words_of(pdf)
    for text in (f"{letter}7K2 M4QX9", "A12", "Name 7" if letter not in "BG" else "25 Nov A2"):
        assert text in said


def test_places_are_large_where_there_is_room():
    """Two camera pixels a module are needed: twice the module is read from twice as far."""
    door, tagged = plan(STOCKS["a4-2"], "P"), plan(STOCKS["a4-24"], "B")
    assert door.module >= 3 * tagged.module
    lines = prepare([Label("P7K2M4QX9", title="Fruiting room 2")], STOCKS["a4-2"], TAG).tags[0]
    assert max(line.style.size for line in lines.lines) > 15


def test_a_crate_has_a_frame_that_nothing_else_has():
    (page,) = pdfium(render([tag("K")], LARGE, TAG))
    ring = page < 128
    pad, line = round(LARGE.pad * 8), round(1.3 * 8)
    inside = slice(pad + 1, -pad - 1)
    for edge in (ring[pad + 1 : pad + line - 1, inside], ring[inside, pad + 1 : pad + line - 1]):
        assert edge.mean() > 0.95
    for letter, sort in KINDS:
        if letter != "K":
            (other,) = pdfium(render([tag(letter, sort)], LARGE, TAG))
            assert (other[pad + 1 : pad + line - 1, inside] < 128).mean() < 0.6, letter


def test_an_unknown_place_is_refused():
    with pytest.raises(LabelError, match="no sign for 'barn'") as caught:
        render([tag("P", "barn")], ROLL, TAG)
    assert caught.value.details["known"] == list(PLACES)


@pytest.mark.parametrize("sort", [None, [], 3])
def test_a_place_that_is_no_text_is_refused(sort):
    with pytest.raises(LabelError, match="no sign"):
        render([tag("P", sort)], ROLL, TAG)


def test_signs_stay_in_their_box():
    for name, sign in SIGNS.items():
        numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", sign)]
        assert min(numbers) >= 0, name
        assert max(numbers) <= 10, name


# --- Parts ----------------------------------------------------------------------------------------


def test_a_farm_chooses_parts_and_their_order():
    chosen = layout_from(["day", {"field": "number", "size": "huge", "bold": True}, "what"])
    full = Label("B7K2M4QX9", "25 Nov A2", "A12", "Pearl oyster 7", "12 Jun", "free")
    (drawn,) = prepare([full], ROLL, TAG, layouts={"B": chosen}).tags
    texts = [line.text for line in drawn.lines]
    assert texts == ["12 Jun", "A12", "Pearl oyster 7", "B7K2 M4QX9"]
    assert drawn.lines[1].style.size > 1.5 * drawn.lines[0].style.size
    # Another type keeps its own.
    (group,) = prepare([tag("G")], ROLL, TAG, layouts={"B": chosen}).tags
    assert "25 Nov A2" in [line.text for line in group.lines]


def test_an_empty_layout_prints_the_code_alone():
    (drawn,) = prepare([tag("B")], ROLL, TAG, layouts={"B": Layout(())}).tags
    assert [line.text for line in drawn.lines] == ["B7K2 M4QX9"]


@pytest.mark.parametrize("letter", LAYOUTS)
def test_layouts_survive_json(letter):
    assert layout_from(LAYOUTS[letter].as_data()) == LAYOUTS[letter]


@pytest.mark.parametrize(
    "data",
    [None, "colour", 3, {}, [3], [None], ["colour"], [{"field": "day", "lines": 2}],
     [{"field": "what", "lines": 9}], [{"field": "what", "lines": "2"}],
     [{"field": "what", "lines": True}], [{"field": "what", "size": "gigantic"}],
     [{"field": "what", "size": []}], [{"field": "what", "bold": "no"}], [{"size": "large"}],
     [{"field": "what", "colour": 1}], ["day", "day"], [["day"]], [{"field": ["day"]}]],
)  # fmt: skip
def test_a_wrong_layout_is_refused(data):
    with pytest.raises(LabelError) as caught:
        layout_from(data)
    assert caught.value.code == "label_layout"
    assert caught.value.todo.endswith(".")


def test_what_has_no_room_is_left_out_from_the_end_and_never_overlaps():
    small = STOCKS["a4-65"]
    layout = Layout(tuple(Part(name, "huge", 1 if name in ("number", "day") else 4)
                          for name in FIELDS))  # fmt: skip
    label = Label("B7K2M4QX9", "b " * 40, "A12", "c " * 40, "12 Jun", "d " * 40, "t " * 40, "Word")
    (drawn,) = prepare([label], small, TAG, layouts={"B": layout}).tags
    place = plan(small)
    for line in drawn.lines[:-1]:
        bottom = line.y + 1.22 * line.style.size
        assert bottom <= place.words_y + place.words_height + 1e-3
        assert line.style.size >= SMALLEST
    assert "t t t" in drawn.lines[0].text


def test_a_number_at_the_end_of_a_name_is_kept():
    for ems in (8, 10, 12, 15):
        one, other = (shortened(f"Grey oyster on straw, trial {n}", ems) for n in (12, 13))
        assert one != other
        assert width(one) <= ems
    assert shortened("Grey oyster on straw", 9.0) in ("Grey oyster…", "Grey oyster on…")


# --- Languages ------------------------------------------------------------------------------------

LANGUAGES = {
    "de": "Austernseitling Größe", "fr": "Pleurote grise, n° 7", "pl": "Boczniak ostrygowaty żółty",
    "cs": "Hlíva ústřičná šedá", "tr": "İstiridye mantarı ığüşöç", "ru": "Вешенка обыкновенная",
    "uk": "Глива звичайна їєґ", "sr-Cyrl": "Буковача љњћђ", "vi": "Nấm bào ngư xám ờ ữ ẵ",
    "el": "Πλευρώτους όστρεα", "zh-Hans": "平菇灰色七号", "zh-Hant": "秀珍菇灰色",
    "ja": "ヒラタケ灰色株七号", "ko": "느타리버섯 회색",
}  # fmt: skip


@pytest.mark.parametrize("dpi", [203.2, 300])
@pytest.mark.parametrize("language", LANGUAGES)
def test_the_farms_language_is_printed(language, dpi, rasterise):
    labels = [
        Label(f"B7K2M4QX{n}", LANGUAGES[language], f"A{n}", LANGUAGES[language], "12", "", "", "")
        for n in range(9)
    ]
    stock = A4.on(dpi=dpi)
    pdf = render(labels, stock, TAG, language=language)
    (page,) = rasterise(pdf, dpi)
    assert read(page, 37 / 25.4 * dpi) == [f"{TAG}.{label.code}" for label in labels]
    said = unicodedata.normalize("NFC", words_of(pdf))
    assert LANGUAGES[language].split()[0][:4] in said


@pytest.mark.parametrize("language", ["x", "english!", "en_GB", '"><b>', 3, None, "a" * 99])
def test_a_language_is_named_as_on_web_pages(language):
    with pytest.raises(LabelError) as caught:
        render([tag("B")], ROLL, TAG, language=language)
    assert caught.value.code == "label_language"


SCRIPTS = {
    "latin": "abcé", "greek": "αβγ", "cyrillic": "абв", "armenian": "աբգ", "hebrew": "אבג",
    "arabic": "ابج", "syriac": "ܐܒܓ", "thaana": "ހށނ", "nko": "ߊߋߌ", "devanagari": "अआक",
    "bengali": "অআক", "gurmukhi": "ਅਆਕ", "gujarati": "અઆક", "oriya": "ଅଆକ", "tamil": "அஆக",
    "telugu": "అఆక", "kannada": "ಅಆಕ", "malayalam": "അആക", "sinhala": "අආක", "thai": "กขค",
    "lao": "ກຂຄ", "tibetan": "ཀཁག", "myanmar": "ကခဂ", "georgian": "აბგ", "hangul": "가나다",
    "ethiopic": "ሀለሐ", "cherokee": "ᎠᎡᎢ", "canadian": "ᐁᐃᐅ", "ogham": "ᚁᚂᚃ", "runic": "ᚠᚢᚦ",
    "khmer": "កខគ", "mongolian": "ᠠᠡᠢ", "hiragana": "あいう", "katakana": "アイウ", "han": "平菇七",
    "bopomofo": "ㄅㄆㄇ", "yi": "ꀀꀁꀂ", "tifinagh": "ⴰⴱⴳ", "glagolitic": "ⰀⰁⰂ", "coptic": "ⲀⲂⲄ",
    "gothic": "𐌰𐌱𐌲", "javanese": "ꦏꦐꦑ", "balinese": "ᬅᬆᬓ", "tagalog": "ᜀᜁᜂ",
}  # fmt: skip


@pytest.mark.parametrize("script", SCRIPTS)
def test_forty_scripts_are_printed_or_a_package_is_named(script):
    text = SCRIPTS[script]
    assert len(SCRIPTS) >= 40
    pdf, refused = attempt([Label("B7K2M4QX9", text, "A1", f"{text} {text}")], ROLL)
    if refused:
        assert refused.code == "label_font"
        assert refused.details["package"] in refused.todo
        assert refused.details["package"].startswith("fonts-")
        return
    (page,) = pdfium(pdf)
    assert read(page) == [f"{TAG}.B7K2M4QX9"]
    place = plan(ROLL)
    words = page[round(place.words_y * 8) : round(place.human_y * 8), round(place.words_x * 8) :]
    assert (words < 128).sum() > 60


def test_the_package_named_is_the_small_one():
    assert package_for("平") == package_for("한") == package_for("ア") == "fonts-wqy-microhei"
    assert package_for("क") == "fonts-noto-core"
    assert package_for("ж") == "fonts-dejavu-core"


def test_the_page_names_its_language():
    document = pypdfium2.PdfDocument(render([tag("B")], ROLL, TAG, language="ja"))
    assert pypdfium2.raw.FPDFCatalog_GetLanguage is not None
    size = pypdfium2.raw.FPDFCatalog_GetLanguage(document, None, 0)
    assert size == 2 * len("ja\0")
