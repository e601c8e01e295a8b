"""A form over the window, with Save and Cancel."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from herdbook.husbandry.reasons import Reason
from herdbook.ui import theme
from herdbook.ui.desk import Desk, plain_words
from herdbook.ui.forms.form import CommandForm, save_button
from herdbook.ui.reasons import reason_text
from herdbook.words import say


class FormDialog(QDialog):
    """Asks for one command and carries it out; stays open, with the reason shown, when the book refuses it.

    Parameters
    ----------
    command_type : type
    desk : Desk
    title : str
        What it is about.
    preset, hidden
        See `CommandForm`.
    told : str
        What to say when it is saved.
    then : callable, optional
        Gets what the book did.
    caution : str
        One quiet sentence of caution above the buttons.
    make : callable, optional
        Turns the form's command into the one to carry out: a correction, a round of several animals.
    doubts : callable (conn, command, on) -> sequence of Reason, optional
        What to ask about before the command that `make` gives is carried out; saving once more answers yes.
    parent : QWidget, optional
    """

    def __init__(
        self,
        command_type: type[Any],
        desk: Desk,
        title: str,
        preset: Mapping[str, Any] | None = None,
        hidden: Collection[str] = (),
        told: str = "",
        then: Callable[[Any], None] | None = None,
        caution: str = "",
        make: Callable[[Any], Any] | None = None,
        doubts: Callable[..., Sequence[Reason]] | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent or desk.window)
        self.desk = desk
        self._make = make or (lambda command: command)
        self._doubts = doubts
        self._asked: Any = None
        self._told = told or say("Saved.")
        self._then = then
        self._saving = False
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.form = self.build(command_type, preset, hidden)
        self.refusal = theme.quiet_label(tone="act")
        self.refusal.hide()
        self.asking = theme.quiet_label(tone="soon")
        self.asking.setAccessibleName(say("To be asked before it is saved"))
        self.asking.hide()
        self.save_button = save_button()
        self.save_button.clicked.connect(self.save)
        self.form.finished.connect(self.save)
        self.form.edited.connect(self._edited)
        for keys in ("Ctrl+Return", "Ctrl+Enter"):
            QShortcut(QKeySequence(keys), self, self.save)
        self._arrange(title, caution)
        self.form.focus_first()

    def _arrange(self, title: str, caution: str) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(4 * theme.STEP)
        column.addWidget(theme.title_label(title))
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(self.form)
        column.addWidget(area, 1)
        column.addWidget(self.refusal)
        column.addWidget(self.asking)
        if caution:
            column.addWidget(theme.quiet_label(caution, "act"))
        cancel = QPushButton(say("Cancel"))
        cancel.setAutoDefault(False)
        cancel.clicked.connect(self.reject)
        buttons = QHBoxLayout()
        buttons.addStretch(1)
        buttons.addWidget(cancel)
        buttons.addWidget(self.save_button)
        column.addLayout(buttons)
        area.setMinimumWidth(
            self.form.minimumSizeHint().width() + area.verticalScrollBar().sizeHint().width()
        )
        wanted = self.form.sizeHint().height() + 44 * theme.STEP
        least = max(theme.characters(64), self.minimumSizeHint().width())
        self.setMinimumWidth(least)
        theme.resize_on_screen(self, max(theme.characters(70), least), wanted)

    def build(
        self, command_type: type[Any], preset: Mapping[str, Any] | None, hidden: Collection[str]
    ) -> CommandForm:
        """Return the form; a dialog that asks in its own way returns what works like one."""
        return CommandForm(command_type, self.desk, preset, hidden)

    def save(self) -> None:
        """Save once, if everything asked for is there."""
        if not self._saving:
            self.form.submit(self._do)

    def _edited(self) -> None:
        self.refusal.hide()
        self.asking.hide()
        self._asked = None
        self.save_button.setText(say("Save (Ctrl+Enter)"))

    def _do(self, command: Any) -> None:
        self._busy(True)
        if self._doubts is None or command == self._asked:
            self._carry_out(command)
            return
        self.desk.read(
            self._doubts,
            lambda found: self._ask(command, found),
            self._make(command),
            self.desk.on,
            owner=self,
            fail=self._refused,
        )

    def _ask(self, command: Any, found: Sequence[Reason]) -> None:
        """Show what is doubtful; Enter once more saves it as it is."""
        if not found:
            self._carry_out(command)
            return
        self._busy(False)
        self._asked = command
        self.asking.setText("\n".join(reason_text(reason, self.desk.on) for reason in found))
        self.asking.show()
        self.save_button.setText(say("Save it all the same (Enter)"))
        self.save_button.setFocus(Qt.FocusReason.OtherFocusReason)

    def _carry_out(self, command: Any) -> None:
        self.desk.do(self._make(command), self._saved, self._refused, owner=self, told=self._told)

    def _saved(self, done: Any) -> None:
        self._busy(False)
        if self._then is not None:
            self._then(done)
        self.accept()

    def _refused(self, error: Exception) -> None:
        self._busy(False)
        self.refusal.setText(plain_words(error))
        self.refusal.show()

    def _busy(self, busy: bool) -> None:
        self._saving = busy
        self.save_button.setEnabled(not busy)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let Enter press the button that has the focus, and never another one."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            button = self.focusWidget()
            if isinstance(button, QPushButton):
                button.click()
            return
        super().keyPressEvent(event)

    def reject(self) -> None:
        """Close, asking first when something was typed."""
        if self.form.is_edited:
            answer = self.desk.ask(
                say("Close without saving what you typed?"),
                [("close", say("Close without saving")), ("stay", say("Go on typing"))],
                parent=self,
            )
            if answer != "close":
                return
        super().reject()


def ask_form(command_type: type[Any], desk: Desk, title: str, **options: Any) -> FormDialog:
    """Open a `FormDialog` over the window and return it; see its parameters."""
    dialog = FormDialog(command_type, desk, title, **options)
    dialog.open()
    return dialog
