"""What this machine remembers of the window: its place, its columns; in an ini file outside the book."""

from __future__ import annotations

import json
from collections.abc import Iterator, MutableMapping
from pathlib import Path
from typing import Any

from PySide6.QtCore import QByteArray, QRect, QSettings
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QMainWindow

from herdbook.ui.machine import machine_folder

FILE = "window.ini"
SEEN = 64  # pixels of the title bar that must lie on a screen, across and down


class Memory(MutableMapping[str, Any]):
    """Values by name that outlive the program: anything JSON can hold, in an ini file.

    Parameters
    ----------
    path : Path, optional
        The file; in `machine_folder` if None.
    """

    def __init__(self, path: Path | None = None) -> None:
        path = path or machine_folder() / FILE
        path.parent.mkdir(parents=True, exist_ok=True)
        self._kept = QSettings(str(path), QSettings.Format.IniFormat)

    def __getitem__(self, key: str) -> Any:
        """Return the value; what cannot be read is as if it were not there."""
        text = self._kept.value(key)
        if not isinstance(text, str):
            raise KeyError(key)
        try:
            return json.loads(text)
        except ValueError:
            raise KeyError(key) from None

    def __setitem__(self, key: str, value: Any) -> None:
        """Keep a value."""
        self._kept.setValue(key, json.dumps(value))

    def __delitem__(self, key: str) -> None:
        """Forget a value."""
        if not self._kept.contains(key):
            raise KeyError(key)
        self._kept.remove(key)

    def __iter__(self) -> Iterator[str]:
        """Go over the names."""
        return iter(self._kept.allKeys())

    def __len__(self) -> int:
        """Return how many values there are."""
        return len(self._kept.allKeys())

    def write(self) -> None:
        """Write to the file now."""
        self._kept.sync()


def on_screen(frame: QRect) -> bool:
    """Return whether enough of the top of `frame` lies on a screen to take hold of it."""
    bar = QRect(frame.x(), frame.y(), frame.width(), SEEN)
    for screen in QGuiApplication.screens():
        seen = screen.availableGeometry().intersected(bar)
        if seen.width() >= SEEN and seen.height() >= SEEN // 2:
            return True
    return False


def remember(window: QMainWindow, memory: MutableMapping[str, Any]) -> None:
    """Keep where the window is."""
    memory["window/place"] = bytes(window.saveGeometry().toBase64().data()).decode()


def restore(window: QMainWindow, memory: MutableMapping[str, Any]) -> bool:
    """Put the window where it was, unless that is off every screen now; return whether it was put there."""
    kept = memory.get("window/place")
    before = window.geometry()
    if isinstance(kept, str) and window.restoreGeometry(QByteArray.fromBase64(kept.encode())):
        if on_screen(window.frameGeometry()):
            return True
        window.setGeometry(before)
    room = window.screen().availableGeometry()
    window.resize(min(window.width(), room.width()), min(window.height(), room.height()))
    window.move(room.center() - window.rect().center())
    return False
