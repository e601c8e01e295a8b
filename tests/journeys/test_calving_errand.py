"""A night at calving: see who is next, write the birth down, find the calf, take it back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from herdbook.services.book import Book
from herdbook.services.commands.happenings import CheckPregnancy, Serve
from herdbook.services.queries.animal import AnimalCard, card
from herdbook.services.queries.due import due_list
from herdbook.store import tables as t
from tests.ui.real_book import ON, Keeper, small_herd

K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before Today; Eden is due in two days, Kent, a heifer, in three weeks."""
    herd = small_herd(tmp_path / "moor.herdbook")
    herd.add("24/3", "F", ON - timedelta(days=720), name="Kent")
    for tag, ahead in (("12", 2), ("24/3", 21)):
        served = ON + timedelta(days=ahead - 283)
        herd.do(Serve(herd.id[tag], served, sire=herd.id["B1"]))
        herd.do(CheckPregnancy(herd.id[tag], served + timedelta(days=40), result="pregnant"))
    keeper = Keeper(qtbot, qapp, herd, first="today")
    yield keeper
    keeper.close()


def due(book: Book) -> list[str]:
    """Return who is to calve by the book, soonest first."""
    with book.read() as conn:
        return [row.tag for row in due_list(conn, ON)]


def calf(book: Book, tag: str) -> AnimalCard | None:
    """Return what the book says of a calf."""
    with book.read() as conn:
        animal = conn.scalar(select(t.Animal.id).where(t.Animal.tag == tag))
        return None if animal is None else card(conn, animal, ON)


def test_a_birth_in_the_night(keeper: Keeper) -> None:
    """From Today to the list, the birth, the calf in the register, and back; keys only."""
    book = keeper.herd.book
    keeper.press(K.Key_4, CONTROL)
    page = keeper.page
    assert page.key == "calving"
    keeper.in_window()
    assert [row.tag for row in page._model.rows] == ["12", "24/3"] == due(book)
    if keeper.window.rail.hasFocus():
        keeper.press(K.Key_F6)
    keeper.press(K.Key_Home)
    assert page.panel.table.row().tag == "12"

    keeper.press(K.Key_C)
    dialog = keeper.dialog()
    keeper.calm()
    offered = dialog.form.calves[0].tag.text()
    assert offered == "26/2"  # 26/1 was the last
    keeper.type("b")  # a bull calf
    keeper.press(K.Key_Return, times=2)
    keeper.type("38")
    keeper.press(K.Key_Return)
    keeper.type("1")
    keeper.press(K.Key_Return, CONTROL)  # lay, vigour and the rest are left as they are
    keeper.in_window()
    keeper.wait(lambda: [row.tag for row in page._model.rows] == ["24/3"])
    assert keeper.told[-1] == "12 Eden calved: bull calf 26/2."
    assert due(book) == ["24/3"]
    born = calf(book, "26/2")
    assert born is not None
    assert (born.sex, born.class_, born.present) == ("M", "calf", True)
    assert [(weight.kg, weight.stage) for weight in born.weights] == [(38.0, "birth")]
    assert [sire.tag for sire in born.sires] == ["B1"]
    assert born.dam is not None
    assert born.dam.tag == "12"

    keeper.press(K.Key_Slash)
    keeper.type("26/2")
    keeper.wait(lambda: keeper.window.search.found)
    keeper.press(K.Key_Return)
    keeper.wait(lambda: keeper.page.key == "register" and keeper.page.heading.text() == "26/2")
    keeper.in_window()

    keeper.press(K.Key_Z, CONTROL)
    keeper.wait(lambda: due(book) == ["12", "24/3"])
    assert calf(book, "26/2") is None
    keeper.calm()
    keeper.press(K.Key_4, CONTROL)
    keeper.wait(lambda: [row.tag for row in page._model.rows] == ["12", "24/3"])


def test_today_leads_to_her(keeper: Keeper) -> None:
    """Enter on what Today says of a birth to come chooses the female on the Calving page."""
    keeper.press(K.Key_F6)
    table = keeper.page.panel.table
    rows = keeper.page._model.rows
    place = next(n for n, row in enumerate(rows) if row.page == "calving")
    keeper.press(K.Key_Home)
    keeper.press(K.Key_Down, times=place)
    assert table.row().page == "calving"
    keeper.press(K.Key_Return)
    keeper.wait(lambda: keeper.page.key == "calving")
    keeper.calm()
    assert keeper.page.panel.table.row().animal == rows[place].what[0]
