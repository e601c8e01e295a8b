"""The dialogs of the Sort page on a small screen and on a larger one: no word or button cut."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QDialog
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.demo import make_demo
from herdbook.services.queries.plans import keep_command
from herdbook.ui.sort.bulls import BullsDialog
from herdbook.ui.sort.compare import CompareDialog
from herdbook.ui.sort.plans import PlansDialog
from herdbook.ui.sort.prices import PricesDialog
from herdbook.ui.sort.table import GroupsDialog
from tests.services.conftest import Herd
from tests.ui.clipped import clipped
from tests.ui.real_book import Keeper

ON = date(2026, 3, 3)
SIZES = ((768, 480), (879, 464), (1300, 680))


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demonstration herd."""
    path = tmp_path_factory.mktemp("demo") / "demo.herdbook"
    make_demo(path, ON)
    return path


@pytest.fixture
def keeper(demo: Path, tmp_path: Path, qtbot: QtBot, qapp: QApplication) -> Iterator[Keeper]:
    """Return a keeper before the Sort page of a copy of it, with two plans kept."""
    with Book.open(demo) as book:
        book.copy_to(tmp_path / "demo.herdbook")
    keeper = Keeper(qtbot, qapp, Herd(Book.open(tmp_path / "demo.herdbook"), ON), first="sort")
    keeper.wait(lambda: keeper.page.result is not None)
    for note in ("as it comes", "a second try, with a note that is rather long for a column of a table"):
        keeper.herd.do(keep_command(keeper.page.result, "Season", note=note))
    keeper.calm()
    yield keeper
    keeper.close()


def bulls(keeper: Keeper) -> QDialog:
    stand = keeper.page.stand
    return BullsDialog(keeper.desk, stand.at_hand, stand.ask, stand.result, lambda _: None)


def prices(keeper: Keeper) -> QDialog:
    return PricesDialog(keeper.desk, keeper.page.ask, lambda _: None)


def plans(keeper: Keeper) -> QDialog:
    return PlansDialog(keeper.desk, lambda _: None, lambda _: None, lambda: None)


def compared(keeper: Keeper) -> QDialog:
    return CompareDialog(keeper.desk, [1, 2])


def groups(keeper: Keeper) -> QDialog:
    return GroupsDialog(keeper.desk, keeper.page.result)


@pytest.mark.parametrize("make", [bulls, prices, plans, compared, groups], ids=lambda make: make.__name__)
def test_nothing_is_cut(keeper: Keeper, qtbot: QtBot, make: Callable[[Keeper], QDialog]) -> None:
    dialog = make(keeper)
    qtbot.addWidget(dialog)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, on=False)
    dialog.show()
    keeper.calm()
    wrong = {}
    for size in SIZES:
        dialog.resize(*size)
        QApplication.processEvents()
        keeper.calm()
        assert (dialog.width(), dialog.height()) == size
        if found := clipped(dialog):
            wrong[size] = found
    assert wrong == {}
