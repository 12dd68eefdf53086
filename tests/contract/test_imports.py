"""Imports run one way (design, section 2): core, rules, stores, use cases, thin outsides."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

SERVER = Path(__file__).parents[2] / "server"
LABELS = Path(__file__).parents[2] / "labels"

# Lowest first. A package stands for all its modules.
LAYERS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("base", ("catalogue", "ids", "order", "units", "errors", "version")),
    ("fold", ("rules", "line", "index", "places", "life", "reference", "fold", "findrow", "scope",
              "trade")),
    ("stores", ("schemas", "store", "migrations", "settings", "keys", "receipts",
                "sidefile")),
    ("use cases", ("sync", "foreign", "intake", "live", "news", "devices", "pins", "passes",
                   "epochs", "durable", "limits", "backup", "restore", "recovery",
                   "sheet", "disks", "schedule", "network", "answers", "printing", "prints",
                   "demo", "demo_loads", "jpeg", "pieces", "photos", "loadlogs", "scale")),
    ("outsides", ("views", "cli", "care", "backup_now", "lan_cli", "labels_cli", "workers",
                  "serving", "papers")),
    ("app", ("", "__main__")),
)  # fmt: skip
CORE = {name for _, names in LAYERS[:2] for name in names}
# What a pure module may use: nothing that knows the clock, the disk, the network or a database.
HARMLESS = {"__future__", "ast", "bisect", "codecs", "collections", "csv", "dataclasses", "enum",
            "fractions", "functools", "io", "itertools", "json", "math", "operator", "re",
            "statistics", "string", "typing", "unicodedata",
            "stdnum", "numpy", "scipy", "statsmodels"}  # fmt: skip
PEEWEE = ("store", "migrations")
HTTP = ("flask", "flask_smorest", "werkzeug", "granian", "whitenoise")
# The command line starts the server and opens the log; both are made in the package itself. A
# command writes the papers, which list the commands.
UPWARD = {
    ("cli", ""),
    ("care", ""),
    ("lan_cli", ""),
    ("labels_cli", ""),
    ("serving", ""),
    ("papers", "cli"),
}


def modules() -> dict[str, Path]:
    """Return all modules of the server by their name below bagtrail ("" is the package)."""
    found = {}
    for path in sorted((SERVER / "bagtrail").rglob("*.py")):
        parts = path.relative_to(SERVER / "bagtrail").with_suffix("").parts
        found[".".join(p for p in parts if p != "__init__")] = path
    return found


MODULES = modules()


def layer_of(module: str) -> int:
    for i, (_, names) in enumerate(LAYERS):
        if module in names or module.split(".")[0] in names:
            return i
    raise AssertionError(f"server/bagtrail/{module}: give it a layer in {__file__}")


def imports(module: str, path: Path) -> Iterator[tuple[str, bool]]:
    """Yield (name, own) for each import, also those inside functions; own ones below bagtrail."""
    package = module.split(".") if path.name == "__init__.py" and module else module.split(".")[:-1]
    tree = ast.parse(path.read_text(encoding="utf-8"))
    typing_only = {
        id(node)
        for branch in ast.walk(tree)
        if isinstance(branch, ast.If) and ast.unparse(branch.test) == "TYPE_CHECKING"
        for node in ast.walk(branch)
    }
    for node in ast.walk(tree):
        if id(node) in typing_only:
            continue
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, False
        elif isinstance(node, ast.ImportFrom):
            if not node.level:
                yield node.module or "", False
                continue
            base = package[: len(package) - node.level + 1]
            base += node.module.split(".") if node.module else []
            for alias in node.names:
                deep = ".".join([*base, alias.name])
                yield (deep if deep in MODULES else ".".join(base)), True


@pytest.mark.parametrize("module", MODULES)
def test_imports_run_one_way(module: str) -> None:
    here = layer_of(module)
    upward = [
        name
        for name, own in imports(module, MODULES[module])
        if own and layer_of(name) > here and (module.split(".")[0], name) not in UPWARD
    ]
    assert not upward


def test_no_module_imports_itself_by_a_detour() -> None:
    graph = {
        module: {name for name, own in imports(module, path) if own and name != module}
        for module, path in MODULES.items()
    }
    for above, below in UPWARD:
        graph.get(above, set()).discard(below)
    # A package and its own modules are one thing: the package gathers what they define.
    packages = {m.split(".")[0] for m in MODULES if "." in m}
    merged: dict[str, set[str]] = {}
    for module, names in graph.items():
        own = module.split(".")[0]
        merged.setdefault(own, set()).update(
            n.split(".")[0] for n in names if n.split(".")[0] != own or own not in packages
        )
    while merged:
        free = [m for m, names in merged.items() if not names & set(merged)]
        assert free, f"a ring of imports among {sorted(merged)}"
        for module in free:
            del merged[module]


@pytest.mark.parametrize("module", [m for m in MODULES if m.split(".")[0] in CORE])
def test_the_core_is_pure(module: str) -> None:
    # New codes are drawn; a package knows its version from how it was installed.
    allowed = HARMLESS | {"ids": {"secrets"}, "version": {"importlib"}}.get(module, set())
    foreign = {n.split(".")[0] for n, own in imports(module, MODULES[module]) if not own}
    assert foreign <= allowed
    calls = [n.func for n in ast.walk(ast.parse(MODULES[module].read_text(encoding="utf-8")))
             if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)]  # fmt: skip
    assert not {c.id for c in calls} & {"open", "print", "input", "exec", "eval"}


@pytest.mark.parametrize("module", MODULES)
def test_each_library_has_its_place(module: str) -> None:
    foreign = {n.split(".")[0] for n, own in imports(module, MODULES[module]) if not own}
    if module.split(".")[0] not in PEEWEE:
        assert not foreign & {"peewee", "playhouse", "sqlite3"}
    if LAYERS[layer_of(module)][0] not in ("outsides", "app"):
        assert not foreign & set(HTTP)


def test_labels_know_nothing_of_the_server() -> None:
    for path in sorted((LABELS / "bagtrail_labels").rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        names = {a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
        froms = [n for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and not n.level]
        names |= {n.module or "" for n in froms}
        assert not {n for n in names if n.split(".")[0] == "bagtrail"}, path.name
