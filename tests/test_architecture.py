"""The house keeps its floors: imports point down, the engine does no I/O, public names are real and sorted."""

import ast
import importlib
from pathlib import Path

import pytest

import benchlore

SOURCE = Path(benchlore.__file__).parent
FLOORS = (
    ("units",),
    ("notation",),
    ("book", "shop"),
    ("jobs",),
    ("model",),
    ("procedure",),
    ("proof",),
    ("soak", "money"),
    ("library",),
    ("press",),
    ("web",),
    ("cli",),
)
FLOOR = {package: floor for floor, packages in enumerate(FLOORS) for package in packages}
ENGINE = ("model", "procedure", "proof", "soak", "money")
MODULES = sorted(path for path in SOURCE.rglob("*.py") if path.parent != SOURCE)
PACKAGES = [path for path in MODULES if path.name == "__init__.py"]
WORLD = {
    "os",
    "pathlib",
    "shutil",
    "tempfile",
    "io",
    "socket",
    "subprocess",
    "urllib",
    "http",
    "sqlalchemy",
    "sqlite3",
}
WORLDLY_CALLS = {"open", "print", "input"}


def package_of(path: Path) -> str:
    return path.relative_to(SOURCE).parts[0]


def dotted(path: Path) -> str:
    return ".".join(("benchlore", *path.relative_to(SOURCE).with_suffix("").parts)).removesuffix(".__init__")


def imports(tree: ast.AST) -> list[tuple[int, str]]:
    """Every imported module of a tree with its line, wherever the import stands; relative ones as they are."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = "." * node.level + (node.module or "")
            found += [
                (node.lineno, f"{base}.{alias.name}" if base == "benchlore" else base) for alias in node.names
            ]
    return found


def wrong_ways(package: str, source: str) -> list[str]:
    """Imports of ``source``, which lies in ``package``, that do not point down."""
    wrong = []
    for line, name in imports(ast.parse(source)):
        parts = name.split(".")
        if name.startswith("."):
            wrong.append(f"line {line}: relative import {name}")
        elif parts[0] == "benchlore" and len(parts) > 1 and parts[1] != package:
            if parts[1] == "__version__":
                continue
            if FLOOR.get(parts[1], len(FLOORS)) >= FLOOR[package]:
                wrong.append(f"line {line}: {package} imports {parts[1]}")
    return wrong


def worldly(source: str) -> list[str]:
    """What of ``source`` reaches for files, databases, the network or the screen."""
    tree = ast.parse(source)
    found = [f"line {line}: imports {name}" for line, name in imports(tree) if name.split(".")[0] in WORLD]
    found += [
        f"line {node.lineno}: calls {node.func.id}()"
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in WORLDLY_CALLS
    ]
    return found


def test_every_package_has_its_floor():
    packages = {package_of(path) for path in MODULES}
    assert packages <= FLOOR.keys(), f"not in the order of packages: {packages - FLOOR.keys()}"


@pytest.mark.parametrize("path", MODULES, ids=dotted)
def test_imports_point_down(path):
    assert wrong_ways(package_of(path), path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", [path for path in MODULES if package_of(path) in ENGINE], ids=dotted)
def test_the_engine_does_no_io(path):
    assert worldly(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", PACKAGES, ids=dotted)
def test_public_names_are_sorted_real_and_introduced(path):
    module = importlib.import_module(dotted(path))
    assert module.__doc__, f"{module.__name__} does not say what lives here"
    names = list(getattr(module, "__all__", []))
    missing = [name for name in names if not hasattr(module, name)]
    assert missing == []
    assert len(set(names)) == len(names)
    assert names == by_kind(names)


def by_kind(names: list[str]) -> list[str]:
    """Sort as the linter does: constants, then classes, then everything else."""
    return sorted(names, key=lambda name: (0 if name.isupper() else 1 if name[:1].isupper() else 2, name))


@pytest.mark.parametrize(
    ("package", "source", "wrong"),
    [
        ("units", "from benchlore.book import Book", ["line 1: units imports book"]),
        ("shop", "import benchlore.book.values", ["line 1: shop imports book"]),
        ("book", "def f():\n    from benchlore import jobs", ["line 2: book imports jobs"]),
        ("jobs", "from ..book import Book", ["line 1: relative import ..book"]),
        ("model", "from benchlore.nowhere import x", ["line 1: model imports nowhere"]),
        (
            "cli",
            "from benchlore import __version__\nfrom benchlore.library import Library\nimport benchlore",
            [],
        ),
        ("book", "from benchlore.book.values import Book\nfrom benchlore.units import OL", []),
    ],
)
def test_a_wrong_way_is_noticed(package, source, wrong):
    assert wrong_ways(package, source) == wrong


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("import os", ["line 1: imports os"]),
        ("from pathlib import Path", ["line 1: imports pathlib"]),
        ("def f():\n    import sqlalchemy.orm", ["line 2: imports sqlalchemy.orm"]),
        ("x = open('a')", ["line 1: calls open()"]),
        ("gate.open()\nimport numpy as np", []),
    ],
)
def test_io_in_the_engine_is_noticed(source, found):
    assert worldly(source) == found
