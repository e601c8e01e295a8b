"""The list of heritable conditions over the window, by keys on a real book."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot

from herdbook.services.commands.genetics import TestGenes
from herdbook.services.queries.conditions import load_conditions
from herdbook.ui.forms.conditions import ConditionEntry
from herdbook.ui.genetics.dialog import ConditionsDialog
from tests.ui.real_book import ON, Keeper, small_herd

K = Qt.Key


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before a small herd's book, with one test in it."""
    herd = small_herd(tmp_path / "moor.herdbook")
    herd.do(TestGenes(herd.id["B1"], ON, "dd", "carrier"))
    keeper = Keeper(qtbot, qapp, herd)
    yield keeper
    keeper.close()


def opened(keeper: Keeper) -> ConditionsDialog:
    """Open the list and wait for its rows."""
    dialog = ConditionsDialog(keeper.desk, keeper.window)
    dialog.open()
    keeper.wait(lambda: dialog.model.rows)
    dialog.activateWindow()
    keeper.wait(dialog.isActiveWindow)
    return dialog


def said(dialog: ConditionsDialog) -> str:
    """Return all that the card says."""
    return "\n".join(label.text() for label in dialog.card.findChildren(QLabel))


def frequency(keeper: Keeper, key: str) -> float:
    """Return a condition's frequency as the file has it."""
    with keeper.herd.book.read() as conn:
        return next(c.frequency for c in load_conditions(conn) if c.key == key)


def test_a_frequency_is_changed_and_undone(keeper: Keeper) -> None:
    """What has results stands first; Enter changes it; each fact says how it is known."""
    dialog = opened(keeper)
    keeper.wait(lambda: dialog.table.hasFocus())
    keeper.press(K.Key_Home)
    row = dialog.table.row()
    assert (row.condition.key, row.results) == ("dd", 1)
    words = said(dialog)
    assert "50\N{NO-BREAK SPACE}% show it" in words.replace(" %", "\N{NO-BREAK SPACE}%")
    assert "002103-9913" in words
    assert "seen on OMIA page" in words
    keeper.press(K.Key_Return)
    keeper.wait(lambda: hasattr(QApplication.activeModalWidget(), "form"))
    form = keeper.dialog().form
    form.focus("frequency")
    keeper.press(K.Key_A, Qt.KeyboardModifier.ControlModifier)
    keeper.type("3")
    keeper.press(K.Key_Return, Qt.KeyboardModifier.ControlModifier)
    keeper.wait(lambda: frequency(keeper, "dd") == pytest.approx(0.03))
    keeper.wait(lambda: "3.0" in said(dialog))
    keeper.herd.book.undo()
    assert frequency(keeper, "dd") == 0.01
    keeper.calm()
    dialog.accept()


def test_a_condition_is_added_and_then_offered(keeper: Keeper) -> None:
    """A makes a new one; the form of a test offers it by name, and keeps a word that is in no list."""
    dialog = opened(keeper)
    keeper.wait(lambda: dialog.table.hasFocus())
    keeper.press(K.Key_A)
    keeper.wait(lambda: hasattr(QApplication.activeModalWidget(), "form"))
    keeper.dialog()
    keeper.type("Short tail")
    keeper.press(K.Key_Return, Qt.KeyboardModifier.ControlModifier)
    keeper.wait(lambda: any(r.condition.key == "short tail" for r in dialog.model.rows))
    dialog.accept()
    keeper.calm()
    from herdbook.services.asking import questions

    question = next(q for q in questions(TestGenes) if q.name == "condition")
    entry = ConditionEntry(question, keeper.desk)
    keeper.qtbot.addWidget(entry)
    entry.fill("old word")
    keeper.calm()
    keeper.wait(lambda: entry.combo.findText("Short tail") >= 0)
    assert entry.value() == "old word"
    entry.fill("short tail")
    assert entry.value() == "short tail"
    assert entry.combo.findText("Polled or horned") >= 0
