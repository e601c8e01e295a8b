"""The rooms import one way, and nothing heavy comes along with the window."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "herdbook"
SOURCES = sorted(PACKAGE.rglob("*.py"))
FIRST = ("__init__", "__main__", "_setup", "_machine", "_places", "words")
HEAVY = {
    *("alembic", "highspy", "icalendar", "numba", "numpy"),
    *("python_calamine", "reportlab", "scipy", "xlsxwriter"),
}
AT_THE_TOP = {
    "husbandry/averageparents.py": {"numpy"},
    "husbandry/byhand.py": {"numpy"},
    "husbandry/calvingforecast.py": {"numpy"},
    "husbandry/completeness.py": {"numpy"},
    "husbandry/conceiving.py": {"numpy"},
    "husbandry/doubt.py": {"numpy"},
    "husbandry/carriers.py": {"numpy"},
    "husbandry/elimination.py": {"numpy"},
    "husbandry/herdahead.py": {"numpy"},
    "husbandry/inheritance.py": {"numpy"},
    "husbandry/kinship.py": {"numpy"},
    "husbandry/placing.py": {"numpy"},
    "husbandry/choosing.py": {"numpy"},
    "husbandry/clashes.py": {"numpy"},
    "husbandry/exchange_rounds.py": {"numpy"},
    "husbandry/sort_reasons.py": {"numpy"},
    "husbandry/sort_task.py": {"numpy"},
    "husbandry/sorting.py": {"numpy"},
    "husbandry/transport.py": {"numpy"},
    "husbandry/worstcase.py": {"numpy"},
    "papers": {"reportlab"},
    "exchange": {"python_calamine", "xlsxwriter"},
    "store/migrations": {"alembic"},
}
"""Heavy libraries that a file or room may import at its top: it is imported late itself."""


def imported(tree: ast.AST) -> set[str]:
    """Return the outermost names of everything that `tree` imports."""
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and not node.level and node.module:
            names.add(node.module.split(".")[0])
    return names


def imported_at_the_top(tree: ast.Module) -> set[str]:
    """Return what importing the module imports: not what stands in functions or behind TYPE_CHECKING."""
    names: set[str] = set()
    todo: list[ast.stmt] = list(tree.body)
    while todo:
        node = todo.pop()
        if isinstance(node, ast.Import | ast.ImportFrom):
            names |= imported(node)
        elif isinstance(node, ast.If | ast.Try | ast.With | ast.ClassDef):
            if not (isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)):
                todo += node.body
            todo += getattr(node, "orelse", [])
    return names


def test_contracts() -> None:
    """The contracts of pyproject.toml hold."""
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("name", FIRST)
def test_first_modules_need_nothing_installed(name: str) -> None:
    """What runs before anything is installed imports the standard library and its own kind."""
    tree = ast.parse((PACKAGE / f"{name}.py").read_text(encoding="utf-8"))
    own = {"herdbook"}
    assert imported(tree) - set(sys.stdlib_module_names) <= own
    rooms = {
        node.module
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("herdbook.")
    }
    late = {"herdbook.app.main"} if name == "__main__" else set()
    assert rooms <= {f"herdbook.{first}" for first in FIRST} | late


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_heavy_libraries_are_imported_late(path: Path) -> None:
    """A heavy library is imported in the function that needs it."""
    place = path.relative_to(PACKAGE).as_posix()
    allowed = {
        name
        for start, names in AT_THE_TOP.items()
        if place == start or place.startswith(start + "/")
        for name in names
    }
    top = imported_at_the_top(ast.parse(path.read_text(encoding="utf-8")))
    assert not (top & HEAVY) - allowed


@pytest.mark.parametrize("module", ["herdbook.app.main", "herdbook.ui.window", "herdbook.services.book"])
def test_start_loads_nothing_heavy(module: str) -> None:
    """Importing what the first window needs loads no calculation, report or migration library."""
    code = f"import sys, {module}; print(*sorted({HEAVY!r} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == []


def test_every_module_can_be_the_first() -> None:
    """Whatever is imported first, no circle of imports is in its way: a shell command starts anywhere."""
    names = [
        ".".join(("herdbook", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__")
        for path in SOURCES
        if path.relative_to(PACKAGE).parts[0] in {"husbandry", "store", "services", "exchange"}
        and "migrations" not in path.parts
    ]
    code = (
        "import importlib, sys\n"
        f"for name in {names!r}:\n"
        "    for old in [m for m in sys.modules if m.split('.')[0] == 'herdbook']:\n"
        "        del sys.modules[old]\n"
        "    try:\n"
        "        importlib.import_module(name)\n"
        "    except ImportError as error:\n"
        "        print(name, error)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout == ""


def test_husbandry_has_no_clock() -> None:
    """The day is a parameter: no function of husbandry asks what day it is."""
    for path in (PACKAGE / "husbandry").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            asks = isinstance(node, ast.Attribute) and node.attr in {"today", "now", "utcnow"}
            assert not asks, f"{path.name} asks the clock"
