"""What the project says it depends on is what it imports, what it pins, and what these tests ran with."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, distribution, packages_distributions, version
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
APART = ROOT / "tests" / "oracle"
"""Runs in an environment of its own, with what its own list of releases names."""
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
RUNTIME = [Requirement(line) for line in PROJECT["dependencies"]]
EXTRAS = [Requirement(line) for lines in PROJECT["optional-dependencies"].values() for line in lines]
LARGE = [Requirement(line) for line in PROJECT["optional-dependencies"]["large"]]


def plain(name: str) -> str:
    """Return a distribution's name as indexes compare it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def pins() -> dict[str, str]:
    """Return the releases of constraints.txt."""
    lines = (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
    rows = [Requirement(line) for line in lines if line.strip() and not line.startswith("#")]
    return {plain(row.name): str(row.specifier).removeprefix("==") for row in rows}


def closure(wanted: list[Requirement]) -> Iterator[Requirement]:
    """Yield everything that `wanted` brings along on this machine."""
    todo, seen = list(wanted), set()
    while todo:
        requirement = todo.pop()
        if str(requirement) in seen:
            continue
        seen.add(str(requirement))
        yield requirement
        for line in distribution(requirement.name).requires or []:
            inner = Requirement(line)
            if inner.marker is None or any(
                inner.marker.evaluate({"extra": extra}) for extra in {"", *requirement.extras}
            ):
                todo.append(inner)


def test_every_release_is_pinned_and_allowed() -> None:
    """Whatever is installed along is pinned, within the bounds that ask for it."""
    pinned = pins()
    for requirement in closure([*RUNTIME, *EXTRAS]):
        name = plain(requirement.name)
        assert name in pinned, f"{name} is not in constraints.txt"
        assert requirement.specifier.contains(pinned[name]), f"{requirement} against {pinned[name]}"


def test_pins_are_what_these_tests_run_with() -> None:
    """The pinned releases are the tested ones."""
    here = {}
    for name in pins():
        try:
            here[name] = version(name)
        except PackageNotFoundError:
            here[name] = "not installed"
    assert here == pins()


def imported(folder: str) -> Iterator[tuple[Path, str]]:
    """Yield each file of a folder with the name of each package that it imports, besides Python's own."""
    for path in (ROOT / folder).rglob("*.py"):
        if path.is_relative_to(APART):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and not node.level:
                names = [node.module or ""]
            for name in {full.split(".")[0] for full in names} - set(sys.stdlib_module_names):
                yield path, name


def test_every_import_is_declared() -> None:
    """The program imports what it declares, its extra for large herds too; the tests may use all extras."""
    owners = packages_distributions()
    for folder, allowed in (("herdbook", [*RUNTIME, *LARGE]), ("tests", [*RUNTIME, *EXTRAS])):
        declared = {plain(requirement.name) for requirement in allowed} | {"shiboken6", "herdbook", "tests"}
        for path, name in imported(folder):
            owner = {plain(each) for each in owners.get(name, [name])}
            assert owner & declared, f"{path.relative_to(ROOT)} imports {name}"


def test_every_need_is_imported() -> None:
    """The program asks for nothing that it does not use."""
    owners = packages_distributions()
    used = {plain(owner) for _, name in imported("herdbook") for owner in owners.get(name, ())}
    assert {plain(requirement.name) for requirement in RUNTIME} <= used
