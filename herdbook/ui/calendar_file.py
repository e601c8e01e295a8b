"""Book > Calendar file: what is ahead in the herd, written for the keeper's own calendar."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import QStandardPaths
from PySide6.QtWidgets import QFileDialog, QWidget

from herdbook.ui.desk import Desk
from herdbook.words import say

LAST_FILE = "calendar/file"


def save_calendar(desk: Desk, over: QWidget) -> None:
    """Ask for a file, the one used last if there is one, and write it beside the window."""
    path = _ask(desk, over)
    if path is None:
        return
    book, on = desk.book, desk.on

    def write() -> Any:
        from herdbook.exchange.registry import calendar_writer

        return calendar_writer(path)(book, path, on)

    def written(events: Any) -> None:
        cancelled = sum(event.withdrawn for event in events)
        desk.tell(
            say(
                "{n} days ahead and {cancelled} cancelled, written to {path}. "
                "Read it into a calendar of its own.",
                n=len(events) - cancelled,
                cancelled=cancelled,
                path=path,
            )
        )

    # On the writing thread, since the book remembers what went out.
    desk.jobs.write(write, written, owner=over)


def _ask(desk: Desk, over: QWidget) -> Path | None:
    """Return the file to write; None when put aside."""
    documents = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    last = desk.memory.get(LAST_FILE) or str(Path(documents or Path.home()) / f"{say('herd')}.ics")
    chosen, _ = QFileDialog.getSaveFileName(
        over, say("Calendar file"), last, say("Calendars (*{ending})", ending=".ics")
    )
    if not chosen:
        return None
    path = Path(chosen)
    if path.suffix.lower() != ".ics":
        path = path.with_name(path.name + ".ics")
    desk.memory[LAST_FILE] = str(path)
    return path
