"""The entry for a heritable condition or trait: one of the book's list, read when the entry is made."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from herdbook.services.asking import Question
from herdbook.ui.desk import Desk
from herdbook.ui.forms.entry import ChoiceEntry


class ConditionEntry(ChoiceEntry):
    """One of the conditions and traits; a word written before that is in no list stays as it is."""

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        self._want: Any = None
        self._listed: list[tuple[Any, str]] = []
        from herdbook.services.queries.conditions import condition_choices  # late: it brings SQLAlchemy

        desk.read(condition_choices, self._arrived, owner=self)

    def _arrived(self, choices: Sequence[tuple[str, str]]) -> None:
        now = self.value() if self.value() is not None else self._want
        self._listed = list(choices)
        self.offer(self._listed)
        self.fill(now)

    def fill(self, value: Any) -> None:
        """Take a condition by its key, or by the word under which it was written down."""
        self._want = value
        if value is not None and value not in {key for key, _ in self._listed}:
            from herdbook.services.queries.conditions import condition_words

            self.offer([*self._listed, (value, condition_words(str(value)))])
        super().fill(value)
