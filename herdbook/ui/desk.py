"""The desk: all that a page works with, and its way to speak to the keeper and to the other pages."""

from __future__ import annotations

import logging
from collections.abc import Callable, MutableMapping, Sequence
from dataclasses import dataclass
from datetime import date
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, Protocol

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtWidgets import QWidget

from herdbook.husbandry.reasons import Reason
from herdbook.ui.jobs import Jobs, is_refusal
from herdbook.words import say

if TYPE_CHECKING:
    from PySide6.QtWidgets import QMessageBox

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Found:
    """An animal or group that a search turned up.

    Parameters
    ----------
    key : int
        Its key in the book.
    tag, name : str
    detail : str
        What tells it from others: class, born, colour.
    """

    key: int
    tag: str
    name: str = ""
    detail: str = ""

    @property
    def label(self) -> str:
        """Tag and name, as they stand in an entry field."""
        return f"{self.tag} {self.name}".strip()


def _nothing(*_: Any) -> list[Found]:
    return []


@dataclass(frozen=True)
class Lookups:
    """How forms and the search box look things up; each runs in the reading pool with a connection.

    Parameters
    ----------
    find : callable (conn, text, kind, on) -> sequence of Found
        Animals by tag, name or electronic number; kind is "animal", "female" or "male".
    name : callable (conn, key) -> Found or None
        One animal by its key.
    groups : callable (conn, on) -> sequence of Found
        The groups there are.
    """

    find: Callable[[Any, str, str, date], Sequence[Found]] = _nothing
    name: Callable[[Any, int], Found | None] = lambda _conn, _key: None
    groups: Callable[[Any, date], Sequence[Found]] = _nothing


class Outlet(Protocol):
    """Where a table can go: called beside the window with the table as text and the file to write."""

    def __call__(self, table: Any, path: str) -> None: ...


@dataclass(frozen=True)
class Outlets:
    """How tables leave the window; None where that way is not given.

    Parameters
    ----------
    export : callable (TableText, path), optional
        Writes .csv or .xlsx, by the path's ending.
    paper : callable (TableText, path), optional
        Writes a PDF.
    """

    export: Outlet | None = None
    paper: Outlet | None = None


class Desk(QObject):
    """What every page is given.

    Parameters
    ----------
    book : Book
        The open herd book: ``read()``, ``do(command)``, ``undo()``, ``redo()``, ``subscribe(f)``.
    jobs : Jobs
    day : callable, optional
        The day it is taken to be; the calendar's if not given.
    settings : object, optional
        The book's settings, as attributes; whoever opens the desk sets it anew when they change.
    memory : mutable mapping, optional
        What this machine remembers of the window, by name.
    lookups : Lookups, optional
    outlets : Outlets, optional

    Signals
    -------
    changed : ChangeSet
        The book changed; on the window's thread.
    went : str, object
        Someone asked for a page, and what to show on it.
    told : str, bool
        A quiet line for the foot of the window, and whether Undo stands beside it.
    """

    changed = Signal(object)
    went = Signal(str, object)
    told = Signal(str, bool)
    _committed = Signal(object)

    def __init__(
        self,
        book: Any,
        jobs: Jobs,
        day: Callable[[], date] = date.today,
        settings: Any = None,
        memory: MutableMapping[str, Any] | None = None,
        lookups: Lookups | None = None,
        outlets: Outlets | None = None,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self.book = book
        self.jobs = jobs
        self.settings = SimpleNamespace() if settings is None else settings
        self.memory = {} if memory is None else memory
        self.lookups = lookups or Lookups()
        self.outlets = outlets or Outlets()
        self.window: QWidget | None = None
        self._day = day
        self.jobs.fail = self.fail
        self._committed.connect(self.changed, Qt.ConnectionType.QueuedConnection)
        book.subscribe(self._committed.emit)

    @property
    def on(self) -> date:
        """The day it is taken to be."""
        return self._day()

    # -- going about ---

    def go(self, page: str, what: object = None) -> None:
        """Open a page by its key, and `what` on it (an animal's key, a dict, None)."""
        self.went.emit(page, what)

    def open_animal(self, key: int) -> None:
        """Open an animal's card."""
        self.go("register", {"animal": key})

    # -- speaking with the keeper ---

    def tell(self, text: str, undo: bool = False) -> None:
        """Say something in the quiet line at the foot of the window, with an Undo button if asked."""
        self.told.emit(text, undo)

    def ask(
        self,
        question: str,
        choices: Sequence[tuple[str, str]],
        detail: str = "",
        parent: QWidget | None = None,
    ) -> str | None:
        """Put a question with a few answers; return the code of the one taken, None when it was put aside.

        Parameters
        ----------
        question : str
        choices : sequence of (code, label)
            The first is the obvious one; Escape takes none of them.
        detail : str
            A second, smaller sentence.
        parent : QWidget, optional
            Over what it stands; the window if None.
        """
        from PySide6.QtWidgets import QMessageBox

        box = self._box(question, parent)
        box.setInformativeText(detail)
        buttons = {box.addButton(label, QMessageBox.ButtonRole.AcceptRole): code for code, label in choices}
        aside = box.addButton(say("Leave it"), QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(next(iter(buttons)))
        box.setEscapeButton(aside)
        box.exec()
        return buttons.get(box.clickedButton())

    def fail(self, error: Exception | str, parent: QWidget | None = None) -> None:
        """Say in plain words what went wrong; what is not meant for people goes to the log only."""
        from PySide6.QtWidgets import QMessageBox

        box = self._box(plain_words(error), parent)
        box.addButton(say("Go on"), QMessageBox.ButtonRole.AcceptRole)
        box.exec()

    def _box(self, text: str, parent: QWidget | None) -> QMessageBox:
        from PySide6.QtWidgets import QMessageBox

        none = QMessageBox.StandardButton.NoButton
        box = QMessageBox(QMessageBox.Icon.NoIcon, say("Herd book"), text, none, parent or self.window)
        box.setTextFormat(Qt.TextFormat.PlainText)
        return box

    # -- reading and writing ---

    def read(
        self,
        query: Callable[..., Any],
        then: Callable[[Any], None],
        *arguments: Any,
        owner: QObject | None = None,
        key: str = "",
        fail: Callable[[Exception], None] | None = None,
        **named: Any,
    ) -> None:
        """Run ``query(conn, *arguments, **named)`` beside the window and hand its rows to `then`."""
        book = self.book

        def work() -> Any:
            with book.read() as conn:
                return query(conn, *arguments, **named)

        self.jobs.run(work, then, fail, owner, key)

    def do(
        self,
        command: Any,
        then: Callable[[Any], None] | None = None,
        fail: Callable[[Exception], None] | None = None,
        owner: QObject | None = None,
        told: str = "",
    ) -> None:
        """Carry a command out on the writing thread.

        Parameters
        ----------
        command : object
        then : callable, optional
            Gets what `book.do` returned.
        fail : callable, optional
            Gets the error; without it the keeper is told in a box.
        owner : QObject, optional
            When it is gone, nothing is handed to `then`; the command is carried out all the same.
        told : str
            What to say at the foot of the window when it is done, with Undo beside it.
        """
        book = self.book

        def done(result: Any) -> None:
            if told:
                self.tell(told, undo=True)
            if then is not None:
                then(result)

        self.jobs.write(lambda: book.do(command), done, fail, owner)

    def undo(self) -> None:
        """Take the last act back, and say so."""
        said = say("Taken back. Ctrl+Shift+Z does it again.")
        self.jobs.write(self.book.undo, lambda _: self.tell(said), self._not_undone)

    def redo(self) -> None:
        """Do again what was taken back, and say so."""
        self.jobs.write(self.book.redo, lambda _: self.tell(say("Done again."), undo=True), self._not_undone)

    def _not_undone(self, error: Exception) -> None:
        """Say quietly that there was nothing to undo; anything else is worth a box."""
        from herdbook.store.errors import NothingToRedo, NothingToUndo

        if isinstance(error, NothingToUndo | NothingToRedo):
            self.tell(error.what)
        else:
            self.fail(error)


def plain_words(error: Exception | str) -> str:
    """Return a sentence for the keeper: the error's own if it was written for people, else a general one."""
    if isinstance(error, str):
        return error
    reason = getattr(error, "reason", None) or next(iter(error.args), None)
    if isinstance(reason, Reason):
        return say(reason.template, **reason.values)
    if is_refusal(error):
        return str(error)
    if isinstance(error, OSError) and error.filename:
        why = error.strerror or type(error).__name__
        return say("{file}: {why}. The book is safe. Choose another place.", file=error.filename, why=why)
    log.error("not meant for people", exc_info=error)
    return say(
        "Something went wrong in the program ({kind}). What was saved before is safe; this was not saved. "
        "Try once more; if it comes back, the log file says more.",
        kind=type(error).__name__,
    )
