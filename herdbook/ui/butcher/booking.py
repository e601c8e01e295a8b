"""Which booked day an animal goes on: the days ahead with their places, chosen by Enter."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from herdbook.services.queries.butcher import Finishing, cautions_on
from herdbook.services.queries.diary import DiaryDay
from herdbook.ui import theme
from herdbook.ui.butcher.finishing import who
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.tables.columns import Column, Mark
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say


def day_label(day: DiaryDay, desk: Desk) -> str:
    """Return a booked day in a few words: when, where, places."""
    where = f", {day.where}" if day.where else ""
    return say(
        "{day}{where}: {taken} of {places}",
        day=day_text(day.day, desk.on),
        where=where,
        taken=len(day.booked),
        places=day.places,
    )


def minds(row: Finishing, day: date) -> list[str]:
    """Return in a word or two what speaks against a day."""
    words = {
        "medicine_runs": say("medicine runs"),
        "medicine_not_known": say("medicine not known"),
        "not_ready": say("not ready"),
        "thirty_months": say("30 months"),
    }
    return [words[caution.code] for caution in cautions_on(row, day)]


def _full(day: DiaryDay) -> Mark | None:
    if day.free > 0:
        return None
    return "soon", say("full") if day.free == 0 else say("over full")


class ChooseDay(QDialog):
    """Shows the booked days ahead; Enter on one takes it, N books another.

    Parameters
    ----------
    desk : Desk
    row : Finishing
        The animal.
    days : sequence of DiaryDay
    then : callable (DiaryDay)
    book_day : callable
        Opens the form for a new booked day.
    """

    def __init__(
        self,
        desk: Desk,
        row: Finishing,
        days: Sequence[DiaryDay],
        then: Callable[[DiaryDay], None],
        book_day: Callable[[], object],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent or desk.window)
        title = say("Which day for {animal}?", animal=who(row))
        self.setWindowTitle(title)
        self._then = then

        def mind(day: DiaryDay) -> Mark | None:
            words = minds(row, day.day)
            return ("act", ", ".join(words)) if words else None

        columns = (
            Column("day", say("day"), show=lambda day: day_text(day, desk.on), width=14),
            Column("where", say("where"), width=17),
            Column("free", say("places left"), mark=_full, figures=True, width=12),
            Column("wanted", say("wanted"), width=16),
            Column("mind", say("mind"), get=lambda _: "", mark=mind, width=24, sortable=False),
            Column("booked", say("booked"), show=lambda rows: ", ".join(b.tag for b in rows), width=18),
        )
        model = SimpleTable(columns, key=lambda day: day.id)
        self.panel = TablePanel(
            desk,
            model,
            "choose-day",
            say("Booked days"),
            empty=say("No day is booked ahead."),
            act=(say("Book a day"), lambda: self._new(book_day)),
            filters=False,
        )
        model.set_rows(list(days))
        self.panel.table.opened.connect(self._take)
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(4 * theme.STEP)
        column.addWidget(theme.title_label(title))
        column.addWidget(self.panel, 1)
        column.addLayout(self._buttons(book_day))
        theme.resize_on_screen(self, theme.characters(112), 12 * theme.row_height())
        if days:
            self.panel.table.selectRow(0)

    def _buttons(self, book_day: Callable[[], object]) -> QHBoxLayout:
        line = QHBoxLayout()
        take, new, cancel = (
            theme.go_button(say("This day (Enter)")),
            QPushButton(say("Another day…")),
            QPushButton(say("Cancel")),
        )
        take.clicked.connect(lambda: self._take(self.panel.table.row()))
        new.clicked.connect(lambda: self._new(book_day))
        cancel.clicked.connect(self.reject)
        line.addWidget(new)
        line.addStretch(1)
        line.addWidget(cancel)
        line.addWidget(take)
        return line

    def _take(self, day: DiaryDay | None) -> None:
        if day is not None:
            self.accept()
            self._then(day)

    def _new(self, book_day: Callable[[], object]) -> None:
        self.reject()
        book_day()
