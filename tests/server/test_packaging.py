"""What a wheel and an sdist carry, and what the client's build takes for changed."""

from __future__ import annotations

import importlib.util
import json
import re
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]
VERSION = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"]


def load(path: Path) -> ModuleType:
    """A module outside the package, by its file."""
    spec = importlib.util.spec_from_file_location(f"under_test_{path.stem}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def packages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("packages")
    command = [sys.executable, "-m", "hatchling", "build", "-d", str(folder)]
    done = subprocess.run(
        command, cwd=ROOT, check=False, capture_output=True, text=True, timeout=240
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


@pytest.fixture(scope="module")
def wheel(packages: Path) -> Iterator[zipfile.ZipFile]:
    with zipfile.ZipFile(packages / f"bagtrail-{VERSION}-py3-none-any.whl") as archive:
        yield archive


def test_wheel_holds_a_client_that_starts_offline(wheel: zipfile.ZipFile) -> None:
    names = set(wheel.namelist())
    worker = wheel.read("bagtrail/static/sw.js").decode()
    # One text split at commas, or texts of their own: the minifier's choice.
    shell = set(re.findall(r"(?<=[`\"',])(/[^`\"'\s,]*\.[a-z0-9]+)(?=[`\"',])", worker))
    # Every file that the service worker fetches at its installation is there to be fetched ...
    missing = {path for path in shell if f"bagtrail/static{path}" not in names}
    assert not missing
    # ... and every hashed file that the page may ask for is among them.
    assets = {
        name.removeprefix("bagtrail/static")
        for name in names
        if name.startswith("bagtrail/static/assets/") and not name.endswith((".br", ".gz", ".map"))
    }
    assert any(name.endswith(".wasm") for name in assets)
    assert assets <= shell


def test_wheel_names_the_licences_of_what_it_bundles(wheel: zipfile.ZipFile) -> None:
    text = wheel.read("bagtrail/static/licences.txt").decode()
    for package in json.loads((ROOT / "client" / "package.json").read_text())["dependencies"]:
        assert re.search(rf"^{re.escape(package)} \d", text, re.MULTILINE), package
    assert "zxing-cpp" in text
    assert "Apache License" in text


def test_wheel_asks_no_other_host_for_the_decoder(wheel: zipfile.ZipFile) -> None:
    page = wheel.read("bagtrail/static/index.html").decode()
    assert not re.search(r"(src|href)=\"(https?:)?//", page)


def test_sdist_holds_the_built_client_and_no_foreign_code(packages: Path) -> None:
    with tarfile.open(packages / f"bagtrail-{VERSION}.tar.gz") as archive:
        names = archive.getnames()
    assert f"bagtrail-{VERSION}/client/dist/index.html" in names
    assert not [name for name in names if "node_modules" in name]


def test_lock_names_no_registry() -> None:
    lock = json.loads((ROOT / "client" / "package-lock.json").read_text())
    packages = {name: entry for name, entry in lock["packages"].items() if name}
    assert packages
    assert not [name for name, entry in packages.items() if "resolved" in entry]
    assert not [name for name, entry in packages.items() if "integrity" not in entry]


@pytest.mark.parametrize(
    ("version", "fits"),
    [
        ("v20.18.3", False),
        ("v20.19.0", True),
        ("v21.7.3", False),
        ("v22.11.0", False),
        ("v22.12.0", True),
        ("v23.0.0", True),
        ("v24.19.0", True),
        ("", False),
        ("v18.20.4", False),
    ],
)
def test_node_versions_that_the_build_runs_on(version: str, fits: bool) -> None:
    assert load(ROOT / "client" / "build.py").fits(version) is fits


def test_build_is_stale_after_any_change_of_a_source(tmp_path: Path) -> None:
    build = load(ROOT / "client" / "build.py")
    source = tmp_path / "a.ts"
    source.write_text("1")
    build.CLIENT = tmp_path
    stamp = build.Stamp(tmp_path / "stamp", iter([source]))
    assert not stamp.fresh()
    stamp.write()
    assert build.Stamp(tmp_path / "stamp", iter([source])).fresh()
    source.write_text("2")
    assert not build.Stamp(tmp_path / "stamp", iter([source])).fresh()
    source.rename(tmp_path / "b.ts")
    assert not build.Stamp(tmp_path / "stamp", iter([tmp_path / "b.ts"])).fresh()


def report(*cases: str) -> str:
    return f"<testsuites><testsuite>{''.join(cases)}</testsuite></testsuites>"


PASS, FAIL = "<testcase/>", "<testcase><failure/></testcase>"
ERROR, SKIP = "<testcase><error/></testcase>", "<testcase><skipped/></testcase>"


@pytest.mark.parametrize(
    ("code", "text", "last_line", "exit_code"),
    [
        (0, report(PASS, PASS, SKIP), "2 passed, 0 failed, 1 skipped", 0),
        (1, report(PASS, FAIL, ERROR), "1 passed, 2 failed, 0 skipped", 1),
        # Ended badly though every test passed: a crash after the last one.
        (3, report(PASS), "1 passed, 1 failed, 0 skipped", 1),
        (124, None, "0 passed, 1 failed, 0 skipped", 1),
        (0, None, "1 passed, 0 failed, 0 skipped", 0),
        (0, "<testsuites><testsui", "0 passed, 1 failed, 0 skipped", 1),
        (5, None, "0 passed, 1 failed, 0 skipped", 1),
    ],
)
def test_closing_line_of_a_run(
    tmp_path: Path, code: int, text: str | None, last_line: str, exit_code: int
) -> None:
    (tmp_path / "parts.tsv").write_text(f"server\t{code}\t1\n")
    if text is not None:
        (tmp_path / "server.xml").write_text(text)
    command = [sys.executable, str(ROOT / "tests" / "tally.py"), str(tmp_path), "fail"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.stdout.splitlines()[-1] == last_line
    assert done.returncode == exit_code


@pytest.mark.parametrize(
    ("script", "words"),
    [("server/run", ["--prot", "1"]), ("server/run", ["--port"]), ("tests/run", ["servr"])],
)
def test_wrong_words_are_told_before_anything_is_set_up(
    tmp_path: Path, script: str, words: list[str]
) -> None:
    for folder in ("server", "tests"):
        (tmp_path / folder).mkdir()
    for name in ("server/run", "server/setup.sh", "tests/run"):
        shutil.copy(ROOT / name, tmp_path / name)
    command = ["bash", str(tmp_path / script), *words]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert words[0] in done.stderr
    assert not (tmp_path / ".venv").exists()
