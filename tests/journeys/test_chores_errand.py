"""The book after chores: two births, five weights, a treatment, a slip taken back, and the book closed."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.queries.animal import card
from herdbook.services.queries.find import find
from tests.services.conftest import Herd
from tests.ui.chores_keys import ChoresKeeper, chores_herd
from tests.ui.real_book import ON

K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier


def test_after_chores(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> None:
    """Keys only, from the first page to the closed book, and what stands in the file then."""
    path = tmp_path / "moor.herdbook"
    herd = chores_herd(path)
    keeper = ChoresKeeper(qtbot, qapp, herd)
    before = keeper.written()

    # Eden's heifer; then the nearest due by the list, whose calf came last night and was pulled.
    keeper.enter("12")
    keeper.enter()
    keeper.enter("h")
    keeper.enter()
    keeper.enter("34")
    keeper.press(K.Key_Return, times=2)
    keeper.wait_written("calf 26/2 of 12")
    keeper.press(K.Key_Return, times=2)
    keeper.wait(lambda: keeper.page.births.line.entries["day"].line.hasFocus())
    keeper.enter("yesterday")
    keeper.enter("b")
    keeper.enter()
    keeper.enter("88 lb")
    keeper.enter("3")
    keeper.enter()
    keeper.wait_written("calf 26/3 of 21")

    # Five weights down the column, the whole herd in order of tags.
    keeper.press(K.Key_F8)
    keeper.enter()
    keeper.wait(lambda: keeper.page.weights.table.editor() is not None)
    for text in ("612", "580", "1340 lb", "595"):
        keeper.enter(text)
    keeper.enter("344")
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait(lambda: "weighing" in keeper.written()[0])
    assert keeper.written()[0].startswith("weighing of 3, 7, 12")

    # A treatment of two; the days for meat from the label.
    keeper.press(K.Key_F9)
    keeper.enter("7")
    keeper.enter("25/1")
    keeper.press(K.Key_Return, times=3)
    keeper.enter("Pour-on")
    keeper.enter("28")
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait_written("treatment of 7, 25/1")

    # A third birth by mistake, taken back.
    keeper.press(K.Key_F7)
    keeper.enter("Nith")
    keeper.enter()
    keeper.type("b")
    keeper.press(K.Key_Return, CONTROL)
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait_written("calf 26/4 of 3")
    keeper.undo()
    keeper.wait_written("treatment of 7, 25/1")
    assert keeper.standing() == len(before) + 4

    # Half a line more, and the book is closed.
    keeper.type("Ni")
    keeper.press(K.Key_Q, CONTROL)
    keeper.wait(lambda: not keeper.window.isVisible())
    keeper.close()

    with Book.open(path, who="keeper") as book, book.read() as conn:
        eden = card(conn, herd.id["12"], ON)
        assert [child.tag for child in eden.offspring] == ["25/1", "26/2"]
        assert [w.kg for w in eden.weights][:1] == [pytest.approx(607.814, abs=0.001)]  # 1340 x 0.45359237
        (calf,) = [one for one in find(conn, "26/3", ON) if one.tag == "26/3"]
        kent = card(conn, calf.id, ON)
        assert kent.weights[0].kg == pytest.approx(39.916, abs=0.001)  # 88 x 0.45359237
        assert find(conn, "26/4", ON) == []
    second = ChoresKeeper(qtbot, qapp, Herd(Book.open(path, who="keeper"), ON, herd.id))
    assert second.page.births.line.entries["dam"].edit.text() == "Ni"
    assert second.standing() == len(before) + 4
    second.close()
