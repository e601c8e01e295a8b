"""An evening with the book: find an animal by part of its tag, write down what was done, put a slip right."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.queries.animal import AnimalCard, card
from tests.ui.real_book import ON, Keeper, small_herd

K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before the first page of a small herd's book."""
    keeper = Keeper(qtbot, qapp, small_herd(tmp_path / "moor.herdbook"), first="today")
    yield keeper
    keeper.close()


def known(keeper: Keeper, tag: str) -> AnimalCard:
    """Return what the book says of an animal, read from the file anew."""
    with keeper.herd.book.read() as conn:
        return card(conn, keeper.herd.id[tag], ON)


def find(keeper: Keeper, text: str, heading: str) -> None:
    """Slash, part of a tag, Enter on the first that is found."""
    keeper.press(K.Key_Slash)
    assert keeper.window.search.hasFocus()
    keeper.type(text)
    keeper.wait(lambda: keeper.window.search.found)
    keeper.press(K.Key_Return)
    keeper.wait(lambda: keeper.page.key == "register" and keeper.page.heading.text() == heading)
    keeper.in_window()


def begin(keeper: Keeper, letters: str) -> None:
    """A, some letters of what happened, Enter: its form is there."""
    keeper.press(K.Key_A)
    keeper.dialog()
    keeper.type(letters)
    keeper.press(K.Key_Return)
    keeper.wait(lambda: hasattr(QApplication.activeModalWidget(), "form"))
    keeper.dialog()


def test_an_evening_with_the_book(keeper: Keeper, tmp_path: Path) -> None:
    """Weigh, treat, wean, castrate, put a weight right, undo; keys only."""
    keeper.press(K.Key_F6)
    find(keeper, "5/1", "25/1 Wharfe")

    begin(keeper, "wei")
    keeper.type("720 lb")
    keeper.save()
    weighed = known(keeper, "25/1").weights[0]
    assert (weighed.day, weighed.unit) == (ON, "lb")
    assert weighed.kg == pytest.approx(326.6, abs=0.05)  # 720 x 0.45359237

    begin(keeper, "treat")
    keeper.type("Pour-on")
    keeper.press(K.Key_Return)
    keeper.type("28")
    keeper.save()
    assert known(keeper, "25/1").clear_on == date(2026, 4, 1)  # the day after the last dose, and 28 days

    begin(keeper, "wean")
    keeper.save()
    assert any(h.kind == "weaning" for h in known(keeper, "25/1").happenings)

    find(keeper, "26", "26/1 Bora")
    begin(keeper, "cas")
    keeper.type("rubber")
    keeper.save()
    assert any(h.words == "castrated (rubber ring)" for h in known(keeper, "26/1").happenings)

    # The birth weight of 36 kg was 38: the line below the castration.
    keeper.wait(lambda: keeper.page.view.happenings.table.hasFocus())
    keeper.wait(lambda: keeper.page.view.happenings.model.rows[0].kind == "castration")
    keeper.press(K.Key_Home, CONTROL)
    while keeper.page.view.happenings.table.row().kind != "weighing":
        keeper.press(K.Key_Down)
    keeper.press(K.Key_C)
    keeper.wait(lambda: hasattr(QApplication.activeModalWidget(), "form"))
    form = keeper.dialog().form
    assert form.entries["kg"].text() == "36"
    while not form.entries["kg"].line.hasFocus():
        keeper.press(K.Key_Tab)
    keeper.type("38")
    keeper.save()
    assert [w.kg for w in known(keeper, "26/1").weights] == [38.0]
    keeper.wait(lambda: keeper.page.view.weights.model.rows[0].kg == 38.0)

    keeper.press(K.Key_Z, CONTROL)
    keeper.wait(lambda: [w.kg for w in known(keeper, "26/1").weights] == [36.0])
    keeper.wait(lambda: keeper.page.view.weights.model.rows[0].kg == 36.0)
    keeper.calm()

    with Book.open(_copied(tmp_path), read_only=True) as book, book.read() as conn:
        again = card(conn, keeper.herd.id["25/1"], ON)
    assert [h.kind for h in again.happenings if h.day == ON].count("weighing") == 1


def _copied(folder: Path) -> Path:
    """Return a copy of the book's file as it lies on the disk, with its log."""
    import shutil

    for path in folder.glob("moor.herdbook*"):
        shutil.copy(path, folder / path.name.replace("moor", "copy"))
    return folder / "copy.herdbook"
