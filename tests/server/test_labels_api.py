"""Labels over HTTP: a PDF, or a sentence that names what cannot be printed."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from bagtrail.answers.tagwords import WORDS

I18N = Path(__file__).resolve().parents[2] / "client" / "src" / "i18n"


def said(pdf: bytes) -> str:
    """Every word of a PDF."""
    return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf))


def read(pdf: bytes, dpi: float = 300) -> set[str]:
    """Every code of a PDF, by a reader that shares nothing with the writer."""
    found: set[str] = set()
    for page in pypdfium2.PdfDocument(pdf):
        image = page.render(scale=dpi / 72, grayscale=True).to_pil()
        found |= {code.text for code in zxingcpp.read_barcodes(image)}
    return found


def ask(phone: Any, path: str, **body: Any) -> Any:
    return phone.server.http.post(f"/api/labels/{path}", json=body, headers=phone.headers)


def get(phone: Any, path: str) -> Any:
    reply = phone.server.http.get(f"/api/labels/{path}", headers=phone.headers)
    assert reply.status_code == 200, reply.text
    return reply.json


def wrote(phone: Any, kind: str, sub: list[str], d: dict[str, Any]) -> bool:
    """Pushes one record; fails unless it counts."""
    reply = phone.push(phone.record(kind, sub, d)).json
    assert reply["r"][0][1] == "ok", reply
    return True


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
        ({"labels": None}, "bad_fields"),
        ({"codes": ["B0000001K"]}, "bad_fields"),  # both
        ({"stock": {"page_width": 100}}, "bad_label"),
        ({"stock": {}}, "bad_fields"),
        ({"stock": 24}, "bad_fields"),
        ({"stock": {"stock": "a4-24", "columns": 2}}, "bad_label"),
        ({"stock": "roll-20x18"}, "bad_label"),
        ({"dpi": 20}, "bad_fields"),
        ({"dpi": "300"}, "bad_fields"),
        ({"nudge_x": -30}, "bad_label"),
        ({"nudge_y": True}, "bad_fields"),
        ({"language": "not a language"}, "bad_label"),
        ({"layouts": {"B": [{"field": "moon"}]}}, "bad_label"),
        ({"layouts": {"B": [{"field": "day", "lines": 3}]}}, "bad_label"),
        ({"layouts": {"B": [{"field": "day"}, {"field": "day"}]}}, "bad_label"),
        ({"layouts": {"Z": []}}, "bad_fields"),
        ({"layouts": {"B": "day"}}, "bad_fields"),
        ({"labels": [{"code": "P00000018", "sort": "cave"}]}, "bad_label"),
        (
            {
                "labels": [{"code": "B0000001K", "day": "WWWWWWWWWWWWWWWWWWWW"}],
                "stock": "roll-40x30",
            },
            "bad_label",
        ),
        ({"labels": [{"code": "B0000001K", "what": "\U00012000"}]}, "bad_label"),
        ({"labels": [{"code": "B0000001K"}] * 2001}, "bad_fields"),
    ],
)
def test_what_cannot_be_printed_is_named(phone: Any, change: dict[str, Any], code: str) -> None:
    body = {"stock": "a4-24", "labels": [{"code": "B0000001K"}], **change}
    reply = post(phone, **{key: value for key, value in body.items() if value is not None})
    assert reply.status_code == 422, change
    assert reply.json["error"]["code"] == code
    assert reply.json["error"]["details"]


SCRIPTS = {
    "Arabic": "فطر المحار", "Hebrew": "פטריית צדפה", "Greek": "Πλευρώτους", "Thai": "เห็ดนางรม",
    "Devanagari": "ढींगरी", "Georgian": "სოკო", "Armenian": "Սունկ", "Cyrillic": "Вешенка",
    "mixed directions": "Fen 4 (פטריה) 12 %", "new lines": "Fen\n4\r\n\tgrey",
    "picture": "Fen 🍄 4",
    "combining marks": "Fe\u0301n\u0323 4", "direction controls": "\u202eFen\u202c 4",
}  # fmt: skip


@pytest.mark.parametrize("name", SCRIPTS)
def test_any_script_gives_a_right_label_or_a_sentence(phone: Any, name: str) -> None:
    code = phone.code("B")
    label = {"code": code, "batch": SCRIPTS[name][:40], "what": SCRIPTS[name]}
    reply = post(phone, stock="roll-50x30", labels=[label])
    if reply.status_code == 200:
        assert read(reply.data) == {f"{phone.server.log.identity.tag}.{code}"}
        return
    error = reply.json["error"]
    # A line break is no text of a field; the rest the label package judges.
    wanted = "bad_fields" if name == "new lines" else "bad_label"
    assert (reply.status_code, error["code"]) == (422, wanted)
    assert error["todo"].endswith(
        "."
    )  # which font package to install, or which letter to leave out


@pytest.mark.parametrize("labels", [[], [{"code": "B0000001K", "what": "Fen " * 2_500}]])
def test_nothing_and_endless_names_are_refused(phone: Any, labels: list[dict[str, str]]) -> None:
    reply = post(phone, stock="a4-24", labels=labels)
    assert (reply.status_code, reply.json["error"]["code"]) == (422, "bad_fields")


def test_strangers_print_nothing(server: Any) -> None:
    body = {"stock": "a4-24", "labels": [{"code": "B0000001K"}]}
    assert server.http.post("/api/labels", json=body).status_code == 401
    assert server.http.post("/api/labels/preview", json=body).status_code == 401
    assert server.http.post("/api/labels/calibration", json={}).status_code == 401
    assert server.http.post("/api/labels/sheet", json={"batch": "M0000001A"}).status_code == 401
    for path in ("stocks", "layouts", "advice"):
        assert server.http.get(f"/api/labels/{path}").status_code == 401


def test_the_reason_is_named_with_what_would_fit(phone: Any) -> None:
    reply = post(phone, stock="roll-20x18", labels=[{"code": "B0000001K"}])
    error = reply.json["error"]
    assert error["details"]["reason"] == "stock_too_small"
    assert error["details"]["best"] in error["todo"]
    overlap = {"page_width": 210, "page_height": 297, "columns": 3, "rows": 8, "label_width": 71,
               "label_height": 37}  # fmt: skip
    error = post(phone, stock=overlap, labels=[{"code": "B0000001K"}]).json["error"]
    assert error["details"]["reason"] == "stock_wrong"
    assert "past the page" in error["message"]
    error = post(phone, stock={**overlap, "label_width": 60, "gap_x": -1},
                 labels=[{"code": "B0000001K"}]).json["error"]  # fmt: skip
    assert "overlap" in error["message"]


def test_a_sheet_of_ones_own_measures(phone: Any) -> None:
    own = {"page_width": 100, "page_height": 150, "columns": 1, "rows": 3, "label_width": 90,
           "label_height": 45, "margin_left": 5, "margin_top": 5, "gap_y": 2}  # fmt: skip
    code = phone.code("B")
    reply = post(phone, stock=own, dpi=300, nudge_x=0.5, start=2, labels=[{"code": code}])
    assert reply.status_code == 200, reply.text
    (page,) = pypdfium2.PdfDocument(reply.data)
    assert page.get_width() == pytest.approx(100 / 25.4 * 72, abs=0.3)
    assert read(reply.data) == {f"{phone.server.log.identity.tag}.{code}"}


def test_parts_and_order_are_those_of_the_request_else_the_farms_own(phone: Any) -> None:
    label = {"code": phone.code("B"), "batch": "25 Nov A1", "number": "A12", "what": "Fen 4",
             "day": "12 Jun"}  # fmt: skip
    usual = said(post(phone, stock="roll-50x30", labels=[label]).data)
    assert "25 Nov A1" in usual
    assert "Fen 4" in usual
    parts = [{"field": "number", "size": "huge", "bold": True}, {"field": "day"}]
    asked = said(post(phone, stock="roll-50x30", labels=[label], layouts={"B": parts}).data)
    assert "A12" in asked
    assert "25 Nov A1" not in asked
    assert wrote(phone, "label.chosen", [], {"layout_bag": "day huge bold", "label_stock": "a4-24"})
    chosen = post(phone, labels=[label])
    assert "12 Jun" in said(chosen.data)
    assert "A12" not in said(chosen.data)
    assert get(phone, "stocks")["own"]["stock"] == "a4-24"
    assert get(phone, "layouts")["own"]["B"] == [
        {"field": "day", "size": "huge", "lines": 1, "bold": True}
    ]


def test_a_choice_that_cannot_be_read_is_told_and_can_be_overruled(phone: Any) -> None:
    assert wrote(phone, "label.chosen", [], {"layout_bag": "moon huge", "label_stock": "{broken"})
    label = {"code": phone.code("B")}
    error = post(phone, labels=[label]).json["error"]
    assert error["details"]["reason"] == "stock_unknown"
    error = post(phone, stock="a4-24", labels=[label]).json["error"]
    assert error["details"]["reason"] == "label_layout"
    assert "moon" in error["message"]
    assert wrote(phone, "label.chosen", [], {"layout_bag": "", "label_stock": ""})
    assert post(phone, labels=[label]).status_code == 200


@pytest.fixture
def demo(each_farm: Any) -> Any:
    """A phone of a farm on which something stands."""
    phone = each_farm().pair()
    strain = "strain-00000000-0000-7000-8000-000000000001"
    codes = {letter: phone.code(letter) for letter in "MSHKWG"}
    rooms = [phone.code("P") for _ in range(2)]
    bags = [phone.code("B") for _ in range(12)]
    wrote(phone, "strain.named", [strain], {"name": "Fen 4"})
    wrote(phone, "place.named", [rooms[0]], {"name": "Run room", "type": "room"})
    wrote(phone, "place.named", [rooms[1]], {"name": "Rack 2", "type": "rack", "within": rooms[0]})
    wrote(phone, "person.named", [codes["W"]], {"name": "Mira", "role": "worker"})
    # 23:00 UTC of the 11th is the 12th in the farm's zone.
    wrote(phone, "batch.mixed", [codes["M"]], {"name": "25 Nov A1", "recipe_name": "Oak 80/18",
                "moisture": 6_000, "parts": [{"name": "Oak sawdust", "share": 8_000}],
                "was": {"ms": 1_749_682_800_000, "p": "d"}})  # fmt: skip
    wrote(phone, "bag.filled", [codes["M"]], {"n": 72, "fill_g": 2_400, "to": [*bags, codes["G"]],
                "first": "A1"})  # fmt: skip
    wrote(phone, "spawn.received", [codes["S"]], {"strain": strain, "carrier": "grain",
                "generation": 2})  # fmt: skip
    wrote(phone, "load.ran", [codes["H"], codes["M"]], {"result": "passed", "vessel": "Kettle"})
    phone.codes, phone.rooms, phone.bags = codes, rooms, bags
    return phone


def test_every_type_of_tag_says_what_the_farm_knows(demo: Any) -> None:
    codes = [*demo.rooms, *demo.bags[:1], *demo.codes.values()]
    reply = post(demo, stock="roll-100x50", codes=codes)
    assert reply.status_code == 200, reply.text
    texts = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(reply.data)]
    pages = [" ".join(text.split()) for text in texts]  # a name may stand on two lines
    by = dict(zip(codes, pages, strict=True))
    wanted = {
        demo.rooms[0]: ("Room", "Run room"), demo.rooms[1]: ("Rack", "Rack 2", "Run room"),
        demo.bags[0]: ("25 Nov A1", "A1", "Oak 80/18"), demo.codes["G"]: ("Group", "60 bags"),
        demo.codes["S"]: ("Spawn", "Fen 4", "grain", "G2"),
        demo.codes["H"]: ("Load", "Kettle", "25 Nov A1"), demo.codes["K"]: ("Crate",),
        demo.codes["M"]: ("Batch", "25 Nov A1", "Oak 80/18", "12 Jun"),
        demo.codes["W"]: ("Person", "Mira"),
    }  # fmt: skip
    assert set(wanted) == set(codes)
    for code, words in wanted.items():
        missing = [word for word in words if word not in by[code]]
        assert not missing, (code, by[code])
    tag = demo.server.log.identity.tag
    assert read(reply.data) == {f"{tag}.{code}" for code in codes}


def test_another_language_has_no_english_words(demo: Any) -> None:
    codes = [demo.codes["G"], demo.rooms[1], demo.codes["M"]]
    words = said(post(demo, stock="roll-100x50", codes=codes, language="ja").data)
    assert "6月12日" in words
    assert "× 60" in words
    for english in ("Group", "Rack\r", "Batch", "bags", "Jun"):
        assert english not in words


@pytest.mark.parametrize(
    ("language", "wanted"),
    [
        ("es", ["Grupo", "60 bolsas", "Estantería", "Lote", "Grano", "12 jun"]),
        ("es-MX", ["Grupo", "60 bolsas"]),
        ("zh-CN", ["组", "60 个菌包", "菌架", "批次", "谷粒", "6月12日"]),
        ("vi", ["Nhóm", "60 bịch", "Giàn", "Mẻ", "Hạt", "12 thg 6"]),
    ],
)
def test_labels_speak_the_farms_language_whoever_prints(
    demo: Any, language: str, wanted: list[str]
) -> None:
    """Chosen once for the farm: a request that names no language gets it."""
    codes = [demo.codes["G"], demo.rooms[1], demo.codes["M"], demo.codes["S"]]
    before = said(post(demo, stock="roll-100x50", codes=codes).data)
    assert "Group" in before
    assert wrote(demo, "label.chosen", [], {"label_language": language})
    words = said(post(demo, stock="roll-100x50", codes=codes).data)
    assert [word for word in wanted if word not in words] == []
    for english in ("Group", "Rack\r", "Batch", "bags", "Jun", "grain"):
        assert english not in words


def test_tags_drawn_here_and_by_a_phone_say_the_same() -> None:
    """The words of `tagwords` are those of the phone's texts."""
    for tag, name in (("en", "en-GB"), ("es", "es"), ("zh", "zh-CN"), ("vi", "vi")):
        texts: dict[str, str] = {}
        for file in I18N.glob(f"{name}*.json"):
            texts |= json.loads(file.read_text(encoding="utf-8"))
        words = WORDS[tag]
        assert words.types == {letter: texts[f"tag.{letter}"] for letter in words.types}
        assert words.places == {one: texts[f"choice.type.{one}"] for one in words.places}
        # English has a carrier in small letters here, as the record does.
        assert {one: word.capitalize() for one, word in words.carriers.items()} == {
            one: texts[f"choice.carrier.{one}"].removesuffix("s" if tag == "en" else "")
            for one in words.carriers
        }
        bags = texts["name.bags"]
        for one in (words.bags, words.one):
            assert one.replace("{n}", "#") in bags


def test_the_batch_sheet_holds_every_bags_code(demo: Any) -> None:
    reply = ask(demo, "sheet", batch=demo.codes["M"], dpi=300)
    assert reply.status_code == 200, reply.text
    tag = demo.server.log.identity.tag
    wanted = [demo.codes["M"], *demo.bags, demo.codes["G"]]
    assert read(reply.data, 600) == {f"{tag}.{code}" for code in wanted}
    words = said(reply.data)
    for text in ("25 Nov A1", "Oak sawdust 80 %", "60 % wet basis", "72", "A12"):
        assert text in words
    # As people count: A2 comes before A10.
    assert words.index("A2\r") < words.index("A10\r")
    assert ask(demo, "sheet", batch=demo.bags[0]).json["error"]["code"] == "bad_code"
    assert ask(demo, "sheet", batch=demo.code("M")).json["error"]["code"] == "not_found"


def test_the_preview_is_the_first_page_of_the_same_job(demo: Any) -> None:
    job = {"stock": "roll-50x30", "codes": demo.bags[:3]}
    reply = ask(demo, "preview", **job)
    assert reply.mimetype == "image/png"
    image = Image.open(io.BytesIO(reply.data))
    assert image.size == (400, 240)  # 50 x 30 mm of 8 dots
    pdf = post(demo, **job).data
    (page, *_rest) = pypdfium2.PdfDocument(pdf)
    same = page.render(scale=203.2 / 72, grayscale=True).to_pil()
    assert image.convert("L").tobytes() == same.convert("L").tobytes()
    fine = ask(demo, "preview", stock="a4-24", dpi=2400, codes=demo.bags[:1])
    assert fine.status_code == 200  # for a screen, not for 2,400 dots an inch
    assert Image.open(io.BytesIO(fine.data)).size == (1680, 2376)


def test_the_calibration_page_has_a_ruler(phone: Any) -> None:
    reply = ask(phone, "calibration", stock="a4-24", nudge_y=1.5, words="Print at 100 %")
    assert reply.status_code == 200, reply.text
    words = said(reply.data)
    for text in ("70 × 37 mm", "Print at 100 %", "10", "200"):
        assert text in words
    error = ask(phone, "calibration", stock="a4-24", nudge_y=90).json["error"]
    assert error["details"]["reason"] == "label_nudge"


def test_stocks_layouts_and_advice_are_listed(phone: Any) -> None:
    stocks = get(phone, "stocks")
    by = {row["name"]: row for row in stocks["stocks"]}
    assert by["a4-24"]["cells"] == 24
    assert by["roll-50x30"]["roll"] is True
    assert by["roll-50x30"]["fits"] == list("BGPSHMKWX")
    assert "K" not in by["a4-65"]["fits"]
    assert stocks["own"] == {"stock": "a4-24", "language": "", "address": "", "layouts": {}}
    layouts = get(phone, "layouts")
    assert [part["field"] for part in layouts["usual"]["B"]][:2] == ["batch", "number"]
    advice = get(phone, "advice")
    of = {(row["method"], row["material"]): row for row in advice["rows"]}
    assert of["direct_thermal", "paper"]["steam"] == "fails"
    assert of["direct_thermal", "paper"]["apply_after_cooling"] is True
    assert of["thermal_resin", "polyester"]["steam"] == "survives"
    assert of["thermal_resin", "polypropylene"]["steam"] == "borderline"
    assert "advice.count_before_soak_and_pick" in advice["always"]
    assert len(advice["test"]) == 6


def test_an_address_of_the_farms_choice_stands_in_the_codes(phone: Any) -> None:
    code = phone.code("B")
    assert wrote(phone, "label.chosen", [], {"label_address": "HTTPS://FARM.EXAMPLE/"})
    assert read(post(phone, labels=[{"code": code}]).data) == {f"HTTPS://FARM.EXAMPLE/{code}"}


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
