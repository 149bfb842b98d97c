"""One name for everything in this package that decides a number, so that no run is falsely reused.

Sources count as what they do: comments, docstrings and layout do not change the name; a changed
statement, constant or table does.
"""

from __future__ import annotations

import ast
import functools
import hashlib
import platform
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

PACKAGE = Path(__file__).parents[1]
LAYERS = ("foot", "device", "load", "material", "mechanics", "outcome")
"""Folders that decide numbers, with their tables."""
MODULES = tuple(f"study/{name}.py" for name in (
    "model", "model3d", "solve", "growth", "question", "compare", "run"))
TABLES = (".toml", ".json", ".csv")
LIBRARIES = ("numpy", "scipy", "scikit-fem", "gmsh", "contourpy", "pypardiso", "mkl")
"""Libraries whose version may move a digit."""


def counted_files() -> Iterator[Path]:
    """Yield every file of the package that decides numbers, in a fixed order."""
    for layer in LAYERS:
        yield from sorted(p for p in (PACKAGE / layer).rglob("*")
                          if p.suffix == ".py" or p.suffix in TABLES)
    yield from (PACKAGE / name for name in MODULES)


@functools.cache
def physics_version() -> str:
    """Return the name of the sources and tables that decide numbers: 16 hexadecimal digits."""
    total = hashlib.sha256()
    for path in counted_files():
        total.update(path.relative_to(PACKAGE).as_posix().encode() + b"\0")
        total.update(_content(path) + b"\0")
    return total.hexdigest()[:16]


def _content(path: Path) -> bytes:
    data = path.read_bytes()
    if path.suffix != ".py":
        return data.replace(b"\r\n", b"\n")
    return _statements(data.decode("utf-8")).encode()


def _statements(source: str) -> str:
    """Return what a module does, without docstrings (also those under a constant), comments, layout."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef):
            node.body = [part for part in node.body if not (
                isinstance(part, ast.Expr) and isinstance(part.value, ast.Constant)
                and isinstance(part.value.value, str))]
    return ast.dump(tree)


@functools.cache
def libraries() -> dict[str, str]:
    """Return the versions of Python, machine and libraries that may move a digit."""
    found = {"python": ".".join(platform.python_version_tuple()[:2]), "machine": platform.machine()}
    for name in LIBRARIES:
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            found[name] = "none"
    return found
