"""The season summary on the Papers page: its lines, its order, and the paper by a key."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.commands.happenings import CheckPregnancy
from herdbook.services.commands.running import TurnIn
from tests.papers.reading import pages
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper

ON = date(2026, 12, 1)


@pytest.fixture
def keeper(
    qtbot: QtBot, qapp: QApplication, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Keeper]:
    """Return a keeper before the papers, of a herd with two seasons."""
    herd = Herd(Book.create(tmp_path / "h.herdbook", who="keeper"), ON)
    herd.add("B1", "M", date(2021, 3, 1), name="Cheviot")
    for cow in ("Eden", "Lune", "Kent"):
        herd.add(cow, "F", date(2019, 3, 1), calved_before=True)
    cows = tuple(herd.id[tag] for tag in ("Eden", "Lune", "Kent"))
    herd.do(TurnIn((herd.id["B1"],), cows, date(2025, 6, 1), date(2025, 8, 2)))
    herd.do(CheckPregnancy(herd.id["Kent"], date(2025, 9, 10), result="open"))
    for tag, calf in (("Eden", "26/1"), ("Lune", "26/2")):
        herd.calve(tag, date(2026, 3, 20), calf)
    herd.do(TurnIn((herd.id["B1"],), cows, date(2026, 6, 1), date(2026, 8, 2)))
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "s.pdf"), ""))
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda url: opened.append(url) or True)
    opened: list[QUrl] = []
    keeper = Keeper(qtbot, qapp, herd, first="papers")
    keeper.page.open("season_summary")
    keeper.calm()
    yield keeper
    keeper.close()


def test_a_line_for_each_season(keeper: Keeper) -> None:
    """The latest first; what is not known yet stands beside it."""
    model = keeper.page.preview.model
    columns = {column.key: column for column in model.columns}
    found: list[object] = []
    model.collect([(0, model.rowCount() - 1)], found.extend)
    keeper.wait(lambda: len(found) == 2)
    lines = [[columns[key].full_text(row) for key in ("first", "held", "born", "early")] for row in found]
    assert lines == [
        ["1 Jun 2026 so far", "0 of 3, 0%", "0 of 3, 0%", "of none"],
        ["1 Jun 2025 so far", "2 of 3, 67%", "2 of 3, 67%", "2 of 2, 100%"],
    ]
    for column in model.columns:  # whatever it is put in order by can be
        values = [column.value(row) for row in found]
        sorted(values, key=column.order) if column.order else sorted(values)


def test_printed_by_a_key(keeper: Keeper, tmp_path: Path) -> None:
    keeper.page.setFocus()
    keeper.press(Qt.Key.Key_P)
    file = tmp_path / "s.pdf"
    keeper.wait(file.exists)
    keeper.calm()
    (text,) = pages(file)
    assert "calves born at term, dead ones too 2 3 females exposed 66.7" in text
    assert "1 Jun 2025 to 2 Aug 2025: B1 Cheviot" in text
