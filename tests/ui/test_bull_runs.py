"""The bull runs over the Calving page: what came of each, and what can be written down from there."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QPushButton
from pytestqt.qtbot import QtBot

from herdbook.services.commands.happenings import CheckPregnancy, SeeHeat
from herdbook.services.commands.running import TurnIn
from herdbook.ui.calving.runs import RunsDialog
from tests.ui.real_book import Keeper, small_herd

K = Qt.Key
IN = date(2026, 6, 6)
COWS = ("12", "7", "20", "21")


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before Calving; last year's run is known, this year's has gone on for two cycles."""
    herd = small_herd(tmp_path / "moor.herdbook")
    for tag in COWS[2:]:
        herd.add(tag, "F", date(2019, 3, 1), calved_before=True)
    cows = tuple(herd.id[tag] for tag in COWS)
    herd.do(TurnIn((herd.id["B1"],), cows[:2], date(2025, 6, 1), date(2025, 8, 2)))
    herd.do(CheckPregnancy(cows[0], date(2025, 9, 10), result="open"))
    herd.do(TurnIn((herd.id["B1"],), cows, IN))
    herd.on = IN + timedelta(days=44)
    for cow in cows[1:]:
        herd.do(SeeHeat(cow, herd.on))
    keeper = Keeper(qtbot, qapp, herd, first="calving")
    yield keeper
    keeper.close()


def _runs(keeper: Keeper) -> RunsDialog:
    keeper.in_window()
    keeper.page.setFocus()
    keeper.press(K.Key_R)
    dialog = keeper.dialog()
    keeper.calm()
    keeper.wait(lambda: dialog._model.rows)
    return dialog


def _texts(dialog: RunsDialog) -> list[dict[str, str]]:
    return [{c.key: c.full_text(row) for c in dialog._model.columns} for row in dialog._model.rows]


def test_each_run_with_its_counts(keeper: Keeper) -> None:
    now, last_year = _texts(_runs(keeper))
    assert now["bulls"] == "B1 Cheviot many heats"
    assert (now["exposed"], now["held"], now["found_open"]) == ("4", "not known", "not known")
    assert now["settled"] == "about 3, 87%"
    assert now["notes"] == "rolled in: 12"
    assert (last_year["held"], last_year["found_open"]) == ("1 of 2, 50%", "1 of 2, 50%")
    assert (last_year["born"], last_year["settled"]) == ("1 of 2, 50%", "")


def test_enter_opens_the_bulls_card(keeper: Keeper) -> None:
    _runs(keeper)
    keeper.press(K.Key_Return)
    keeper.wait(lambda: keeper.page.key == "register" and keeper.page.heading.text() == "B1 Cheviot")


def test_what_can_be_written_down_from_there(keeper: Keeper) -> None:
    """Each button leaves the list for its form."""
    for words, asks in (
        ("Bull out…", "next_bull"),
        ("A bull got in…", "group"),
        ("Turn a bull in…", "bulls"),
    ):
        dialog = _runs(keeper)
        button = next(b for b in dialog.findChildren(QPushButton) if b.text() == words)
        button.setFocus()
        keeper.press(K.Key_Return)
        form = keeper.dialog()
        assert asks in form.form.entries
        keeper.press(K.Key_Escape)
        keeper.in_window()
