"""Half-typed lines, kept on this machine outside the book, so that they are there after a crash.

One small file a book, replaced as a whole a moment after each change. It holds what was typed as it was
typed; nothing of it counts before it is saved into the book.
"""

from __future__ import annotations

import hashlib
import json
import logging
import os
from datetime import date
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, QTimer

from herdbook.ui.desk import Desk
from herdbook.ui.forms.animals import AnimalEntry, AnimalsEntry
from herdbook.ui.forms.days import DateEntry
from herdbook.ui.forms.entry import ChoiceEntry, Entry, FlagEntry, Mistake, NoteEntry, TextEntry
from herdbook.ui.machine import machine_folder

log = logging.getLogger(__name__)

FOLDER = "half-typed"
PAUSE = 150  # milliseconds of quiet before the file is written


class Drafts(QObject):
    """The half-typed lines of one book, by name.

    Parameters
    ----------
    path : Path or None
        The file; None keeps them only as long as the window is open.
    """

    def __init__(self, path: Path | None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.path = path
        self._kept: dict[str, Any] = self._read()
        self._written = dict(self._kept)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE)
        self._pause.timeout.connect(self.write)

    def _read(self) -> dict[str, Any]:
        """Return what the file holds; a file that cannot be read is as if it were not there."""
        if self.path is None:
            return {}
        try:
            kept = json.loads(self.path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return {}
        except (OSError, ValueError) as error:
            log.warning("half-typed lines could not be read: %s", error)
            return {}
        lines = kept.get("lines") if isinstance(kept, dict) else None
        return lines if isinstance(lines, dict) else {}

    def get(self, name: str) -> dict[str, Any] | None:
        """Return what was typed under `name`, None when nothing was left half done."""
        kept = self._kept.get(name)
        return kept if isinstance(kept, dict) else None

    def put(self, name: str, typed: dict[str, Any] | None) -> None:
        """Keep what is typed under `name`; None when it has been saved or taken away."""
        if typed is None:
            self._kept.pop(name, None)
        else:
            self._kept[name] = typed
        if self._kept != self._written:
            self._pause.start()

    def write(self) -> None:
        """Write the file now; it goes when there is nothing to keep."""
        self._pause.stop()
        if self.path is None or self._kept == self._written:
            return
        try:
            self._replace(self.path)
            self._written = json.loads(json.dumps(self._kept))
        except OSError as error:  # a full disk must not stand in the way of typing
            log.warning("half-typed lines could not be kept: %s", error)

    def _replace(self, path: Path) -> None:
        if not self._kept:
            path.unlink(missing_ok=True)
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        beside = path.with_suffix(".new")
        beside.write_text(json.dumps({"lines": self._kept}, ensure_ascii=False), encoding="utf-8")
        os.replace(beside, path)


def drafts_of(desk: Desk, parent: QObject | None = None) -> Drafts:
    """Return the half-typed lines of the book on the desk."""
    book = getattr(desk.book, "path", None)
    if book is None:
        return Drafts(None, parent)
    name = hashlib.sha256(str(Path(book).resolve()).encode()).hexdigest()[:20]
    return Drafts(machine_folder() / FOLDER / f"{name}.json", parent)


def typed(entry: Entry) -> Any:
    """Return what stands in an entry, as JSON can hold it; None when it is empty."""
    if isinstance(entry, AnimalsEntry):
        keys = [entry.list.item(n).data(0x0100) for n in range(entry.list.count())]
        return {"animals": keys, "text": entry.edit.text()} if keys or entry.edit.text() else None
    if isinstance(entry, AnimalEntry):
        text = entry.edit.text()
        return {"animal": text} if _is_found(entry) else text or None
    if isinstance(entry, DateEntry):
        try:  # "yesterday" means another day tomorrow
            day = entry.value()
        except Mistake:
            return entry.edit.text() or None
        return {"day": day.isoformat()} if isinstance(day, date) else entry.edit.text() or None
    if isinstance(entry, TextEntry):
        return entry.edit.text() or None
    if isinstance(entry, NoteEntry | ChoiceEntry):
        return entry.value()
    return entry.value() or None if isinstance(entry, FlagEntry) else None


def _is_found(entry: AnimalEntry) -> bool:
    try:
        return entry.value() is not None
    except Mistake:
        return False


def put_back(entry: Entry, kept: Any) -> None:
    """Put into an entry what `typed` returned; what does not fit any more is left out."""
    if isinstance(entry, AnimalsEntry):
        kept = kept if isinstance(kept, dict) else {}
        entry.fill([key for key in kept.get("animals", ()) if isinstance(key, int)])
        entry.edit.setText(str(kept.get("text") or ""))
    elif isinstance(entry, DateEntry) and isinstance(kept, dict):
        entry.fill(_day(kept.get("day")))
    elif isinstance(entry, AnimalEntry) and isinstance(kept, dict):
        entry.edit.setText(str(kept.get("animal") or ""))  # whoever puts it back looks it up again
    elif isinstance(entry, TextEntry | AnimalEntry):
        entry.edit.setText(kept if isinstance(kept, str) else "")
    else:
        entry.fill(kept)


def _day(text: Any) -> date | None:
    try:
        return date.fromisoformat(text)
    except (TypeError, ValueError):
        return None
