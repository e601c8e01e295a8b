"""A heifer too young to be bred and with an entire male is marked on every page that shows her."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.commands.animals import Move
from herdbook.services.commands.happenings import Serve
from herdbook.services.queries.animal import card
from herdbook.services.queries.lists import groups
from herdbook.ui.register.kinds import Chosen, Kind, kinds
from tests.services.conftest import Herd
from tests.ui.real_book import ON, Keeper, small_herd
from tests.ui.test_register import row_of, shown, side_text

K = Qt.Key


def _herd(path: Path) -> Herd:
    """Put a heifer of seven months into the field of the young bull Wharfe."""
    herd = small_herd(path)
    herd.add("25/7", "F", date(2025, 8, 1), name="Rye")
    (field,) = herd.ask(groups)
    herd.do(Move((herd.id["25/7"],), date(2026, 2, 1), field.id))
    return herd


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before the register."""
    keeper = Keeper(qtbot, qapp, _herd(tmp_path / "herd.herdbook"))
    yield keeper
    keeper.close()


def test_the_register_marks_her_row_and_her_card_says_what_to_do(keeper: Keeper) -> None:
    row = row_of(keeper, "25/7")
    assert (row["tag"], row["class"]) == ("25/7 !", "calf too young")
    assert row_of(keeper, "12")["tag"] == "12"
    page = keeper.page
    page.panel.table.setFocus()
    keeper.press(K.Key_Home)
    keeper.press(K.Key_Down, times=shown(keeper).index("25/7"))
    keeper.wait(lambda: "25/7 Rye" in side_text(page.side))
    assert "with an entire male (25/1): part them, or castrate." in side_text(page.side)
    keeper.press(K.Key_Return)
    keeper.wait(lambda: page.view.isVisible())
    keeper.calm()
    assert "ask your vet soon" in side_text(page.view.side)


def test_on_a_day_before_she_has_no_such_mark(keeper: Keeper) -> None:
    keeper.page.strip.entry.edit.setFocus()
    keeper.press(K.Key_A, Qt.KeyboardModifier.ControlModifier)
    keeper.type("2026-01-15")
    keeper.press(K.Key_Return)
    keeper.wait(lambda: "as it stood on" in keeper.page.detail.text())
    keeper.calm()
    keeper.wait(lambda: row_of(keeper, "25/7")["tag"] == "25/7")


def test_a_move_that_brings_her_beside_one_is_asked_about_before_it_is_saved(keeper: Keeper) -> None:
    herd, page = keeper.herd, keeper.page
    herd.add("25/8", "F", date(2025, 8, 3), name="Tyne")
    page.writer.open(_kind("Move into a group"), Chosen((herd.id["25/8"],), "25/8", {herd.id["25/8"]: "F"}))
    dialog = keeper.dialog()
    dialog.form.entries["group"].fill(herd.ask(groups)[0].id)
    keeper.press(K.Key_Return, Qt.KeyboardModifier.ControlModifier)
    keeper.wait(dialog.asking.isVisible)
    assert "then with an entire male (25/1): 25/8 Tyne." in dialog.asking.text()
    assert _group_of(herd, "25/8") is None, "nothing is written before it is answered"
    keeper.press(K.Key_Return)
    keeper.in_window()
    keeper.calm()
    assert _group_of(herd, "25/8") == "Top field"


def test_calving_marks_a_first_calver_bred_too_young(keeper: Keeper) -> None:
    herd = keeper.herd
    herd.do(Serve(herd.id["25/7"], date(2026, 2, 20), sire=herd.id["B1"]))
    keeper.window.go("calving")
    keeper.calm()
    page = keeper.page
    model = page.panel.table.model()
    (row,) = [model.row_at(at) for at in range(model.rowCount())]
    told = {column.key: column.full_text(row) for column in model.columns}
    assert (told["tag"], told["class_"]) == ("25/7 Rye !", "too young")
    keeper.wait(lambda: "6 months old: too young to calve safely" in side_text(page.card))
    assert "Urgent: ask your vet now." in side_text(page.card)


def test_the_sort_marks_her_though_calves_are_folded_away(keeper: Keeper) -> None:
    keeper.window.go("sort")
    keeper.calm()
    page = keeper.page
    keeper.wait(lambda: page.board.columns)
    (row,) = [
        row for column in page.board.columns for row in column.rows if row.animal == keeper.herd.id["25/7"]
    ]
    assert row.care == "too young, with a male"
    assert ("act", "too young, with a male") in row.marks
    assert "(25/1)" in row.tip
    page.card.show_female(page.result, row.animal, ON)
    told = side_text(page.card)
    assert "with an entire male (25/1): part them, or castrate." in told
    assert "10 months old at bull-in; bred from 14." in told


def _kind(label: str) -> Kind:
    return next(kind for kind in kinds() if kind.label == label)


def _group_of(herd: Herd, tag: str) -> str | None:
    with herd.book.read() as conn:
        return card(conn, herd.id[tag], ON).group
