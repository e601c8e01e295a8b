"""A desk over a small made-up book, enough for the shared parts of the window."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from herdbook.store.errors import NothingToUndo
from herdbook.ui import theme
from herdbook.ui.desk import Desk, Found, Lookups, plain_words
from herdbook.ui.jobs import Jobs

ON = date(2026, 3, 3)

HERD = (
    Found(1, "412", "Eden", "heifer, 2024"),
    Found(2, "388", "Lowther", "cow, 2019"),
    Found(3, "401", "Caldew", "cow, 2020"),
    Found(4, "4120", "Kent", "calf, 2026"),
    Found(5, "7", "Cheviot", "bull, 2021"),
)


@dataclass(frozen=True)
class Changes:
    """What a book says of an act."""

    tables: frozenset[str]


@dataclass
class SmallBook:
    """Keeps commands in a list instead of a file."""

    done: list[Any] = field(default_factory=list)
    undone: list[Any] = field(default_factory=list)
    refuse: Exception | None = None
    hearers: list[Callable[[Any], None]] = field(default_factory=list)

    @contextmanager
    def read(self) -> Iterator[SmallBook]:
        """Read from the book itself."""
        yield self

    def do(self, command: Any) -> Any:
        """Keep the command, or refuse it."""
        if self.refuse is not None:
            raise self.refuse
        self.done.append(command)
        self._say(frozenset({"animal"}))
        return SimpleNamespace(made=len(self.done))

    def undo(self) -> None:
        """Take the last command back."""
        if not self.done:
            raise NothingToUndo
        self.undone.append(self.done.pop())
        self._say(frozenset({"animal"}))

    def redo(self) -> None:
        """Keep it again."""
        self.done.append(self.undone.pop())
        self._say(frozenset({"animal"}))

    def subscribe(self, hearer: Callable[[Any], None]) -> None:
        """Tell `hearer` of every change."""
        self.hearers.append(hearer)

    def _say(self, tables: frozenset[str]) -> None:
        for hearer in self.hearers:
            hearer(Changes(tables))


def find(_conn: Any, text: str, kind: str, _on: date) -> Sequence[Found]:
    """Return animals whose tag or name begins with `text`."""
    word = text.casefold()
    fits = [
        one for one in HERD if one.label.casefold().startswith(word) or one.name.casefold().startswith(word)
    ]
    if kind == "male":
        return [one for one in fits if "bull" in one.detail]
    return [one for one in fits if kind != "female" or "bull" not in one.detail]


def name(_conn: Any, key: int) -> Found | None:
    """Return one animal."""
    return next((one for one in HERD if one.key == key), None)


def groups(_conn: Any, _on: date) -> Sequence[Found]:
    """Return the groups."""
    return [Found(10, "Top field"), Found(11, "Yard")]


def show(qtbot: QtBot, widget: QWidget) -> None:
    """Show a widget and wait until it is active, so that it can have the focus."""
    with qtbot.waitActive(widget):
        widget.show()


@pytest.fixture
def book() -> SmallBook:
    """Return an empty book."""
    return SmallBook()


@pytest.fixture
def jobs(qapp: QApplication) -> Iterator[Jobs]:
    """Return a runner of jobs that is closed afterwards."""
    runner = Jobs(qapp)
    yield runner
    assert runner.close()


class OpenDesk(Desk):
    """A desk that answers its own questions: nothing modal may hold a test up."""

    answer: str | None = "close"

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.asked: list[str] = []
        self.failed: list[str] = []

    def ask(self, question: str, *_: Any, **__: Any) -> str | None:
        """Keep the question and give the answer that was set."""
        self.asked.append(question)
        return self.answer

    def fail(self, error: Exception | str, parent: QWidget | None = None) -> None:
        """Keep what the keeper would have been told."""
        self.failed.append(plain_words(error))


@pytest.fixture
def desk(qapp: QApplication, book: SmallBook, jobs: Jobs) -> OpenDesk:
    """Return a desk on 3 March 2026."""
    theme.apply(qapp, "light")
    return OpenDesk(book, jobs, day=lambda: ON, lookups=Lookups(find=find, name=name, groups=groups))


@pytest.fixture
def quiet(qtbot: QtBot, jobs: Jobs) -> Callable[[], None]:
    """Return a function that waits until nothing runs beside the window."""

    def wait() -> None:
        qtbot.waitUntil(lambda: not jobs.busy, timeout=5000)

    return wait
