"""`python3 -m tests [--long] [--pictures DIR] [pytest arguments]`: set up, then run them without a screen."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

from herdbook._setup import enter

ROOT = Path(__file__).resolve().parent.parent
BENCH = ROOT / "tests" / "bench"


def pytest(*arguments: str) -> int:
    """Run pytest in a process of its own and return its exit code."""
    return subprocess.run([sys.executable, "-m", "pytest", *arguments], cwd=ROOT, check=False).returncode


def long(arguments: list[str]) -> int:
    """Run the full counts on two processes, then the benchmarks alone, keeping their figures."""
    code = pytest("-n", "2", "--benchmark-disable", "--long", f"--ignore={BENCH}", *arguments)
    if not BENCH.exists():
        return code
    figures = ROOT / ".benchmarks" / f"{time.strftime('%Y%m%dT%H%M%SZ', time.gmtime())}.json"
    figures.parent.mkdir(exist_ok=True)
    return code or pytest("--long", f"--benchmark-json={figures}", str(BENCH))


def main(arguments: list[str]) -> int:
    """Do what the arguments ask and return the exit code: pytest's, the first that failed."""
    from herdbook._machine import BASE, provide_libraries

    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    if not provide_libraries(BASE):
        return 2
    if "--pictures" in arguments:
        command = [
            sys.executable,
            "-m",
            "tests.pictures",
            *(word for word in arguments if word != "--pictures"),
        ]
        return subprocess.run(command, cwd=ROOT, check=False).returncode
    if "--long" in arguments:
        return long([word for word in arguments if word != "--long"])
    return pytest("-n", "2", "--benchmark-disable", *arguments)


if __name__ == "__main__":
    enter(extras=("large", "test"))
    sys.exit(main(sys.argv[1:]))
