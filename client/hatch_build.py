"""Build hook: the wheel carries the built client as bagtrail/static, the sdist as client/dist."""

from __future__ import annotations

import importlib.util
import os
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


def _client_build(root: str) -> ModuleType:
    """client/build.py as a module: a hook file is loaded by path and has no package beside it."""
    path = Path(root) / "client" / "build.py"
    spec = importlib.util.spec_from_file_location("bagtrail_client_build", path)
    if spec is None or spec.loader is None:
        raise ImportError(f"{path} cannot be loaded")
    module = importlib.util.module_from_spec(spec)
    # Dataclasses look up the module that they stand in.
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


class CustomBuildHook(BuildHookInterface):  # type: ignore[type-arg]
    """Does nothing for an editable install: there server/run builds, and dist is found in place."""

    @property
    def _dist(self) -> Path:
        return Path(self.root) / "client" / "dist"

    def _built_elsewhere(self) -> bool:
        """An unpacked sdist holds the built client and no node_modules: it is taken as it is."""
        return (Path(self.root) / "PKG-INFO").exists() and (self._dist / "index.html").exists()

    def dependencies(self) -> list[str]:
        """Node from PyPI, and only when the build needs one that the machine has not.

        Hatchling asks this for an editable install too, without saying so: server/run, which
        builds the client by itself, says so through BAGTRAIL_NO_CLIENT.
        """
        build = _client_build(self.root)
        needless = os.environ.get("BAGTRAIL_NO_CLIENT") == "1" or self._built_elsewhere()
        if needless or build.system_node() is not None:
            return []
        return [build.NODE_WHEEL]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        if version == "editable":
            return
        if not self._built_elsewhere():
            _client_build(self.root).ensure_dist(install_node=False)
        if self.target_name == "wheel":
            build_data["force_include"][str(self._dist)] = "bagtrail/static"
        else:
            build_data["artifacts"].append("/client/dist")
