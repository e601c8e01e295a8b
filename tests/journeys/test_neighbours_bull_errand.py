"""A cow was found across the river: the neighbour's bull goes into the book, his forebears stay not known."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.husbandry.trust import Depth, Trust
from herdbook.services.pedigree import load_pedigree, sires_of
from herdbook.ui.register.sheets import kin_text
from tests.journeys.test_register_errand import begin, find
from tests.ui.real_book import Keeper, small_herd

K = Qt.Key


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before the first page of a small herd's book, a year on."""
    herd = small_herd(tmp_path / "moor.herdbook")
    herd.on = date(2027, 3, 20)
    keeper = Keeper(qtbot, qapp, herd, first="today")
    yield keeper
    keeper.close()


def test_the_neighbours_bull(keeper: Keeper) -> None:
    """Enter him, write the days she was with him, record the calf, and read what is known; keys only."""
    keeper.press(K.Key_F6)
    find(keeper, "12", "12 Eden")
    begin(keeper, "outside")
    form = keeper.dialog().form
    assert set(form.entries) == {"tag", "name", "breed", "colour", "note"}
    keeper.type("Beck Farm black bull")
    keeper.save()
    keeper.wait(lambda: keeper.page.heading.text() == "Beck Farm black bull")

    find(keeper, "12", "12 Eden")
    begin(keeper, "bull run")
    keeper.type("beck")
    keeper.wait(lambda: keeper.dialog().form.entries["bulls"].edit.found)
    keeper.press(K.Key_Return)
    form = keeper.dialog().form
    keeper.wait(lambda: form.entries["bulls"].list.count() == 1)
    while not form.entries["day"].isAncestorOf(QApplication.focusWidget()):
        keeper.press(K.Key_Tab)
    keeper.type("10 jun 2026")
    while not form.entries["out"].isAncestorOf(QApplication.focusWidget()):
        keeper.press(K.Key_Tab)
    keeper.type("18 jun 2026")
    keeper.save()

    calf = keeper.herd.calve("12", date(2027, 3, 20), "27/1", name="Tees")
    with keeper.herd.book.read() as conn:
        (sire,) = sires_of(conn, calf)
        pedigree = load_pedigree(conn)
    assert sire.basis == "dates"
    assert pedigree.unnamed == {sire.sire}
    assert pedigree.depth(calf) == Depth(1, 0, 0.5)
    assert pedigree.trust(calf, keeper.herd.id["B1"]) is Trust.NOTHING
    assert pedigree.range_of(calf, keeper.herd.id["B1"]).low == 0.0

    keeper.desk.open_animal(calf)
    keeper.wait(lambda: keeper.page.heading.text() == "27/1 Tees")
    keeper.calm()
    view = keeper.page.view
    keeper.wait(lambda: view._kin is not None)
    assert view._kin.inbreeding == 0.0
    assert kin_text(view._kin) == "Inbreeding not known: a parent is missing."
