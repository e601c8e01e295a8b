"""The log: a rotating file in the machine's folder, and a trace of hard crashes beside it."""

from __future__ import annotations

import faulthandler
import logging
import logging.handlers
from pathlib import Path
from typing import IO

LOG, CRASH = "herdbook.log", "crash.log"
SIZE, KEPT = 512 * 1024, 3

_crash_file: IO[str] | None = None


def start_log(folder: Path) -> Path:
    """Log into `folder` from now on, hard crashes of Qt or Python too; return the log file's path."""
    global _crash_file
    folder.mkdir(parents=True, exist_ok=True)
    handler = logging.handlers.RotatingFileHandler(
        folder / LOG, maxBytes=SIZE, backupCount=KEPT, encoding="utf-8", delay=True
    )
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    root = logging.getLogger()
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    # faulthandler writes from a signal handler, so the file must stay open as long as the program runs.
    _crash_file = (folder / CRASH).open("a", encoding="utf-8")
    faulthandler.enable(_crash_file)
    return folder / LOG
