"""The program's entry: a shell command where one is named, else the window."""

from __future__ import annotations

import sys
from collections.abc import Sequence


def main(argv: Sequence[str] | None = None) -> int:
    """Run herdbook and return its exit code.

    Parameters
    ----------
    argv : sequence of str, optional
        The words after the program's name; those of the process where it is left out.
    """
    words = list(sys.argv[1:] if argv is None else argv)
    from herdbook.app import shell

    if words and (words[0] in shell.COMMANDS or words[0] in ("-h", "--help", "--version")):
        return shell.run(words)
    from herdbook.app.start import open_window

    code: int = open_window(words)
    return code
