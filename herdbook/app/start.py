"""From the words of the command line to a window: the checks that come before Qt is imported."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from herdbook.words import say

if TYPE_CHECKING:
    from herdbook.app.program import Program


def _parser() -> argparse.ArgumentParser:
    from herdbook.app.shell import COMMANDS, a_day

    parser = argparse.ArgumentParser(
        prog="herdbook", epilog=say("Shell commands: {names}", names=", ".join(COMMANDS))
    )
    parser.add_argument("file", nargs="?", type=Path, help=say("the herd book to open; else the last one"))
    parser.add_argument("--demo", action="store_true", help=say("open a fresh demonstration herd"))
    parser.add_argument("--read-only", action="store_true", help=say("open the book for reading only"))
    parser.add_argument("--on", type=a_day, metavar="YYYY-MM-DD", help=say("the day it is taken to be"))
    return parser


def open_window(words: Sequence[str]) -> int:
    """Open the window and stay until it is closed; return the exit code."""
    options = _parser().parse_args(list(words))
    from herdbook._machine import display_problem

    if problem := display_problem():
        print(problem, file=sys.stderr)
        return 2
    from PySide6.QtWidgets import QApplication

    from herdbook.app.log import start_log
    from herdbook.app.program import run
    from herdbook.ui import theme
    from herdbook.ui.machine import machine_folder

    start_log(machine_folder() / "log")
    app = QApplication(sys.argv[:1])
    app.setApplicationName("herdbook")
    theme.apply(app)
    day = (lambda: options.on) if options.on else date.today

    def begin(program: Program) -> None:
        last = program.memory.get("book/last")
        if options.demo:
            program.show_demo()
        elif options.file is not None:
            program.show_book(options.file, read_only=options.read_only)
        elif last and Path(last).exists():
            program.show_book(Path(last), read_only=options.read_only)
        else:
            program.welcome()

    return run(app, begin, day)
