"""The command line: one entry for the window and for the shell."""

from __future__ import annotations

from collections.abc import Sequence


def main(argv: Sequence[str] | None = None) -> int:
    """Run herdbook and return its exit code."""
    raise SystemExit("herdbook: the command line is being written")
