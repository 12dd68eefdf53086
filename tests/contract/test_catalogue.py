"""The catalogue and everything that must follow from it: vectors, twins, words, generated files."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bagtrail import papers
from bagtrail.catalogue import KINDS, check
from bagtrail.catalogue.model import EFFECTS, TYPES, Field, Kind, add
from bagtrail.fold import Farm

from . import vectors as v

ROOT = Path(__file__).parents[2]
SERVER, CLIENT = ROOT / "server" / "bagtrail", ROOT / "client" / "src"
FOLDS = {path.stem: v.load(f"folds/{path.name}") for path in (v.FIXTURES / "folds").glob("*.json")}
kinds = pytest.mark.parametrize("name", sorted(KINDS))


def core(folder: Path, names: str) -> str:
    """Return the text of a language's twins, comments left out."""
    suffix = "py" if folder == SERVER else "ts"
    text = "\n".join(
        (folder / f"{name}.{suffix}").read_text(encoding="utf-8") for name in names.split()
    )
    if suffix == "py":
        return re.sub(r'""".*?"""|#[^\n]*', "", text, flags=re.S)
    return re.sub(r"/\*.*?\*/|//[^\n]*", "", text, flags=re.S)


CORES = {
    "python": core(SERVER, "line index places life fold reference rules catalogue/check"),
    "typescript": core(CLIENT, "line lines places life fold reference rules check"),
}


def camel(name: str) -> str:
    head, *rest = name.split("_")
    return head + "".join(word.capitalize() for word in rest)


# -- vectors ---------------------------------------------------------------------------------------


@kinds
def test_every_kind_has_vectors(name: str) -> None:
    assert name in FOLDS, f"fixtures/folds/{name}.json is missing"
    used = [c for c in FOLDS[name]["cases"] if any(r["ty"] == name for r in c["records"])]
    assert len(used) >= 8


def test_every_vector_names_a_live_kind() -> None:
    assert set(FOLDS) <= set(KINDS)
    future = {"bag.sang", "moon.rose"}  # kinds that nobody knows are vectors too
    named = {r["ty"] for file in FOLDS.values() for c in file["cases"] for r in c["records"]}
    assert named - future <= set(KINDS)
    assert future <= named


def about(name: str) -> Iterator[tuple[dict[str, Any], list[dict[str, Any]]]]:
    """Yield each case of a kind with its records of that kind."""
    for case in FOLDS[name]["cases"]:
        own = [r for r in case["records"] if r["ty"] == name]
        if own:
            yield case, own


@kinds
def test_the_vectors_of_a_kind_cover_what_goes_wrong(name: str) -> None:
    cases = list(about(name))
    held = [json.dumps(c["state"]) for c, _ in cases]
    assert any(r.get("tv", 1) != 1 for _, own in cases for r in own), "no version of the future"
    assert any('"why": "version"' in text for text in held), "no version that is held"
    assert any(re.search(r'"why": "(field:|sub|carbide)', text) for text in held), "nothing held"
    assert any("on" in r for _, own in cases for r in own), "no stated time"
    assert any(a["at"] == b["at"] and a is not b for _, own in cases for a in own for b in own), (
        "no tied time"
    )
    if {"B", "G"} <= set(KINDS[name].sub):
        assert any("?" in c["state"] for c, _ in cases), "no bag that nobody has born"


def test_case_names_are_unique_within_a_kind() -> None:
    for name, file in FOLDS.items():
        names = [case["name"] for case in file["cases"]]
        assert len(names) == len(set(names)), name


# -- entries ---------------------------------------------------------------------------------------


@kinds
def test_examples_are_valid(name: str) -> None:
    kind = KINDS[name]
    assert check(name, kind.version, kind.example["sub"], kind.example["d"]) is None


@kinds
def test_names_are_noun_past_verb(name: str) -> None:
    assert re.fullmatch(r"[a-z]+\.[a-z]+(ed|en|de|an|it)", name)


@kinds
def test_an_entry_is_well_formed(name: str) -> None:
    kind = KINDS[name]
    fields = {f.name for f in kind.fields}
    for effect in kind.effects:
        verb, first, last = effect[0], effect[1], effect[-1]
        named = {"set": [last], "stand": [first], "end": [first], "end_if": [first],
                 "put": last, "append": last}.get(verb, [])  # fmt: skip
        assert set(named) <= fields, effect
    assert kind.reach in ("", "seen", "stood")
    assert not (kind.reach and not kind.timed), "an act happens at a time"
    assert all(f.letters for f in kind.fields if f.type in ("code", "codes"))
    assert all(f.min <= f.max for f in kind.fields)
    assert kind.doc.endswith(".")


@pytest.mark.parametrize(
    ("kind", "why"),
    [
        (Kind("bag.moved", "Twice.", sub=("B",)), "entered twice"),
        (Kind("x.made", "Bad.", sub=("B",), effects=(("explode", "x"),)), "no such effect"),
        (Kind("x.made", "Bad.", sub=("B",), fields=(Field("a", "int"),) * 2), "twice"),
        (Kind("x.made", "Bad.", sub=("B",), fields=(Field("a", "float"),)), "malformed"),
        (Kind("x.made", "Bad.", sub=("B",), fields=(Field("a", "choice"),)), "malformed"),
    ],
)
def test_a_bad_entry_is_refused_where_it_stands(kind: Kind, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        add(kind)
    assert "x.made" not in KINDS


@kinds
def test_an_example_folds_to_something(name: str) -> None:
    kind = KINDS[name]
    case = {"records": [{"ty": name, "at": 3_600_000, **kind.example}]}
    farm = Farm()
    for line in v.lines(case):
        assert farm.add(line)
    assert list(farm.rows())


# -- twins -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("language", CORES)
def test_every_rule_exists_in_both_languages(language: str) -> None:
    """A rule is a function of its name, or a kind or rule asked for by name."""
    missing = []
    for rule in sorted({rule for kind in KINDS.values() for rule in kind.rules}):
        kind_names = [re.escape(kind.name) for kind in KINDS.values() if rule in kind.rules]
        asked = rf"""["'](?:{rule}|{"|".join(kind_names)})["']"""
        made = rf"\b_{rule}\(" if language == "python" else rf"\b{camel(rule)}\("
        if not re.search(f"{asked}|{made}", CORES[language]):
            missing.append(rule)
    assert not missing


@pytest.mark.parametrize("language", CORES)
def test_every_effect_and_field_type_exists_in_both_languages(language: str) -> None:
    text = CORES[language]
    used = {effect[0] for kind in KINDS.values() for effect in kind.effects}
    assert used <= set(EFFECTS)
    assert [e for e in sorted(used) if not re.search(rf"""["']{e}["']""", text)] == []
    if language == "typescript":
        assert [t for t in TYPES if not re.search(rf"""["']{t}["']""", text)] == []


def test_every_core_module_has_a_twin() -> None:
    twins = {"index": "lines", "catalogue/check": "check"}
    for name in "ids order line index places life fold reference rules catalogue/check".split():
        twin = CLIENT / f"{twins.get(name, name)}.ts"
        assert twin.is_file()
        assert f"{name}.py" in twin.read_text(encoding="utf-8"), f"{twin.name} names its twin"


# -- what is generated, and the words --------------------------------------------------------------


def test_the_clients_catalogue_is_up_to_date() -> None:
    there = (CLIENT / "catalogue.json").read_text(encoding="utf-8")
    assert there == papers.catalogue_text(), "run `bagtrail catalogue`"


@kinds
def test_every_kind_field_and_choice_has_its_words(name: str) -> None:
    files = (CLIENT / "i18n").glob("en-GB*.json")
    words = {word for f in files for word in json.loads(f.read_text(encoding="utf-8"))}
    kind, id_ = KINDS[name], name.replace(".", "_")
    wanted = {f"kind.{id_}.title"} | {f"field.{id_}.{f.name}" for f in kind.fields}
    wanted |= {f"choice.{f.name}.{choice}" for f in kind.fields for choice in f.choices}
    assert sorted(wanted - words) == []


def test_label_stock_has_the_words_of_the_advice() -> None:
    """The catalogue is pure and may not import the labels' package: its lists are held here."""
    from bagtrail.catalogue import labels
    from bagtrail_labels import LAYOUTS, advice

    assert labels.METHODS == advice.METHODS
    assert labels.MATERIALS == advice.MATERIALS
    assert tuple(word.removeprefix("advice.test_") for word in advice.SURVIVAL_TEST) == labels.STEPS
    layouts = [f.name for f in KINDS["label.chosen"].fields if f.name.startswith("layout_")]
    assert len(layouts) == len(LAYOUTS) - 1  # command tags are the same for every farm
