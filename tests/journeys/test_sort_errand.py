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


def test_sort_move_accept_and_undo(qtbot: QtBot, window: MainWindow, herd: Herd) -> None:
    """Keys only, from the list of pages to the due list and back."""

    def press(key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        qtbot.keyClick(QApplication.focusWidget() or window, key, modifier)

    def settled() -> None:
        qtbot.waitUntil(lambda: not window.desk.jobs.busy, timeout=10_000)

    def due() -> dict[str, Any]:
        with herd.book.read() as conn:
            return {row.tag: row for row in due_list(conn, AUTUMN)}

    assert due() == {}
    press(K.Key_5, CONTROL)
    page: Any = window.page
    assert page.key == "sort"
    qtbot.waitUntil(lambda: page.result is not None, timeout=10_000)
    settled()
    assert "proven best" in page.figures.text()

    if window.rail.hasFocus():
        press(K.Key_F6)
    # To Tyne, in the column of those not bred: it is beside the two bulls.
    qtbot.waitUntil(lambda: page.board.isAncestorOf(QApplication.focusWidget()))
    press(K.Key_Right)
    press(K.Key_Right)
    press(K.Key_Home)
    assert page.card.female == herd.id["Tyne"]
    press(K.Key_2)
    dialog = page.findChild(ReasonDialog)
    qtbot.waitUntil(dialog.isActiveWindow)
    qtbot.keyClicks(QApplication.focusWidget(), "Pentland throws small calves")
    press(K.Key_Return)
    qtbot.waitUntil(lambda: herd.id["Tyne"] in page.result.choices)
    placed = {f.tag: group.tag for group in page.result.groups for f in group.females}
    assert set(placed) == {"Eden", "Lune", "Kent", "Tyne"}
    assert placed["Kent"] == placed["Tyne"] == "Pentland"

    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    press(K.Key_Return, CONTROL)
    qtbot.waitUntil(page.plan_line.isVisible, timeout=10_000)
    settled()
    assert window.desk.asked == ["Accept this sort?"]
    rows = due()
    assert set(rows) == set(placed)
    assert {tag: row.sires[0].tag for tag, row in rows.items()} == placed
    # The first day with the bull, 1 June, and 283 days: 11 March.
    assert rows["Tyne"].first_due == date(2027, 3, 11)
    assert rows["Tyne"].first_calving

    press(K.Key_Z, CONTROL)
    qtbot.waitUntil(lambda: not page.plan_line.isVisible(), timeout=10_000)
    settled()
    assert due() == {}
    assert window.desk.failed == []
