"""The set-up: make `.venv` beside the checkout's pyproject.toml, once, and go on inside it.

Only the standard library, and only syntax that older Pythons (3.8 on) can read, so that they are told in
words that they are too old. A stamp, `.venv/ready.json`, is written last, in one step: an environment without
the right stamp is half made or out of date and is made anew. The lock is held by the children too, so that a
pip outliving a killed set-up cannot write into the next environment. Installed copies have no pyproject.toml
beside them and pass straight through.
"""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager
from pathlib import Path

from herdbook._machine import display_problem as display_problem
from herdbook._machine import say_aside
from herdbook.words import say

TYPE_CHECKING = False
if TYPE_CHECKING:  # `typing` itself is slow to import, and this runs at every start
    from collections.abc import Iterator, Sequence
    from typing import IO, Any, NoReturn

OLDEST = (3, 11)
ROOT = Path(__file__).resolve().parent.parent
WINDOWS = sys.platform == "win32"
ARRIVED = "HERDBOOK_SETUP_ARRIVED"
NEEDS = ("build-system]", "project]", "project.", "tool.hatch.")
"""The tables of pyproject.toml that decide what an environment holds; the tools' settings do not."""


class SetupFailed(Exception):
    """The set-up cannot go on; the message says what happened and what to do."""


class Checkout:
    """A folder with pyproject.toml and the environment that belongs to it.

    Parameters
    ----------
    root : Path
        The folder that holds pyproject.toml, constraints.txt and .venv.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self.venv = root / ".venv"
        self.python = self.venv / ("Scripts/python.exe" if WINDOWS else "bin/python")
        self._ready = self.venv / "ready.json"

    def _wanted(self) -> dict[str, Any]:
        """Return what a stamp must say: what is installed, where, and (for this Python) its version."""
        import hashlib

        project = (self.root / "pyproject.toml").read_text(encoding="utf-8")
        needs = [part for part in ("\n" + project).split("\n[") if part.startswith(NEEDS)]
        text = "\n[".join(needs) + (self.root / "constraints.txt").read_text(encoding="utf-8")
        return {"needs": hashlib.sha256(text.encode()).hexdigest(), "path": str(self.root)}

    def _stamp(self) -> dict[str, Any]:
        """Return the stamp, or an empty one where there is none to trust."""
        import json

        try:
            stamp = json.loads(self._ready.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        base = base_python()
        moved_on = stamp.get("base") == base and stamp.get("version") != list(sys.version_info[:2])
        return {} if moved_on or not self.python.exists() else stamp

    def extras(self) -> set[str] | None:
        """Return the extras installed in an environment that is ready, None when it is not ready."""
        stamp, wanted = self._stamp(), self._wanted()
        return set(stamp["extras"]) if all(stamp.get(key) == wanted[key] for key in wanted) else None

    def has(self, extras: Sequence[str]) -> bool:
        """Tell whether the environment is ready with all of `extras`."""
        installed = self.extras()
        return installed is not None and installed.issuperset(extras)

    def make(self, extras: Sequence[str]) -> None:
        """Make the environment, or add extras to one that is ready; a second caller waits for the first.

        Raises
        ------
        SetupFailed
            When it cannot be done, with what to do about it.
        """
        with locked(self.root / ".venv.lock") as lock:
            if self.has(extras):
                return
            installed = self.extras()
            self._ready.unlink(missing_ok=True)
            if installed is None:
                self._begin_anew(lock)
            self._install(sorted({*extras, *(installed or ())}), lock)

    def _begin_anew(self, lock: IO[str]) -> None:
        """Replace .venv, whatever state it is in, by an empty environment."""
        import shutil

        say_aside(
            say(
                "making {folder} and installing what the program needs (once; this takes some minutes)",
                folder=self.venv,
            )
        )
        try:
            if self.venv.is_symlink() or self.venv.is_file():
                self.venv.unlink()
            elif self.venv.exists():
                shutil.rmtree(self.venv)
        except OSError as why:
            raise SetupFailed(
                say(
                    "the old {folder} cannot be removed ({why}). Close every herdbook window and run the "
                    "command again, with a Python that is not in .venv.",
                    folder=self.venv,
                    why=why.strerror,
                )
            ) from why
        provide_ensurepip()
        run([base_python(), "-I", "-m", "venv", str(self.venv)], say("making the environment"), lock)

    def _install(self, extras: Sequence[str], lock: IO[str]) -> None:
        """Install the checkout with `extras`, in the tested releases, and write the stamp last."""
        import json

        wanted = self._wanted()
        if extras:
            say_aside(say("installing with {extras}", extras=", ".join(extras)))
        quiet = [] if sys.stderr.isatty() else ["-q"]
        what = ".[" + ",".join(extras) + "]" if extras else "."
        pip = [str(self.python), "-I", "-m", "pip", "install", *quiet, "-c", "constraints.txt", "-e", what]
        run(pip, say("installing"), lock, cwd=self.root)
        stamp = {
            **wanted,
            "extras": list(extras),
            "base": base_python(),
            "version": list(sys.version_info[:2]),
        }
        half = self._ready.with_suffix(".half")
        half.write_text(json.dumps(stamp, indent=1), encoding="utf-8")
        os.replace(half, self._ready)
        say_aside(say("ready"))


def base_python() -> str:
    """Return the Python that environments are made from, also when running inside one."""
    return str(getattr(sys, "_base_executable", None) or sys.executable)


def run(command: Sequence[str], doing: str, lock: IO[str], cwd: Path | None = None) -> None:
    """Run a step of the set-up with its words on stderr.

    Raises
    ------
    SetupFailed
        When the step ends with an error.
    """
    import subprocess

    # A keeper's own pip settings may ask for --user or a target folder, which an environment refuses.
    settings = {"PIP_USER": "0", "PIP_NO_INPUT": "1", "PIP_DISABLE_PIP_VERSION_CHECK": "1"}
    environment = {key: value for key, value in os.environ.items() if key not in ("PIP_TARGET", "PIP_PREFIX")}
    done = subprocess.run(
        list(command),
        cwd=cwd,
        env={**environment, **settings},
        stdin=subprocess.DEVNULL,
        stdout=sys.stderr.fileno(),
        check=False,
        pass_fds=() if WINDOWS else (lock.fileno(),),
    )
    if done.returncode:
        raise SetupFailed(
            say(
                "the set-up stopped while {doing} (the reason stands above). Your herd books were not "
                "touched. Check the network and the free space on the disk, then run the same command again.",
                doing=doing,
            )
        )


@contextmanager
def locked(path: Path) -> Iterator[IO[str]]:
    """Hold the lock file at `path`, waiting for whoever holds it; the system lets go when we die."""
    import time

    try:
        lock = path.open("a", encoding="utf-8")
        free = _try_lock(lock)
    except OSError as why:
        raise SetupFailed(
            say(
                "{file} cannot be written and locked ({why}). Move the checkout to a folder of your own on "
                "this machine, or install it with `pipx install .`",
                file=path,
                why=why.strerror,
            )
        ) from why
    with lock:
        if not free:
            say_aside(say("another set-up is at work here; waiting for it to end"))
        while not free:
            time.sleep(0.3)
            free = _try_lock(lock)
        yield lock


def _try_lock(lock: IO[str]) -> bool:
    """Take the system's lock on an open file if it is free; closing the file gives it back."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(lock.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


def provide_ensurepip() -> None:
    """See that environments can be made: Debian keeps that in a package of its own.

    Raises
    ------
    SetupFailed
        Where it is missing and not ours to install, naming the package.
    """
    from importlib.util import find_spec

    if find_spec("ensurepip") and find_spec("venv"):
        return
    from herdbook._machine import provide_packages

    package = f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"
    if not provide_packages(
        {"apt": [package], "dnf": ["python3"], "pacman": ["python"], "zypper": ["python3"]}
    ):
        raise SetupFailed(
            say("this Python cannot make environments. Run the line above, then the same command again.")
        )


def _inside(checkout: Checkout) -> bool:
    """Tell whether this process runs in the checkout's own environment."""
    try:
        return os.path.samefile(sys.prefix, checkout.venv)
    except OSError:
        return False


def _of_ones_own(checkout: Checkout) -> bool:
    """Tell whether this process runs in an environment that somebody made and filled by hand."""
    if sys.prefix == sys.base_prefix or (_inside(checkout) and (checkout.venv / "ready.json").exists()):
        return False
    from importlib.metadata import PackageNotFoundError, distribution

    try:
        distribution("herdbook")
    except PackageNotFoundError:
        return False
    return True


def _go_inside(checkout: Checkout) -> NoReturn:
    """Run this very command line again, in the checkout's environment."""
    command = [str(checkout.python), *sys.orig_argv[1:]]
    os.environ[ARRIVED] = str(checkout.venv)
    os.environ.pop("PYTHONHOME", None)
    if not WINDOWS:
        os.execv(command[0], command)
    import subprocess  # execv on Windows gives the shell its prompt back while the program still runs

    raise SystemExit(subprocess.run(command, check=False).returncode)


def enter(extras: Sequence[str] = (), root: Path = ROOT) -> None:
    """Return once this process runs in an environment that is ready; make it first where it is not.

    Parameters
    ----------
    extras : sequence of str
        Extras of pyproject.toml that are needed; those already installed stay.
    root : Path
        The checkout. A folder without pyproject.toml is an installed copy, and is left alone.
    """
    if sys.version_info < OLDEST:
        say_aside(
            say(
                "this is Python {this}; herdbook needs {oldest} or newer. Run the command with a newer one.",
                this=sys.version.split()[0],
                oldest=".".join(map(str, OLDEST)),
            )
        )
        raise SystemExit(2)
    checkout = Checkout(root)
    arrived = os.environ.pop(ARRIVED, None)
    if not (root / "pyproject.toml").exists() or arrived == str(checkout.venv) or _of_ones_own(checkout):
        return
    try:
        if not checkout.has(extras):
            checkout.make(extras)
            from herdbook._machine import provide_libraries

            provide_libraries()
        elif _inside(checkout):
            return
        _go_inside(checkout)
    except SetupFailed as why:
        say_aside(str(why))
    except KeyboardInterrupt:
        say_aside(say("the set-up was stopped. Run the same command again to finish it."))
    raise SystemExit(2)
