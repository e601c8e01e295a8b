"""The laboratory's letters have come: write two results down, see who must not meet, undo one."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.history import entry_words
from herdbook.services.queries.animal import card
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper

ON = date(2026, 5, 1)
K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before a book with one bull and two cows that calved in March."""
    h = Herd(Book.create(tmp_path / "moor.herdbook", who="keeper"), ON)
    h.add("Cheviot", "M", date(2021, 3, 1))
    for tag in ("Tarn", "Lune"):
        h.add(tag, "F", date(2019, 3, 1))
        h.calve(tag, date(2026, 3, 10), f"{tag} calf", sex="M")
    keeper = Keeper(qtbot, qapp, h, first="today")
    yield keeper
    keeper.close()


def write_result(keeper: Keeper, tag: str) -> None:
    """Find the animal, write a gene test down: curly calf, carrier, the laboratory."""
    keeper.press(K.Key_Slash)
    keeper.type(tag)
    keeper.wait(lambda: keeper.window.search.found)
    keeper.press(K.Key_Return)
    keeper.wait(lambda: keeper.page.key == "register" and keeper.page.heading.text() == tag)
    keeper.in_window()
    keeper.press(K.Key_A)
    keeper.dialog()
    keeper.type("genetic")
    keeper.press(K.Key_Return)
    keeper.wait(lambda: hasattr(QApplication.activeModalWidget(), "form"))
    form = keeper.dialog().form
    keeper.wait(lambda: form.entries["condition"].combo.count() > 10)
    form.focus("condition")
    keeper.type("arth")  # typing goes to the name that begins so
    keeper.press(K.Key_Return)
    keeper.type("carr")
    keeper.press(K.Key_Return)
    keeper.type("North laboratory")
    keeper.save()


def test_two_results_keep_a_pair_apart(keeper: Keeper) -> None:
    """Keys only: results in the Register, the reason and the sign on Sort, undo, sorted again."""
    keeper.press(K.Key_F6)
    write_result(keeper, "Cheviot")
    write_result(keeper, "Tarn")
    words = [h.words for h in keeper.herd.ask(card, keeper.herd.id["Tarn"], on=ON).happenings]
    assert any(w.endswith("(curly calf, AM): carrier (one copy), North laboratory") for w in words)
    keeper.wait(lambda: _side_says(keeper, "(curly calf, AM): carrier"))

    keeper.press(K.Key_5, CONTROL)
    keeper.wait(lambda: keeper.page.key == "sort" and keeper.page.result is not None)
    keeper.calm()
    page = keeper.page
    assert {n.tag: n.code for n in page.result.not_bred}["Tarn"] == "affected_calf"
    assert [f.tag for group in page.result.groups for f in group.females] == ["Lune"]
    assert "1 at genetic risk" in page.figures.text()  # Lune is not tested

    keeper.press(K.Key_Z, CONTROL)
    keeper.wait(lambda: "Tarn" in {f.tag for g in page.result.groups for f in g.females})
    keeper.calm()
    assert keeper.herd.ask(card, keeper.herd.id["Tarn"], on=ON).happenings[0].kind != "genetic_test"
    assert entry_words(keeper.herd.book.history(1)[0]) == "taken back: gene test of Tarn"


def _side_says(keeper: Keeper, words: str) -> bool:
    return any(words in label.text() for label in keeper.page.view.side.findChildren(QLabel))
