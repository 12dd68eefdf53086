"""Figures of the shell: what a phone fetches before the scan screen stands, and all it keeps."""

from __future__ import annotations

import gzip
import os
import re
from pathlib import Path

import brotli
import pytest

from . import figures

pytestmark = pytest.mark.bench

ROOT = Path(__file__).resolve().parents[2]
#: The issue's aim for what is fetched before the scan screen stands, gzip, without the decoder.
MOST_FIRST = 60_000

#: The reader of codes and its glue: fetched by the camera.
DECODER = re.compile(r"^assets/(engine|decoder\.worker|zxing_reader)-")
#: Files that no start needs: for the browser's own use, or read by people.
ASIDE = re.compile(r"^(sw\.js|licences\.txt|manifest\.webmanifest|icons/)")
#: What a chunk cannot run without, as the bundler writes it.
STATIC = re.compile(r"""(?:^|[;}\n])import(?:[^;'"`()]*?from)?["'`]\./([^"'`]+)["'`]""")


def dist() -> Path:
    """Return the built client; BAGTRAIL_STATIC names another one."""
    return Path(os.environ.get("BAGTRAIL_STATIC") or ROOT / "client" / "dist")


def sizes(path: Path) -> tuple[int, int, int]:
    """Return a file's bytes as sent plain, by gzip and by brotli (plain if it does not shrink)."""
    data = path.read_bytes()
    return (
        len(data),
        min(len(data), len(gzip.compress(data, 9))),
        min(len(data), len(brotli.compress(data, quality=11))),
    )


def first_files(folder: Path) -> list[str]:
    """Return what the page asks for before it can draw: itself, its style, script and imports."""
    html = (folder / "index.html").read_text(encoding="utf-8")
    named = re.findall(r'(?:src|href)="/(assets/[^"]+)"', html)
    assert any(name.endswith(".js") for name in named), html
    found = ["index.html"]
    while named:
        name = named.pop(0)
        if name in found:
            continue
        found.append(name)
        if name.endswith(".js"):
            text = (folder / name).read_text(encoding="utf-8")
            named += [f"assets/{chunk}" for chunk in STATIC.findall(text)]
    return found


def test_what_is_fetched_before_the_scan_screen() -> None:
    """Aim: under 60 kB gzip without the decoder; the rest comes after the first paint."""
    folder = dist()
    first = first_files(folder)
    assert not [name for name in first if DECODER.match(name)]
    every = sorted(
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*")
        if path.is_file() and path.suffix not in (".br", ".gz")
    )
    measured = {name: sizes(folder / name) for name in every}
    print(f"\n{figures.machine()}")
    print(f"{'file':44} {'plain':>9} {'gzip':>9} {'brotli':>9}")
    for name in sorted(every, key=lambda n: (n not in first, -measured[n][1])):
        mark = "first" if name in first else "decoder" if DECODER.match(name) else ""
        print(f"{name:44} " + " ".join(f"{n:9,}" for n in measured[name]) + f" {mark}")
    for what, names in (
        ("first", first),
        ("all but the decoder", [n for n in every if not DECODER.match(n) and not ASIDE.match(n)]),
        ("the decoder", [n for n in every if DECODER.match(n)]),
    ):
        total = [sum(measured[name][i] for name in names) for i in range(3)]
        print(f"{what:44} " + " ".join(f"{n:9,}" for n in total))
    assert sum(measured[name][1] for name in first) < MOST_FIRST
