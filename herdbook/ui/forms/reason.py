"""The one question that passing over a caution asks: why all the same."""

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

    reason: str = asks("Why all the same", "text", hint="kept with what you decide")


class ReasonDialog(FormDialog):
    """Says which cautions are passed over and asks for a reason; Escape leaves everything as it is.

    Parameters
    ----------
    desk : Desk
    title : str
    cautions : sequence of str
        In the reader's words.
    then : callable (reason)
    save : str
        What the button says; "All the same" if empty.
    """

    def __init__(
        self,
        desk: Desk,
        title: str,
        cautions: Sequence[str],
        then: Callable[[str], None],
        save: str = "",
        parent: QWidget | None = None,
    ) -> None:
        self._give = then
        super().__init__(AllTheSame, desk, title, caution="\n".join(cautions), parent=parent)
        self.save_button.setText(save or say("All the same"))

    def _do(self, command: Any) -> None:
        self.accept()
        self._give(command.reason)
