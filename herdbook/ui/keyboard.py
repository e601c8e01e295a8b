"""Keys: bound in one way, so that the sheet of keys (F1) can list every one of them."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QWidget


def bind(widget: QWidget, keys: str, act: Callable[[], object], words: str, wide: bool = False) -> QShortcut:
    """Bind `keys` to `act` while the focus is in `widget`.

    A bare letter yields to typing: where an entry has the focus, the letter goes into the entry.

    Parameters
    ----------
    widget : QWidget
        A page, a dialog or the window.
    keys : str
        For example "C", "Ctrl+F".
    act : callable
    words : str
        What it does, for the sheet of keys.
    wide : bool
        Whether it works wherever the focus is in the window.
    """
    shortcut = QShortcut(QKeySequence(keys), widget)
    shortcut.setContext(
        Qt.ShortcutContext.WindowShortcut if wide else Qt.ShortcutContext.WidgetWithChildrenShortcut
    )
    shortcut.setWhatsThis(words)
    shortcut.activated.connect(lambda: act())
    return shortcut


def bound(widget: QWidget) -> list[tuple[str, str]]:
    """Return the keys bound in `widget` and below that are said in words, as (keys, words)."""
    seen: dict[str, str] = {}
    for shortcut in widget.findChildren(QShortcut):
        if shortcut.whatsThis():
            seen.setdefault(
                shortcut.whatsThis(), shortcut.key().toString(QKeySequence.SequenceFormat.NativeText)
            )
    return [(keys, words) for words, keys in seen.items()]
