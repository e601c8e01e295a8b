"""Buttons that go on in a second line where the window is too narrow."""

from __future__ import annotations

from PySide6.QtWidgets import QPushButton, QWidget
from pytestqt.qtbot import QtBot

from herdbook.ui.wrap import WrappingLine
from tests.ui.conftest import show


def _line(qtbot: QtBot) -> tuple[QWidget, list[QPushButton]]:
    whole = QWidget()
    line = WrappingLine()
    whole.setLayout(line)
    buttons = [QPushButton(f"Button {n}") for n in range(4)]
    for button in buttons:
        line.addWidget(button)
    qtbot.addWidget(whole)
    return whole, buttons


def test_one_line_where_there_is_room_and_more_where_not(qtbot: QtBot) -> None:
    whole, buttons = _line(qtbot)
    wide = sum(button.sizeHint().width() for button in buttons)
    whole.resize(2 * wide, 60)
    show(qtbot, whole)
    assert len({button.y() for button in buttons}) == 1
    whole.resize(wide // 2 + 30, 200)
    assert len({button.y() for button in buttons}) > 1
    assert all(button.width() >= button.sizeHint().width() for button in buttons)
    assert all(button.geometry().right() < whole.width() for button in buttons)


def test_what_is_hidden_takes_no_room(qtbot: QtBot) -> None:
    whole, buttons = _line(qtbot)
    whole.resize(800, 60)
    show(qtbot, whole)
    place = buttons[1].x()
    buttons[0].hide()
    whole.layout().activate()
    assert buttons[1].x() < place
    assert whole.layout().heightForWidth(10) > whole.layout().heightForWidth(800)
