"""An old line about to end: found on Bloodlines, carried on by a heifer calf, and the page follows."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.queries.bloodlines import Bloodlines, bloodlines
from tests.services.conftest import Herd
from tests.ui.chores_keys import ChoresKeeper

ON = date(2026, 4, 1)
K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[ChoresKeeper]:
    """Return a keeper before Chores: of Nith's line only Esk of 2012 is left; of Lune's there are two."""
    herd = Herd(Book.create(tmp_path / "moor.herdbook", who="keeper"), ON)
    herd.add("B1", "M", date(2021, 3, 1), name="Cheviot")
    herd.add("1", "F", date(2006, 3, 1), name="Nith", here=False)
    herd.add("2", "F", date(2012, 3, 1), name="Esk", dam=herd.id["1"])
    herd.add("3", "F", date(2018, 3, 1), name="Lune")
    herd.add("4", "F", date(2022, 3, 1), name="Tees", dam=herd.id["3"])
    keeper = ChoresKeeper(qtbot, qapp, herd)
    yield keeper
    keeper.close()


def told(keeper: ChoresKeeper) -> Bloodlines:
    """Return what the book says of the bloodlines."""
    found: Bloodlines = keeper.herd.ask(bloodlines, on=ON)
    return found


def into_page(keeper: ChoresKeeper) -> None:
    """Bring the keys from the list of pages into the page, as F6 does."""
    if keeper.window.rail.hasFocus():
        keeper.press(K.Key_F6)
    keeper.wait(lambda: keeper.page.isAncestorOf(QApplication.focusWidget()))


def test_a_line_is_found_and_saved(keeper: ChoresKeeper) -> None:
    """Ctrl+7, T, the first row; her heifer calf is entered on Chores; the line hangs on her no longer."""
    keeper.press(K.Key_7, CONTROL)
    keeper.calm()
    into_page(keeper)
    keeper.press(K.Key_T)
    row = keeper.page.lines.table.row()
    assert (row.first.tag, row.through.tag, row.presses) == ("1", "2", True)

    keeper.press(K.Key_3, CONTROL)
    keeper.calm()
    into_page(keeper)
    keeper.enter("2")
    keeper.enter()
    keeper.type("h")
    keeper.press(K.Key_Return, CONTROL)
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait(lambda: told(keeper).animals == 5)
    keeper.calm()
    nith = next(line for line in told(keeper).lines if line.first.tag == "1" and line.kind == "female")
    assert (nith.living, nith.through) == (2, None)

    keeper.press(K.Key_7, CONTROL)
    keeper.calm()
    first = [line.first.tag for line in keeper.page._lines_model.rows if line.kind == "alone"]
    assert "1" not in first
    keeper.press(K.Key_Z, CONTROL)
    keeper.wait(lambda: "1" in [ln.first.tag for ln in keeper.page._lines_model.rows if ln.kind == "alone"])
