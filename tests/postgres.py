"""A private PostgreSQL server for one test run, started from whatever Debian or the PATH offers.

Where none can be had the tests that need it are skipped with the reason; in CI that is a failure.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from filelock import FileLock


class NoPostgres(RuntimeError):
    """No server can be had here; the message says why."""


def _programs() -> Path | None:
    """Return the newest folder that holds initdb and postgres, or None."""
    debian = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: float(path.parts[-3]), reverse=True
    )
    if debian:
        return debian[0].parent
    found = shutil.which("initdb")
    return Path(found).resolve().parent if found else None


def _install() -> None:
    """Install Debian's postgresql, without letting it start a server of its own."""
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    policy = Path("/usr/sbin/policy-rc.d")
    ours = not policy.exists()
    if ours:
        policy.write_text("#!/bin/sh\nexit 101\n")
        policy.chmod(0o755)
    try:
        for command in (["update", "-qq"], ["install", "-y", "-qq", "--no-install-recommends", "postgresql"]):
            done = subprocess.run(
                ["apt-get", *command], env=quiet, capture_output=True, text=True, check=False
            )
            if done.returncode:
                raise NoPostgres(f"apt-get {command[0]} failed: {done.stderr.strip()[-300:]}")
    finally:
        if ours:
            policy.unlink()


def _find() -> Path:
    """Return the folder of the server's programs, installing them where that is ours to do."""
    programs = _programs()
    if programs:
        return programs
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    if not (os.environ.get("CI") and root and shutil.which("apt-get")):
        raise NoPostgres("PostgreSQL is not installed (on Debian: apt-get install postgresql)")
    with FileLock(Path(tempfile.gettempdir()) / "herdbook-tests-postgres.lock"):  # one apt-get at a time
        if _programs() is None:
            _install()
    programs = _programs()
    if programs is None:
        raise NoPostgres("PostgreSQL was installed but its programs were not found")
    return programs


def _owner() -> dict[str, str]:
    """Return how to run the server: as somebody other than root, whom it refuses."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return {}
    import pwd

    for name in ("postgres", "nobody"):
        try:
            pwd.getpwnam(name)
        except KeyError:
            continue
        return {"user": name}
    raise NoPostgres("root may not run PostgreSQL and there is no user postgres or nobody")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _run(command: list[str], owner: dict[str, str], folder: Path) -> None:
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, **owner)
    if done.returncode:
        log = folder / "log"
        said = log.read_text(errors="replace") if log.exists() else ""
        raise NoPostgres(f"{Path(command[0]).name} failed: {(done.stderr + said).strip()[-600:]}")


def serve(folder: Path) -> Iterator[str]:
    """Start a server with its cluster in `folder`; yield its SQLAlchemy address; stop it.

    Parameters
    ----------
    folder : Path
        An empty folder with a short path that every user may reach.

    Yields
    ------
    str
        ``postgresql+psycopg://...``, a superuser on an empty database.

    Raises
    ------
    NoPostgres
        When there is no server to be had, with the reason.
    """
    programs, owner = _find(), _owner()
    if owner:
        shutil.chown(folder, **owner)
    data, port = folder / "data", _free_port()
    unsafe = (
        "-c dynamic_shared_memory_type=mmap -c fsync=off -c synchronous_commit=off -c full_page_writes=off"
    )
    address = f"-c listen_addresses=127.0.0.1 -c port={port} -c unix_socket_directories={folder}"
    if sys.platform == "win32":
        address = f"-c listen_addresses=127.0.0.1 -c port={port}"
    _run([str(programs / "initdb"), "-D", str(data), "-U", "keeper", "-A", "trust", "-E", "UTF8",
          "--locale=C", "--no-sync"], owner, folder)  # fmt: skip
    control = [str(programs / "pg_ctl"), "-D", str(data), "-w"]
    _run(
        [*control, "-t", "60", "-l", str(folder / "log"), "-o", f"{unsafe} {address}", "start"], owner, folder
    )
    try:
        yield f"postgresql+psycopg://keeper@127.0.0.1:{port}/postgres"
    finally:
        _run([*control, "-m", "immediate", "stop"], owner, folder)


@pytest.fixture(scope="session")
def postgres_url() -> Iterator[str]:
    """Yield the address of a private, empty PostgreSQL server."""
    folder = Path(tempfile.mkdtemp(prefix="pg-"))
    server = serve(folder)
    try:
        url = next(server)
    except NoPostgres as why:
        shutil.rmtree(folder, ignore_errors=True)
        if os.environ.get("CI"):
            pytest.fail(str(why))
        pytest.skip(str(why))
    try:
        yield url
    finally:
        server.close()
        shutil.rmtree(folder, ignore_errors=True)
