"""The one question that a move past a rule asks: why all the same."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtWidgets import QWidget

from herdbook.services.asking import asks
from herdbook.ui.desk import Desk
from herdbook.ui.forms.dialog import FormDialog
from herdbook.words import say


@dataclass(frozen=True)
class AllTheSame:
    """The keeper's reason."""

    reason: str = asks("Why all the same", "text", hint="kept with the season's plan")


class ReasonDialog(FormDialog):
    """Says which rules a move passes and asks for a reason; Escape leaves her where she is."""

    def __init__(
        self,
        desk: Desk,
        title: str,
        rules: Sequence[str],
        then: Callable[[str], None],
        parent: QWidget | None = None,
    ) -> None:
        self._give = then
        super().__init__(AllTheSame, desk, title, caution="\n".join(rules), parent=parent)
        self.save_button.setText(say("Move her all the same"))

    def _do(self, command: Any) -> None:
        self.accept()
        self._give(command.reason)
