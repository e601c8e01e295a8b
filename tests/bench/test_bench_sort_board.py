"""The board of the sort from 12 females and 2 bulls to 26,665 and 661: what the window is busy with.

Held as ratios within one run, by processor time, which other work on the machine does not lengthen.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterator
from itertools import cycle
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.queries.sort import Choice, SortResult, result_of
from herdbook.services.queries.sort_hand import moved
from herdbook.services.queries.sort_rows import BullGroup, Gathered
from herdbook.ui import theme
from herdbook.ui.sort.board import Board
from herdbook.ui.sort.columns import columns_of
from tests.ui.conftest import show
from tests.ui.test_sort_board import IN, LIMIT, ON, OUT, bull, female

pytestmark = pytest.mark.bench

USUAL, LARGE, HUGE = (300, 10), (2_000, 60), (26_665, 661)
ROUNDS = 21


def a_herd(females: int, bulls: int) -> SortResult:
    """Return a sort of that size; every fourth female has no bull."""
    groups = tuple(BullGroup((bull(1 + at),), 60) for at in range(bulls))
    of = tuple(0.01 * (at % 3) for at in range(bulls))
    cows = tuple(female(key, of) for key in range(females))
    placed = {cow.animal: at % bulls for at, cow in enumerate(cows) if at % 4}
    return result_of(Gathered(cows, groups, LIMIT, (IN, OUT)), {}, placed, {}, True)


class Bench:
    """A board that does what the page does at a key: judges the move and shows it."""

    def __init__(self, qtbot: QtBot, result: SortResult) -> None:
        self.result = result
        self.board = Board()
        self.board.resize(1000, 560)
        qtbot.addWidget(self.board)
        show(qtbot, self.board)
        self.board.move.connect(self._moved)

    def _moved(self, animal: int, place: Any) -> None:
        self.result = moved(self.result, animal, Choice(*place))
        self.show()

    def show(self) -> None:
        """Show how it stands."""
        self.board.show_columns(columns_of(self.result, False, ON))


def painted(act: Callable[[], object]) -> float:
    """Return the processor time of this thread, in seconds, until what `act` changes is painted."""
    began = time.thread_time()
    act()
    QApplication.processEvents()
    QApplication.processEvents()
    return time.thread_time() - began


@pytest.fixture
def measured(qtbot: QtBot, qapp: QApplication) -> Callable[[tuple[int, int]], dict[str, float]]:
    """Return a function that gives the seconds of a size: shown first, moved, stepped (medians)."""
    theme.apply(qapp, "light")

    def of(size: tuple[int, int]) -> dict[str, float]:
        bench = Bench(qtbot, a_herd(*size))
        first = painted(bench.show)
        bench.board.setFocus()
        bench.board.choose(next(f.animal for f in bench.result.groups[1].females))
        keys: Iterator[Qt.Key] = cycle((Qt.Key.Key_Right, Qt.Key.Key_Left))

        def along() -> None:
            bench.board.shift(1 if next(keys) == Qt.Key.Key_Right else -1)

        def step() -> None:
            QTest.keyClick(QApplication.focusWidget(), next(keys))

        found = {"first": first}
        for what, act in (("move", along), ("step", step)):
            found[what] = statistics.median(painted(act) for _ in range(ROUNDS))
        return found

    return of


def test_a_move_and_a_step_cost_much_the_same_in_any_herd(
    measured: Callable[[tuple[int, int]], dict[str, float]], say_figures: Callable[[str], None]
) -> None:
    """Thousands of females cost no more than a few times what 300 do: only what changes is made anew."""
    figures = {size: measured(size) for size in (USUAL, LARGE, HUGE)}
    for (females, bulls), found in figures.items():
        told = ", ".join(f"{what} {1000 * seconds:.1f} ms" for what, seconds in found.items())
        say_figures(f"board of {females} x {bulls}: {told}")
    usual, large, huge = figures[USUAL], figures[LARGE], figures[HUGE]
    assert large["move"] < 4 * usual["move"]
    assert large["step"] < 4 * usual["step"]
    assert large["first"] < 4 * usual["first"]
    assert huge["first"] < 8 * usual["first"], "89 times the females and 66 times the columns"
    assert huge["step"] < 8 * usual["step"]
