"""Settings, history and welcome: every setting is a question, acts are told in words, three ways to begin."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.commands.happenings import Weigh
from herdbook.services.settings import BookSettings, load_settings
from herdbook.ui import theme
from herdbook.ui.books.welcome import Welcome
from herdbook.ui.history.dialog import HistoryDialog
from herdbook.ui.settings.dialog import SettingsDialog
from tests.ui.conftest import show
from tests.ui.real_book import ON, Keeper, small_herd

CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return the window on a small herd."""
    keeper = Keeper(qtbot, qapp, small_herd(tmp_path / "herd.herdbook"), first="today")
    keeper.desk.settings = BookSettings()
    yield keeper
    keeper.close()


def settings(keeper: Keeper) -> BookSettings:
    """Return what the book holds."""
    with keeper.herd.book.read() as conn:
        return load_settings(conn)


def test_only_what_was_changed_is_saved_in_one_act(keeper: Keeper) -> None:
    """The limit typed in per cent and the bull-in day are one act; Undo takes both back."""
    SettingsDialog(keeper.desk, keeper.window).open()
    dialog = keeper.dialog()
    acts = len(keeper.herd.book.history())
    assert dialog.form.entries["inbreeding_limit"].text() == "6.25 %"
    for name, text in (("inbreeding_limit", "3"), ("usual_bull_in", "15 May")):
        dialog.form.focus(name)
        dialog.form.entries[name].edit.selectAll()
        keeper.type(text)
    keeper.press(Qt.Key.Key_Return, CONTROL)
    keeper.in_window()
    assert (settings(keeper).inbreeding_limit, settings(keeper).usual_bull_in) == (0.03, "05-15")
    assert len(keeper.herd.book.history()) == acts + 1
    keeper.herd.book.undo()
    assert settings(keeper) == BookSettings()


def test_every_setting_is_asked_and_unchanged_ones_write_nothing(keeper: Keeper) -> None:
    """Saving what stands there already leaves no act behind."""
    SettingsDialog(keeper.desk, keeper.window).open()
    dialog = keeper.dialog()
    assert set(dialog.form.entries) == set(BookSettings.__dataclass_fields__)
    acts = len(keeper.herd.book.history())
    keeper.press(Qt.Key.Key_Return, CONTROL)
    keeper.in_window()
    assert len(keeper.herd.book.history()) == acts


def test_history_tells_acts_in_words_and_takes_the_last_back(keeper: Keeper) -> None:
    """The latest act stands first; undone, it is marked by a word, and can be done again."""
    keeper.herd.do(Weigh(keeper.herd.id["25/1"], ON, kg=333.0))
    HistoryDialog(keeper.desk, keeper.window).open()
    dialog = keeper.dialog()
    keeper.calm()
    table = dialog.panel.table.model()
    what = table.columns[1]
    assert what.text(table.rows[0]) == "weight of 25/1"
    dialog.undo.setFocus()
    keeper.press(Qt.Key.Key_Return)
    keeper.wait(lambda: what.text(table.rows[0]) == "taken back: weight of 25/1")
    assert what.word(table.rows[1]) == ("quiet", "taken back")
    dialog.redo.setFocus()
    keeper.press(Qt.Key.Key_Return)
    keeper.wait(lambda: what.text(table.rows[0]) == "done again: weight of 25/1")
    keeper.calm()
    dialog.accept()


def test_welcome_begins_in_three_ways(qtbot: QtBot, qapp: QApplication) -> None:
    """The first button has the focus; Tab and Enter reach the others; why no book is open is said."""
    theme.apply(qapp, "light")
    begun: list[str] = []
    welcome = Welcome(
        lambda: begun.append("new"),
        lambda: begun.append("open"),
        lambda: begun.append("demo"),
        "The file is gone. Nothing was changed.",
    )
    qtbot.addWidget(welcome)
    show(qtbot, welcome)
    assert welcome.message.isVisible()
    for _ in range(3):
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    assert begun == ["new", "open", "demo"]
