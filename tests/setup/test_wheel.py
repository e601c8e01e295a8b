"""The wheel that pip and pipx install: the command, and the files that travel with it."""

from __future__ import annotations

import configparser
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from herdbook import _places

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel with the build tool that is installed here."""
    folder = tmp_path_factory.mktemp("wheel")
    code = f"from hatchling.build import build_wheel; print(build_wheel({str(folder)!r}))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return folder / done.stdout.split()[-1]


def test_files_travel(wheel: Path) -> None:
    """Every file of resources/ and demo_db/ is in the wheel, and the command herdbook with it."""
    with zipfile.ZipFile(wheel) as archive:
        inside = set(archive.namelist())
        entry = next(name for name in inside if name.endswith("entry_points.txt"))
        commands = configparser.ConfigParser()
        commands.read_string(archive.read(entry).decode())
    assert commands["console_scripts"]["herdbook"] == "herdbook.app.main:main"
    for outside, within in (("resources", "_resources"), ("demo_db", "_demo_db")):
        kept = [
            path for path in (ROOT / outside).rglob("*") if path.is_file() and "__pycache__" not in path.parts
        ]
        assert kept
        for path in kept:
            assert f"herdbook/{within}/{path.relative_to(ROOT / outside).as_posix()}" in inside


def test_places_of_an_installed_copy(wheel: Path, tmp_path: Path) -> None:
    """An installed copy finds them inside itself; a checkout finds its own folders first."""
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path / "site")
    code = (
        "from herdbook._places import demo_dir, resource; "
        "print(resource('README.md')); print(demo_dir()); assert demo_dir().is_dir()"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(tmp_path / "site")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    package = tmp_path / "site" / "herdbook"
    assert done.stdout.split("\n")[:2] == [
        str(package / "_resources" / "README.md"),
        str(package / "_demo_db"),
    ]
    assert _places.resource("README.md") == ROOT / "resources" / "README.md"
    assert _places.demo_dir() == ROOT / "demo_db"
