"""A steer to the butcher: weigh him, book a day, put him on it for a reason, take it back, print the list."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from herdbook.app import program
from herdbook.husbandry.partday import PartDay
from herdbook.services.book import Book
from herdbook.services.commands.happenings import Serve, Treat, Weigh
from herdbook.services.queries.butcher import finishing_list
from herdbook.services.queries.diary import booked_days
from herdbook.ui.desk import Outlets
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper

ON = date(2026, 8, 1)
K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before Today: Mistral had medicine two days ago, and Eden is in calf."""
    herd = Herd(Book.create(tmp_path / "moor.herdbook", who="keeper"), ON)
    herd.add("24/7", "M", PartDay(date(2024, 4, 15)), name="Mistral", castrated=True)
    herd.do(Weigh(herd.id["24/7"], date(2026, 4, 23), kg=450.0))
    herd.do(Treat(herd.id["24/7"], date(2026, 7, 30), product="drench", meat_days=14.0))
    herd.add("12", "F", PartDay(date(2019, 3, 1)), name="Eden")
    herd.add("B1", "M", PartDay(date(2021, 3, 1)), name="Cheviot")
    herd.do(Serve(herd.id["12"], date(2026, 6, 1), sire=herd.id["B1"]))
    keeper = Keeper(qtbot, qapp, herd, first="today")
    keeper.desk.outlets = Outlets(program._export, program._paper)
    yield keeper
    keeper.close()


def steer(keeper: Keeper) -> Any:
    """Return what the book says of him."""
    (row,) = keeper.herd.ask(finishing_list, on=ON)
    return row


def into_page(keeper: Keeper) -> None:
    """Bring the keys from the list of pages into the page, as F6 does."""
    if keeper.window.rail.hasFocus():
        keeper.press(K.Key_F6)
    keeper.wait(lambda: keeper.page.isAncestorOf(QApplication.focusWidget()))


def test_weigh_book_put_on_and_undo(keeper: Keeper) -> None:
    """Keys only, from Today to the booked day and back."""
    keeper.press(K.Key_6, CONTROL)
    keeper.calm()
    into_page(keeper)
    assert keeper.page.finishing.table.row().tag == "24/7"
    assert not steer(keeper).gain_measured

    keeper.press(K.Key_W)
    keeper.dialog().form.entries["kg"].setFocus()
    keeper.type("530")
    keeper.save()
    assert steer(keeper).weight_kg == 530.0
    assert steer(keeper).daily_gain_kg == 0.8  # 80 kg in 100 days
    assert steer(keeper).ready_on == ON

    into_page(keeper)
    keeper.press(K.Key_B)
    keeper.dialog().form.entries["day"].setFocus()
    keeper.type("2026-08-10")
    keeper.save()
    keeper.wait(lambda: len(keeper.page._days) == 1)

    into_page(keeper)
    keeper.press(K.Key_Return)
    choice = keeper.dialog()
    keeper.press(K.Key_Return)
    keeper.wait(lambda: QApplication.activeModalWidget() not in (None, choice))
    keeper.dialog()
    keeper.type("the vet says nine days do")
    keeper.press(K.Key_Return)
    keeper.in_window()
    assert steer(keeper).booked_on == date(2026, 8, 10)
    (day,) = keeper.herd.ask(booked_days, on=ON)
    assert [(one.tag, one.override) for one in day.booked] == [("24/7", "the vet says nine days do")]
    assert [caution.code for caution in steer(keeper).cautions] == ["medicine_runs"]

    keeper.press(K.Key_Z, CONTROL)
    keeper.wait(lambda: steer(keeper).booked_on is None)
    keeper.calm()
    assert keeper.page.finishing.table.row().booked_on is None


def test_print_the_due_list(keeper: Keeper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl+8, Enter: a paper that says who calves when."""
    path, opened = tmp_path / "due.pdf", []
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda url: opened.append(url.toLocalFile()))
    keeper.press(K.Key_8, CONTROL)
    keeper.calm()
    into_page(keeper)
    keeper.press(K.Key_Return)
    keeper.wait(lambda: opened == [str(path)])
    document = pypdfium2.PdfDocument(path)
    text = document[0].get_textpage().get_text_range()
    document.close()
    assert "12 Eden" in text
    assert "11 Mar 2027" in text  # 1 June and 283 days
    assert "B1 Cheviot" in text
