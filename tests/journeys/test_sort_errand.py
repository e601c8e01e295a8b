"""Before the bull goes in: sort, move one female for a reason, accept, see who calves when, take it back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.queries.due import due_list
from herdbook.ui import theme
from herdbook.ui.forms.reason import ReasonDialog
from herdbook.ui.jobs import Jobs
from herdbook.ui.window import MainWindow
from tests.services.conftest import Herd
from tests.ui.conftest import OpenDesk, show

ON = date(2026, 5, 1)
AUTUMN = date(2026, 9, 1)
K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def herd(tmp_path: Path) -> Iterator[Herd]:
    """Two bulls, Cheviot's daughter Kent, two more cows and a heifer."""
    with Book.create(tmp_path / "moor.herdbook", who="keeper") as book:
        h = Herd(book, ON)
        h.add("Cheviot", "M", date(2021, 3, 1))
        h.add("Pentland", "M", date(2022, 3, 1))
        h.add("Eden", "F", date(2018, 3, 1))
        h.add("Lune", "F", date(2019, 3, 1))
        h.add("Kent", "F", date(2022, 4, 1), dam=h.id["Eden"], sire=h.id["Cheviot"])
        h.add("Tyne", "F", date(2025, 2, 1))
        for dam in ("Eden", "Lune", "Kent"):
            h.calve(dam, date(2026, 3, 20), f"{dam} calf", sex="M")
        yield h


@pytest.fixture
def window(qtbot: QtBot, qapp: QApplication, herd: Herd) -> Iterator[MainWindow]:
    """Return the whole window on that book, on a page that is not the sort."""
    theme.apply(qapp, "light")
    jobs = Jobs(qapp)
    desk = OpenDesk(herd.book, jobs, day=lambda: ON)
    desk.answer = "accept"
    window = MainWindow(desk, first="today")
    window.resize(1366, 768)
    qtbot.addWidget(window)
    show(qtbot, window)
    yield window
    assert jobs.close()


class Keys:
    """The keys of a keeper, counted; each question of the window takes one more, Enter."""

    def __init__(self, qtbot: QtBot, window: MainWindow) -> None:
        self.qtbot, self.window, self.pressed = qtbot, window, 0

    @property
    def page(self) -> Any:
        """The page in view."""
        return self.window.page

    @property
    def count(self) -> int:
        """How many keys were pressed."""
        return self.pressed + len(self.window.desk.asked)

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        """Press a key where the focus is, and wait until all has arrived."""
        self.pressed += 1
        self.qtbot.keyClick(QApplication.focusWidget() or self.window, key, modifier)
        self.settle()

    def type(self, text: str) -> None:
        """Type where the focus is."""
        self.pressed += len(text)
        self.qtbot.keyClicks(QApplication.focusWidget(), text)

    def settle(self) -> None:
        """Wait until nothing runs beside the window."""
        self.qtbot.waitUntil(lambda: not self.window.desk.jobs.busy, timeout=10_000)

    def dialog(self) -> Any:
        """Return the dialog over the window, once it has the keys."""
        self.qtbot.waitUntil(lambda: QApplication.activeModalWidget() is not None)
        dialog = QApplication.activeModalWidget()
        dialog.activateWindow()
        self.qtbot.waitUntil(dialog.isActiveWindow)
        return dialog

    def back(self) -> None:
        """Give the keys back to the window: without a screen nobody does when a dialog closes."""
        self.qtbot.waitUntil(lambda: QApplication.activeModalWidget() is None)
        self.window.activateWindow()
        self.qtbot.waitUntil(self.window.isActiveWindow)
        self.settle()

    def to_sort(self) -> None:
        """Open the page, and be on its board."""
        self.press(K.Key_5, CONTROL)
        assert self.page.key == "sort"
        self.qtbot.waitUntil(lambda: self.page.result is not None, timeout=10_000)
        self.settle()
        if self.window.rail.hasFocus():
            self.press(K.Key_F6)
        self.qtbot.waitUntil(lambda: self.page.board.isAncestorOf(QApplication.focusWidget()))


@pytest.fixture
def keys(qtbot: QtBot, window: MainWindow) -> Keys:
    """Return the keeper's keys."""
    return Keys(qtbot, window)


def due(herd: Herd) -> dict[str, Any]:
    """Return the due list of the autumn by tags."""
    with herd.book.read() as conn:
        return {row.tag: row for row in due_list(conn, AUTUMN)}


def test_from_opening_to_an_accepted_plan_in_four_keys(keys: Keys, herd: Herd) -> None:
    """Where the sort is right as it is: to the page, accept, and yes."""
    keys.to_sort()
    assert "proven best" in keys.page.figures.text()
    keys.press(K.Key_Return, CONTROL)
    keys.qtbot.waitUntil(keys.page.plan_line.isVisible, timeout=10_000)
    keys.settle()
    assert set(due(herd)) == {"Eden", "Lune", "Kent"}
    assert keys.count <= 4


def test_sort_move_accept_and_undo(keys: Keys, herd: Herd) -> None:
    """Keys only, from the list of pages to the due list and back."""
    assert due(herd) == {}
    keys.to_sort()
    page = keys.page
    # To Tyne, in the column of those not bred: it is beside the two bulls.
    for key in (K.Key_Right, K.Key_Right, K.Key_Home):
        keys.press(key)
    assert page.card.female == herd.id["Tyne"]
    keys.press(K.Key_2)
    assert isinstance(keys.dialog(), ReasonDialog)
    keys.type("Pentland throws small calves")
    keys.press(K.Key_Return)
    keys.back()
    placed = {f.tag: group.tag for group in page.result.groups for f in group.females}
    assert set(placed) == {"Eden", "Lune", "Kent", "Tyne"}
    assert placed["Kent"] == placed["Tyne"] == "Pentland"

    keys.press(K.Key_Return, CONTROL)
    keys.qtbot.waitUntil(page.plan_line.isVisible, timeout=10_000)
    keys.settle()
    assert keys.window.desk.asked == ["Accept this sort?"]
    rows = due(herd)
    assert set(rows) == set(placed)
    assert {tag: row.sires[0].tag for tag, row in rows.items()} == placed
    # The first day with the bull, 1 June, and 283 days: 11 March.
    assert rows["Tyne"].first_due == date(2027, 3, 11)
    assert rows["Tyne"].first_calving
    assert keys.count <= len("Pentland throws small calves") + 9

    keys.press(K.Key_Z, CONTROL)
    keys.qtbot.waitUntil(lambda: not page.plan_line.isVisible(), timeout=10_000)
    keys.settle()
    assert due(herd) == {}
    keys.press(K.Key_Z, CONTROL)
    assert {f.tag for group in page.result.groups for f in group.females} == {"Eden", "Lune", "Kent"}
    assert keys.window.desk.failed == []


def test_two_ways_tried_compared_and_the_better_accepted(keys: Keys, herd: Herd) -> None:
    """Kept as it is; Lune sold and the others set again, kept too; side by side; the first accepted."""
    keys.to_sort()
    page = keys.page
    keys.press(K.Key_S, CONTROL)
    keys.dialog()
    keys.press(K.Key_Return, CONTROL)  # under the name that is offered
    keys.back()
    assert page.board.choose(herd.id["Lune"])
    keys.press(K.Key_L)
    keys.press(K.Key_S)
    keys.press(K.Key_S, CONTROL)
    keys.dialog()
    keys.press(K.Key_Return, CONTROL)
    keys.back()
    keys.press(K.Key_O)
    keys.dialog()
    keys.press(K.Key_Down)  # to the first version
    keys.press(K.Key_C)
    side = keys.dialog()
    keys.qtbot.waitUntil(lambda: side.females is not None)
    assert [row.label for row in side.females.model.rows] == ["Lune"]
    keys.press(K.Key_Escape)
    keys.dialog()
    keys.press(K.Key_Return, CONTROL)
    keys.back()
    keys.qtbot.waitUntil(page.plan_line.isVisible, timeout=10_000)
    keys.settle()
    assert "Season 2026, version 1" in page.head.plan_text.text()
    assert set(due(herd)) == {"Eden", "Lune", "Kent"}
    assert keys.count <= 14
    keys.press(K.Key_Z, CONTROL)
    keys.qtbot.waitUntil(lambda: not page.plan_line.isVisible(), timeout=10_000)
    keys.settle()
    assert due(herd) == {}
    assert keys.window.desk.failed == []
