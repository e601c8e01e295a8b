"""The set-up on a small checkout of its own, built without a network: made, kept, moved, killed, shared."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from herdbook import _setup

ROOT = Path(__file__).resolve().parents[2]
FIRST = ("__init__", "__main__", "_setup", "_machine", "_places", "words")
PROJECT = """
[build-system]
requires = []
build-backend = "backend"
backend-path = ["."]

[project]
name = "herdbook"
version = "0.1.0"
dependencies = []
{extras}
[tool.ruff]
line-length = 110
"""
EXTRAS = "\n[project.optional-dependencies]\ntest = []\nmore = []\n"
BACKEND = """
import os, time, zipfile

def build_editable(wheel_directory, config_settings=None, metadata_directory=None):
    time.sleep(float(os.environ.get("SLOW_BUILD", "0")))
    name = "herdbook-0.1.0-py3-none-any.whl"
    info = "herdbook-0.1.0.dist-info"
    files = {
        "herdbook_checkout.pth": os.getcwd(),
        f"{info}/METADATA": "Metadata-Version: 2.1\\nName: herdbook\\nVersion: 0.1.0\\n"
        "Provides-Extra: test\\nProvides-Extra: more\\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\\nGenerator: own\\nRoot-Is-Purelib: true\\nTag: py3-none-any\\n",
    }
    files[f"{info}/RECORD"] = "".join(f"{path},,\\n" for path in [*files, f"{info}/RECORD"])
    with zipfile.ZipFile(os.path.join(wheel_directory, name), "w") as wheel:
        for path, text in files.items():
            wheel.writestr(path, text)
    return name
"""
MAIN = """
import json, sys

def main():
    print(json.dumps({"prefix": sys.prefix, "arguments": sys.argv[1:]}))
    return 3
"""
ASKING = "from herdbook._setup import enter\nenter(extras={extras!r})\nprint('in')\n"


def checkout(folder: Path) -> Path:
    """Write a checkout with the real set-up and a program that says where it runs."""
    (folder / "herdbook" / "app").mkdir(parents=True)
    for name in FIRST:
        shutil.copy(ROOT / "herdbook" / f"{name}.py", folder / "herdbook")
    (folder / "herdbook" / "app" / "main.py").write_text(MAIN)
    (folder / "backend.py").write_text(BACKEND)
    (folder / "pyproject.toml").write_text(PROJECT.format(extras=EXTRAS))
    (folder / "constraints.txt").write_text("")
    return folder


def start(folder: Path, *command: str, **environment: str) -> subprocess.Popen[str]:
    """Start a Python outside every environment, as a keeper would, in `folder`."""
    kept = {key: value for key, value in os.environ.items() if key not in ("PYTHONPATH", "VIRTUAL_ENV")}
    return subprocess.Popen(
        [_setup.base_python(), *command],
        cwd=folder,
        env={**kept, "PIP_NO_INDEX": "1", **environment},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def run(folder: Path, *command: str, **environment: str) -> tuple[int, str, str]:
    """Run a Python in `folder` to its end; return exit code, output and what it said aside."""
    started = start(folder, *command, **environment)
    said, aside = started.communicate(timeout=120)
    return started.returncode, said, aside


def until(true: Callable[[], bool], seconds: float = 60) -> None:
    """Wait until something is so."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.02)


def test_made_once_then_at_once(tmp_path: Path) -> None:
    """The first run makes .venv and says so; the next starts in it; arguments and exit code pass through."""
    folder = checkout(tmp_path / "a farm")
    code, said, aside = run(folder, "-m", "herdbook", "due", "my book.herd")
    assert code == 3, aside
    assert json.loads(said) == {"prefix": str(folder / ".venv"), "arguments": ["due", "my book.herd"]}
    assert "making" in aside
    code, said, aside = run(folder, "-m", "herdbook")
    assert (code, json.loads(said)["prefix"], aside) == (3, str(folder / ".venv"), "")

    keepsake = folder / ".venv" / "keepsake"
    keepsake.touch()
    (folder / "pyproject.toml").write_text(PROJECT.format(extras=EXTRAS) + "indent-width = 4\n")
    assert run(folder, "-m", "herdbook")[0] == 3
    assert keepsake.exists(), "a tool's setting is no reason to install anew"
    moved = folder.rename(tmp_path / "another farm")
    assert json.loads(run(moved, "-m", "herdbook")[1])["prefix"] == str(moved / ".venv")
    assert not (moved / ".venv" / "keepsake").exists(), "a moved checkout is installed anew"


def test_extras_are_united(tmp_path: Path) -> None:
    """Asking for other extras adds them and makes nothing anew; a half-made .venv is made anew."""
    folder = checkout(tmp_path / "farm")
    stamp = folder / ".venv" / "ready.json"
    (folder / ".venv" / "left over").mkdir(parents=True)
    for extras in ((), ("test",), ("more",)):
        code, said, aside = run(folder, "-c", ASKING.format(extras=extras))
        assert (code, said) == (0, "in\n"), aside
        assert ("making" in aside) == (extras == ())
    assert json.loads(stamp.read_text())["extras"] == ["more", "test"]
    assert not (folder / ".venv" / "left over").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is for POSIX")
def test_killed_while_installing(tmp_path: Path) -> None:
    """A killed set-up leaves no stamp; the next waits for the pip that outlived it and makes .venv anew."""
    folder = checkout(tmp_path / "farm")
    first = start(folder, "-m", "herdbook", SLOW_BUILD="4")
    until(lambda: (folder / ".venv" / "bin" / "pip").exists())
    time.sleep(1)
    os.kill(first.pid, signal.SIGKILL)
    first.wait()
    assert not (folder / ".venv" / "ready.json").exists()
    code, said, aside = run(folder, "-m", "herdbook")
    first.communicate()
    assert code == 3, aside
    assert json.loads(said)["prefix"] == str(folder / ".venv")
    assert "waiting" in aside
    assert "making" in aside


def test_two_at_once(tmp_path: Path) -> None:
    """Of two set-ups started together one makes the environment, the other waits, and both go on in it."""
    folder = checkout(tmp_path / "farm")
    both = [start(folder, "-m", "herdbook") for _ in range(2)]
    ends = [each.communicate(timeout=120) for each in both]
    assert [each.returncode for each in both] == [3, 3]
    assert sum("making" in aside for _, aside in ends) == 1


def test_failed_install_is_told(tmp_path: Path) -> None:
    """What pip cannot find ends the set-up in words, with exit code 2 and no stamp."""
    folder = checkout(tmp_path / "farm")
    text = PROJECT.format(extras="").replace("requires = []", 'requires = ["no-such-build-tool-of-ours"]')
    (folder / "pyproject.toml").write_text(text)
    code, said, aside = run(folder, "-m", "herdbook")
    assert (code, said) == (2, "")
    assert "Your herd books were not touched" in aside
    assert "Traceback" not in aside
    assert not (folder / ".venv" / "ready.json").exists()


def test_installed_copy_passes_through(tmp_path: Path) -> None:
    """Without a pyproject.toml beside the package nothing is set up."""
    folder = checkout(tmp_path / "site")
    (folder / "pyproject.toml").unlink()
    code, said, aside = run(folder, "-m", "herdbook")
    assert (code, aside) == (3, "")
    assert json.loads(said)["prefix"] != str(folder / ".venv")
    assert not (folder / ".venv").exists()


def test_an_old_python_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A Python that is too old gets a sentence."""
    monkeypatch.setattr(_setup, "OLDEST", (99, 0))
    with pytest.raises(SystemExit) as end:
        _setup.enter(root=tmp_path)
    assert end.value.code == 2
    assert "99.0 or newer" in capsys.readouterr().err


def test_ready_check_is_quick(tmp_path: Path) -> None:
    """Seeing that all is ready takes a small part of a second, with nothing heavier than hashing and JSON."""
    folder = checkout(tmp_path / "farm")
    code = (
        "import sys; from pathlib import Path; from herdbook._setup import Checkout; "
        "Checkout(Path.cwd()).has(()); "
        "print(*sorted({'subprocess', 'shutil', 'typing', 'tomllib'} & set(sys.modules)))"
    )
    assert run(folder, "-I", "-S", "-c", "import sys; sys.path.insert(0, '.'); " + code)[1].split() == []
