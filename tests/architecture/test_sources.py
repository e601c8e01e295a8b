"""The sources: short files, translatable sentences, nothing of one machine."""

from __future__ import annotations

import ast
import re
import string
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCES = sorted((ROOT / "herdbook").rglob("*.py"))
LONGEST = 500
CARRIED = {"template", "label", "hint"}
TEXT = {".cfg", ".csv", ".in", ".json", ".mako", ".md", ".po", ".py", ".toml", ".txt", ".yaml", ".yml", ""}
MACHINE = re.compile(r"(?<![\w.])/(?:work|tmp|home|root|Users)/\w|pkg\.dev\b|\bartifactory\b", re.IGNORECASE)
MAKING = re.compile(
    r"\btran(?:script)s?\b|\bseed (?:doc)|\bsub-?(?:agent)|\bas an (?:AI)\b|\bthis (?:session)\b"
    r"|\blanguage (?:model)|\bissue #?\d",
    re.IGNORECASE,
)


def texts() -> list[Path]:
    """Return every text file of the project that is not made by a tool."""
    folders = [ROOT / name for name in ("herdbook", "tests", "resources", "demo_db", ".ci")]
    inside = [path for folder in folders for path in folder.rglob("*") if "__pycache__" not in path.parts]
    files = [path for path in [*ROOT.iterdir(), *inside] if path.is_file() and path.suffix in TEXT]
    return [path for path in files if path.name not in {".git", ".venv.lock"}]


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_length(path: Path) -> None:
    """A file that grows past 500 lines holds two things."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST


def test_nothing_of_one_machine_or_of_the_making() -> None:
    """No file names a folder of somebody's machine, or tells how the project was made."""
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:100]}"
        for path in texts()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if MACHINE.search(line) or MAKING.search(line)
    ]
    assert found == []


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_sentences_can_be_translated(path: Path) -> None:
    """Every sentence given to say() is a literal, and gets exactly the values that it names.

    A sentence that was written as a literal elsewhere (a reason's template, what a command asks) and is
    carried here under one of the `CARRIED` names passes too.
    """
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "say"):
            continue
        where = f"line {node.lineno}"
        assert len(node.args) == 1, where
        sentence = node.args[0]
        carried = getattr(sentence, "attr", getattr(sentence, "id", None))
        if carried in CARRIED:
            continue
        assert isinstance(sentence, ast.Constant), where
        assert isinstance(sentence.value, str), where
        given = {keyword.arg for keyword in node.keywords}
        if None in given:
            continue
        named = {
            re.split(r"[.\[]", name)[0] for _, name, _, _ in string.Formatter().parse(sentence.value) if name
        }
        assert named == given or (not given and not named), where


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_carried_sentences_are_literals(path: Path) -> None:
    """What a command asks is written as a literal."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "asks":
            given = [*node.args[:1], *(word.value for word in node.keywords if word.arg in CARRIED)]
            assert all(isinstance(each, ast.Constant) for each in given), f"line {node.lineno}"


def test_every_package_says_what_it_is() -> None:
    """A package's first line tells what stands in it."""
    rooms = [path for path in SOURCES if path.name == "__init__.py" and "versions" not in path.parts]
    silent = [path for path in rooms if not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))]
    assert silent == []
