"""Escape empties a line of the Chores page, and Ctrl+Z puts back what stood in it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.ui.chores_keys import ChoresKeeper, chores_herd

K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[ChoresKeeper]:
    """Return a keeper before the Chores page."""
    keeper = ChoresKeeper(qtbot, qapp, chores_herd(tmp_path / "moor.herdbook"))
    yield keeper
    keeper.close()


def half_a_birth(keeper: ChoresKeeper) -> Any:
    """Type a birth with a twin, short of saving it, and return its cells."""
    keeper.enter("12")
    keeper.enter("yesterday")
    keeper.enter("h")
    keeper.press(K.Key_T, CONTROL)
    keeper.type("b")
    keeper.calm()
    return keeper.page.births.line.entries


def test_what_escape_emptied_comes_back(keeper: ChoresKeeper) -> None:
    """Twin and all, on the screen and among what is kept half typed; it is saved as if never emptied."""
    sheet, before = keeper.page.births, keeper.standing()
    half_a_birth(keeper)
    stood = sheet.half_typed()
    keeper.press(K.Key_Escape)
    assert sheet.dam.edit.text() == ""
    assert "sex-1" not in sheet.line.entries
    assert "Ctrl+Z puts back" in sheet.restored.text()
    assert sheet.restored.isVisible()
    assert keeper.page.drafts.get("births") is None
    keeper.undo()
    keeper.wait(lambda: sheet.dam.value() == keeper.herd.id["12"])
    assert sheet.half_typed() == stood
    assert keeper.page.drafts.get("births") == stood
    assert keeper.standing() == before, "nothing in the book was undone"
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait_written("calf 26/2, 26/3 of 12")


def test_it_comes_back_once_and_not_after_something_else_was_typed(keeper: ChoresKeeper) -> None:
    sheet = keeper.page.births
    half_a_birth(keeper)
    keeper.press(K.Key_Escape)
    keeper.type("2")
    assert not sheet.restored.isVisible()
    keeper.press(K.Key_Escape)
    keeper.press(K.Key_Escape)  # the first may put the list of animals away
    assert not sheet.return_emptied() or sheet.dam.edit.text() == "2", "the birth is not what comes back"


def test_an_empty_line_has_nothing_to_put_back(keeper: ChoresKeeper) -> None:
    """Ctrl+Z takes back what was saved last then, as before."""
    keeper.press(K.Key_Escape)
    assert not keeper.page.births.restored.isVisible()
    assert not keeper.page.births.return_emptied()


def test_a_round_comes_back_with_its_animals(keeper: ChoresKeeper) -> None:
    keeper.press(K.Key_F9)
    sheet = keeper.page.rounds
    sheet.give((keeper.herd.id["12"], keeper.herd.id["7"]), "castration")
    keeper.calm()
    keeper.press(K.Key_Escape)
    assert sheet.animals.value() is None
    keeper.undo()
    keeper.wait(lambda: sheet.animals.value() == (keeper.herd.id["12"], keeper.herd.id["7"]))
    assert sheet.work.value() == "castration"
