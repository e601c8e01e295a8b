"""The settings of the book, on the same form as every command; each changed setting is one act."""

from __future__ import annotations

from typing import Any

from PySide6.QtWidgets import QWidget

from herdbook.services.commands.diary import ChangeSettings
from herdbook.services.settings import BookSettings
from herdbook.ui.desk import Desk
from herdbook.ui.forms.dialog import FormDialog
from herdbook.words import say


class SettingsDialog(FormDialog):
    """Shows every setting of the book with its present value and saves what was changed in one act."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        present = desk.settings if isinstance(desk.settings, BookSettings) else BookSettings()
        self._present = present
        super().__init__(
            BookSettings,
            desk,
            say("Settings of this book"),
            preset={name: getattr(present, name) for name in BookSettings.__dataclass_fields__},
            told=say("Settings saved."),
            parent=parent,
        )

    def _do(self, command: Any) -> None:
        changed = tuple(
            (name, getattr(command, name))
            for name in BookSettings.__dataclass_fields__
            if getattr(command, name) != getattr(self._present, name)
        )
        if changed:
            super()._do(ChangeSettings(changed))
        else:
            self.accept()
