"""Today: the errands in order of need, worked by keys: go there, done, later."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.commands.happenings import Serve
from tests.services.conftest import Herd
from tests.ui.real_book import ON, Keeper, small_herd


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return the window on Today, with Eden due in two days."""
    herd = small_herd(tmp_path / "herd.herdbook")
    herd.do(Serve(herd.id["12"], ON + timedelta(days=2 - 283), sire=herd.id["B1"], how="ai"))
    keeper = Keeper(qtbot, qapp, herd, first="today")
    keeper.page.setFocus()
    yield keeper
    keeper.close()


def texts(keeper: Keeper) -> list[str]:
    """Return the lines as they stand."""
    return [errand.text for errand in keeper.page.panel.table.model().rows]


def test_the_most_pressing_stands_first_with_its_word(keeper: Keeper) -> None:
    """The cow due in two days is first, said in words and not by colour alone; the herd is one line."""
    model = keeper.page.panel.table.model()
    assert texts(keeper)[0].startswith("12 Eden is due about")
    assert model.columns[0].word(model.rows[0]) == ("act", "now")
    assert "to do" in keeper.page.detail.text()
    assert "Bulls 1" in keeper.page.herd.text()
    assert keeper.page.panel.table.row() == model.rows[0]


def test_enter_goes_where_it_is_done(keeper: Keeper) -> None:
    """Enter on the due cow opens Calving."""
    keeper.press(Qt.Key.Key_Return)
    keeper.calm()
    assert keeper.page.key == "calving"


def test_done_takes_it_off_and_undo_brings_it_back(keeper: Keeper) -> None:
    """D takes the line off the list; Ctrl+Z puts it there again."""
    first = texts(keeper)[0]
    keeper.press(Qt.Key.Key_D)
    keeper.wait(lambda: first not in texts(keeper))
    keeper.wait(lambda: keeper.told[-1:] == ["Taken off the list."])  # the list may be read anew before
    keeper.desk.undo()
    keeper.wait(lambda: first in texts(keeper))


def test_later_asks_again_in_a_week(keeper: Keeper) -> None:
    """L puts it off; seven days on it is asked again."""
    castrate = next(line for line in texts(keeper) if "castrate" in line.lower())
    keeper.page.panel.table.selectRow(texts(keeper).index(castrate))
    keeper.press(Qt.Key.Key_L)
    keeper.wait(lambda: castrate not in texts(keeper))
    keeper.herd.on = ON + timedelta(days=7)
    keeper.page.refresh()
    keeper.wait(lambda: any("castrate" in line.lower() for line in texts(keeper)))


def test_an_empty_book_says_what_to_do_first(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> None:
    """One sentence and one button, which leads to the register."""
    keeper = Keeper(
        qtbot, qapp, Herd(Book.create(tmp_path / "new.herdbook"), date(2026, 3, 3)), first="today"
    )
    keeper.calm()
    button = keeper.page.panel.empty_button
    assert keeper.page.panel.empty_text.text().startswith("This book is empty.")
    assert button.isVisible()
    button.setFocus()
    keeper.press(Qt.Key.Key_Return)
    keeper.calm()
    assert keeper.page.key == "register"
    keeper.close()
