"""A new book from paper: what is asked once, then one line an animal; saved whole, in one act."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from PySide6.QtCore import QLocale, QStandardPaths, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from herdbook.services.asking import questions
from herdbook.services.commands.starting import StartBook, known_by_name
from herdbook.services.saying import listed
from herdbook.services.settings import BookSettings
from herdbook.ui import theme
from herdbook.ui.books.grid import Grid
from herdbook.ui.desk import plain_words
from herdbook.ui.forms.cells import Cells
from herdbook.ui.forms.drafts import FOLDER, Drafts, put_back, typed
from herdbook.ui.forms.entry import Entry, Mistake
from herdbook.ui.forms.form import ENTRIES, save_button
from herdbook.ui.jobs import Jobs
from herdbook.ui.machine import machine_folder
from herdbook.words import say

ASKED = ("herd_name", "country", "weight_unit", "paper", "tag_style", "usual_bull_in")
DRAFT = "new-book.json"
_WIDTHS = {
    "herd_name": 20,
    "country": 10,
    "weight_unit": 13,
    "paper": 9,
    "tag_style": 16,
    "usual_bull_in": 11,
}


def usual_settings() -> dict[str, Any]:
    """Return what this machine's own country suggests; each can be changed."""
    here = QLocale.system()
    letters = here.territory() in (QLocale.Country.UnitedStates, QLocale.Country.Canada)
    pounds = here.measurementSystem() == QLocale.MeasurementSystem.ImperialUSSystem
    code = QLocale.territoryToCode(here.territory())
    return {
        "herd_name": "",
        "country": code if len(code) == 2 else "",
        "weight_unit": "lb" if pounds else "kg",
        "paper": "Letter" if letters else "A4",
        "tag_style": "",
        "usual_bull_in": BookSettings.usual_bull_in,
    }


def free_path(name: str, suffix: str) -> Path:
    """Return where a book of this name can be kept: among the documents, beside none of the same name."""
    where = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    folder = Path(where) if where and Path(where).is_dir() else Path.home()
    stem = " ".join(re.sub(r"[^\w \-.]+", " ", name).split()).strip(".") or say("My herd")
    path, number = folder / f"{stem}{suffix}", 1
    while path.exists():
        number += 1
        path = folder / f"{stem} {number}{suffix}"
    return path


def make_book(path: Path, command: StartBook) -> None:
    """Make the book and write everything into it; a book that could not be begun leaves no file."""
    from herdbook.services.book import Book

    path.parent.mkdir(parents=True, exist_ok=True)
    book = Book.create(path)
    try:
        book.do(command)
    except Exception:
        book.close()
        path.unlink(missing_ok=True)
        raise
    book.close()


class NewBookDialog(QDialog):
    """Asks for a new book and makes it.

    Parameters
    ----------
    on : date
        The day it is taken to be.
    suffix : str
        How a book's file ends.
    parent : QWidget, optional

    Signals
    -------
    made : Path
        The book is made and closed again; whoever asked opens it.
    """

    made = Signal(object)

    def __init__(self, on: date, suffix: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.on = on
        self.path: Path | None = None
        self._suffix = suffix
        self._jobs = Jobs(self)
        self._drafts = Drafts(machine_folder() / FOLDER / DRAFT, self)
        self._own_place = False
        self._saving = False
        self.setWindowTitle(say("New book from paper"))
        self._make()
        self._arrange()
        self._bring_back()
        self.entries["herd_name"].edited.connect(self._suggest)
        for entry in self.entries.values():
            entry.edited.connect(self._changed)
        self.grid.grid.edited.connect(self._changed)
        self.grid.said.connect(self._say)
        self.grid.finished.connect(lambda: self.save_button.setFocus(Qt.FocusReason.TabFocusReason))
        self._count()

    # -- what it is made of ---

    def _make(self) -> None:
        blank: Any = SimpleNamespace(on=self.on, settings=SimpleNamespace())
        asked = {question.name: question for question in questions(BookSettings)}
        self.entries: dict[str, Entry] = {}
        for name in ASKED:
            self.entries[name] = ENTRIES[asked[name].kind](asked[name], blank)
        for name, example in (("country", say("two letters")), ("tag_style", say("for example 12/24"))):
            self.entries[name].line.setPlaceholderText(example)
        self.place = QLineEdit()
        self.place.setAccessibleName(say("Kept in the file"))
        self.place.textEdited.connect(lambda _: self._place_typed())
        self.choose = QPushButton(say("C&hoose…"))
        self.choose.setAutoDefault(False)
        self.choose.setAccessibleName(say("Choose where the book is kept"))
        self.choose.clicked.connect(self._choose)
        self.grid = Grid(self.on)
        self.said = theme.quiet_label()
        self.said.setAccessibleName(say("What is understood of the cell in hand"))
        self.summary = theme.quiet_label(tone="")
        self.refusal = theme.quiet_label(tone="act")
        self.refusal.hide()
        self.save_button = save_button(say("&Make the book"))
        self.save_button.setToolTip(say("Ctrl+Enter"))
        self.save_button.clicked.connect(self.save)
        for keys in ("Ctrl+Return", "Ctrl+Enter"):
            QShortcut(QKeySequence(keys), self, self.save)
        self.brought = theme.quiet_label(tone="soon")
        self.afresh = theme.link_button(say("Begin &afresh"))
        self.afresh.clicked.connect(self._afresh)

    def _arrange(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(2 * theme.STEP)
        column.addWidget(theme.title_label(say("New book from paper")))
        column.addLayout(self._asked_once())
        line = QHBoxLayout()
        line.addWidget(self.brought, 1)
        line.addWidget(self.afresh)
        column.addLayout(line)
        column.addWidget(theme.rule())
        hint = say(
            "One line an animal; only the tag is needed. Enter goes on, Shift+Enter to the next line. "
            'A " says: as above. Ctrl+V puts in lines of a spreadsheet, Ctrl+Z takes back.'
        )
        column.addWidget(theme.quiet_label(hint))
        column.addWidget(self.grid, 1)
        column.addWidget(self.said)
        column.addWidget(self.refusal)
        cancel = QPushButton(say("Cancel"))
        cancel.setAutoDefault(False)
        cancel.clicked.connect(self.reject)
        foot = QHBoxLayout()
        foot.setSpacing(3 * theme.STEP)
        foot.addWidget(self.summary, 1)
        foot.addWidget(cancel)
        foot.addWidget(self.save_button)
        column.addLayout(foot)
        theme.resize_on_screen(self, theme.characters(150), 22 * theme.row_height())

    def _asked_once(self) -> QVBoxLayout:
        """Return what is asked once: a label over each entry, and where the book is kept below them."""
        whole = QVBoxLayout()
        whole.setSpacing(2 * theme.STEP)
        cells = Cells()
        for place, (name, entry) in enumerate(self.entries.items()):
            label = QLabel(say(entry.question.label))
            label.setBuddy(entry.line)
            entry.line.setFixedWidth(theme.characters(_WIDTHS[name]))
            cells.put(label, place)
            cells.put(entry, place, 0)
        whole.addLayout(cells)
        label = QLabel(say("&Kept in the file"))
        label.setBuddy(self.place)
        line = QHBoxLayout()
        line.setSpacing(3 * theme.STEP)
        line.addWidget(label)
        line.addWidget(self.place, 1)
        line.addWidget(self.choose)
        whole.addLayout(line)
        return whole

    # -- what was typed before ---

    def _bring_back(self) -> None:
        kept = self._drafts.get("book") or {}
        for name, entry in self.entries.items():
            entry.fill(usual_settings()[name])
            if name in kept.get("asked", {}):
                put_back(entry, kept["asked"][name])
        rows = [row for row in kept.get("rows", ()) if isinstance(row, list)]
        self.grid.grid.set_all(rows)
        self._own_place = bool(kept.get("place"))
        self.place.setText(kept.get("place") or "")
        self._suggest()
        self.brought.setText(say("What you typed before is here again."))
        self.brought.setVisible(bool(rows))
        self.afresh.setVisible(bool(rows))
        if rows:
            self.grid.first_empty()
            self.grid.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self.entries["herd_name"].setFocus(Qt.FocusReason.OtherFocusReason)

    def _afresh(self) -> None:
        self._drafts.put("book", None)
        self._bring_back()
        self._count()

    def _changed(self) -> None:
        """Keep what is typed, and look it over."""
        self.refusal.hide()
        asked = {name: typed(entry) for name, entry in self.entries.items()}
        place = self.place.text() if self._own_place else ""
        self._drafts.put("book", {"asked": asked, "rows": self.grid.grid.texts, "place": place})
        self._count()

    # -- where it is kept ---

    def _suggest(self) -> None:
        if not self._own_place:
            self.place.setText(str(free_path(str(typed(self.entries["herd_name"]) or ""), self._suffix)))

    def _place_typed(self) -> None:
        self._own_place = bool(self.place.text().strip())
        self._changed()

    def _choose(self) -> None:
        kinds = say("Herd books (*{suffix});;All files (*)", suffix=self._suffix)
        chosen, _ = QFileDialog.getSaveFileName(self, say("Keep the new book in"), self.place.text(), kinds)
        if chosen:
            self.place.setText(chosen)
            self._place_typed()

    def _where(self) -> Path:
        path = Path(self.place.text().strip()).expanduser()
        if not path.name:
            raise Mistake(say("Where is the book to be kept? Give it a file."))
        return path if path.suffix else path.with_name(path.name + self._suffix)

    # -- what is said ---

    def _say(self, text: str, tone: str) -> None:
        self.said.setText(text)
        theme.role(self.said, tone)

    def _count(self) -> None:
        rows, troubles = self.grid.grid.understood.rows, self.grid.grid.understood.troubles
        wrong = len(self.grid.grid.understood.wrong)
        parts = [say("1 animal") if len(rows) == 1 else say("{n} animals", n=len(rows))]
        strangers = known_by_name(rows)
        if strangers:
            parts.append(say("known by name only: {names}", names=listed(strangers, 4)))
        if wrong:
            parts.append(say("to mend, marked !: {n}", n=wrong))
        if len(troubles) > wrong:
            parts.append(say("to look at, marked ?: {n}", n=len(troubles) - wrong))
        self.summary.setText(" · ".join(parts))

    def _refuse(self, text: str) -> None:
        self._busy(False)
        self.refusal.setText(text)
        self.refusal.show()

    def _busy(self, busy: bool) -> None:
        self._saving = busy
        self.save_button.setEnabled(not busy)

    # -- saving ---

    def settings(self) -> tuple[tuple[str, object], ...]:
        """Return what was asked once, as settings that differ from the book's own; raise Mistake."""
        values = [(name, entry.value()) for name, entry in self.entries.items()]
        return tuple(
            (name, value) for name, value in values if value not in (None, "", getattr(BookSettings, name))
        )

    def save(self) -> None:
        """Make the book, unless something stands in the way; then the focus goes there."""
        if self._saving:
            return
        self.setFocus()  # what is being typed in a cell counts
        look = self.grid.grid.understood
        if look.wrong:
            self.grid.go(*look.wrong[0])
            self.grid.setFocus(Qt.FocusReason.OtherFocusReason)
            self._refuse(say("The cells marked ! must be mended first. Nothing is lost."))
            return
        try:
            path, settings = self._where(), self.settings()
        except Mistake as mistake:
            self._refuse(str(mistake))
            return
        self._busy(True)
        command = StartBook(look.rows, settings, self.on)
        self._jobs.write(lambda: make_book(path, command), lambda _: self._made(path), self._not_made, self)

    def _made(self, path: Path) -> None:
        self.path = path
        self._drafts.put("book", None)
        self.accept()
        self.made.emit(path)

    def _not_made(self, error: Exception) -> None:
        self._refuse(plain_words(error))

    def done(self, result: int) -> None:
        """Close; what was typed is kept for the next time unless it became a book."""
        self._drafts.write()
        self._jobs.close()
        super().done(result)

    def reject(self) -> None:
        """Close without a book; the half-typed grid comes back the next time."""
        if not self._saving:
            super().reject()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go on by Enter in what is asked once; press the button that has the focus."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            here = self.focusWidget()
            if isinstance(here, QPushButton):
                here.click()
            else:
                self.focusNextChild()
            return
        super().keyPressEvent(event)
