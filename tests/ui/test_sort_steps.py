"""Steps on the Sort page: each taken back and again by keys, in order with acts of the book; clashes told."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.queries.sort import Choice, Gathered, SortAsk, SortResult, place
from herdbook.ui.sort import reading
from herdbook.ui.sort.page import SortPage
from herdbook.ui.sort.steps import Stand, Steps
from tests.services.conftest import Herd
from tests.ui.conftest import OpenDesk, show
from tests.ui.test_sort import herd, page, press, real_book, real_desk, where

__all__ = ["herd", "page", "real_book", "real_desk"]

K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
Quiet = Callable[[], None]


def stand(told: str) -> Stand:
    """Return a stand that is known by its words."""
    return Stand(SortAsk(), _Nothing(), told=told)  # type: ignore[arg-type]


def told_of(stand: Stand | None) -> str | None:
    """Return the words of a step."""
    return stand.told if stand is not None else None


class _Ready:
    pass


class _Nothing:
    """A result without females, each with figures of its own."""

    females: tuple[()] = ()
    bull_groups: tuple[()] = ()

    def __init__(self) -> None:
        self.ready = _Ready()


def test_steps_go_back_and_again() -> None:
    steps = Steps()
    assert steps.now is None
    assert steps.back() is None
    for told in ("", "one", "two"):
        steps.take(stand(told))
    assert told_of(steps.now) == "two"
    back = steps.back()
    assert told_of(back) == "one"
    assert steps.next_is_here
    again = steps.again()
    assert told_of(again) == "two"
    steps.back()
    steps.take(stand("three"))
    assert not steps.next_is_here
    assert [s.told for _ in range(2) if (s := steps.back())] == ["one", ""]
    assert steps.back() is None
    assert not steps.can_go_back


def test_an_act_of_the_book_stands_among_the_steps() -> None:
    """After it Ctrl+Z is the book's; once that is undone, the page's again; and so forward."""
    steps = Steps()
    steps.take(stand(""))
    steps.take(stand("one"))
    steps.book_changed("accept_plan")
    assert not steps.last_is_here
    assert steps.can_go_back
    steps.book_changed("undo")
    assert steps.last_is_here
    assert not steps.next_is_here
    steps.book_changed("redo")
    assert not steps.last_is_here
    steps.book_changed("undo")
    steps.back()
    assert steps.next_is_here
    steps.again()
    assert not steps.next_is_here, "the act of the book comes next"
    steps.book_changed("redo")
    assert not steps.last_is_here
    back = steps.back()
    assert told_of(back) == "", "Backspace goes on past an act of the book"


def test_steps_that_hold_too_much_are_read_again_and_none_is_lost(
    page: SortPage, herd: Herd, quiet: Quiet, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With room for the figures of one sort only: moves share them; what was read before is read again."""
    monkeypatch.setattr("herdbook.ui.sort.steps.MOST_PAIRS", 10)
    first = where(page)
    page.ask = replace(page.ask, limit=0.3)
    page.read_sort("the limit")
    quiet()
    for goes in ("sell", "finishing", "not_bred"):
        page.move_female(herd.id["Lune"], (goes, None))
    for expected in ("Finishing group", "To sell"):
        page.take_back()
        assert not page.is_solving, "the figures are still there"
        assert where(page)["Lune"] == expected
    page.take_back()
    assert page.result.limit == 0.3
    page.take_back()
    assert page.is_solving
    page.board.choose(herd.id["Kent"])
    page.show_places()
    page.show_table()
    quiet()
    assert page.result.limit == 0.0625
    assert where(page) == first
    assert "proven best" in page.figures.text()
    page.take_again()
    quiet()
    assert page.result.limit == 0.3


def test_settings_moves_and_sorting_again_are_each_taken_back(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    """A limit, a move, and the others set again: three times Backspace, and forward again."""
    seen = [(page.result.limit, where(page))]
    press(qtbot, K.Key_D)
    line = page.strip.limit.edit
    line.selectAll()
    qtbot.keyClicks(line, "30")
    qtbot.keyClick(line, K.Key_Return)
    quiet()
    page.board.choose(herd.id["Lune"])
    seen.append((page.result.limit, where(page)))
    press(qtbot, K.Key_N)
    seen.append((page.result.limit, where(page)))
    press(qtbot, K.Key_S)
    quiet()
    assert "proven best" in page.figures.text()
    assert page.result.limit == 0.3
    for told, before in zip(
        ("the others set again", "Lune: not bred", "the limit"), reversed(seen), strict=True
    ):
        press(qtbot, K.Key_Backspace)
        assert told in page.note.text()
        assert (page.result.limit, where(page)) == before
    assert page.strip.limit.edit.text() == "6.25 %"
    assert page.ask == SortAsk(limit=None, choices={}, apart={})
    press(qtbot, K.Key_Backspace)
    assert (page.result.limit, where(page)) == seen[0], "there is no step before the first"
    press(qtbot, K.Key_Backspace, SHIFT)
    assert page.result.limit == 0.3
    press(qtbot, K.Key_Z, CONTROL | SHIFT)
    press(qtbot, K.Key_Z, CONTROL | SHIFT)
    assert where(page)["Lune"] == "Not bred"
    assert "proven best" in page.figures.text()


def test_a_step_from_before_the_book_changed_is_shown_over_the_book_as_it_is(
    page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    """Her new name stands on the board also after a move made before it was taken back."""
    page.move_female(herd.id["Lune"], ("sell", None))
    herd.do(ChangeAnimal(herd.id["Eden"], sex="F", name="Old Eden"))
    QApplication.processEvents()
    quiet()
    page.take_back()
    quiet()
    assert "Eden Old Eden" in where(page)
    assert where(page)["Lune"] in ("Cheviot", "Fell")
    assert "proven best" in page.figures.text()


def test_what_cannot_be_had_leaves_what_stood(page: SortPage, herd: Herd, quiet: Quiet) -> None:
    """Two choices with two bulls, and one group only: both are named; the board and the ask stay."""
    page.move_female(herd.id["Lune"], ("bull", herd.id["Cheviot"]))
    page.move_female(herd.id["Eden"], ("bull", herd.id["Fell"]))
    page.move_female(herd.id["Lune"], ("bull", herd.id["Cheviot"]))
    chosen = {tag: place for tag, place in where(page).items() if tag in ("Lune", "Eden")}
    assert len(set(chosen.values())) == 2
    page.step(page.result, "fixed")
    choices = {herd.id[tag]: Choice("bull", herd.id[bull]) for tag, bull in chosen.items()}
    page.ask = replace(page.ask, choices=choices, most_groups=1)
    before = where(page)
    page.read_sort("the bulls")
    quiet()
    said = page.note.text()
    assert "cannot all stand while one group only is used" in said
    assert "Lune with" in said
    assert "Eden with" in said
    assert "Nothing was changed" in said
    assert where(page) == before
    assert page.ask.most_groups is None


def test_stopped_the_best_found_stands_and_says_how_good_it_is(
    page: SortPage, quiet: Quiet, monkeypatch: pytest.MonkeyPatch, qtbot: QtBot
) -> None:
    """The solver answers once it is told to stop: its answer is a step, and says how good it is."""
    waits = []

    def slow(ready: Gathered, choices: dict[int, Choice], stopping: Callable[[], bool]) -> SortResult:
        waits.append(stopping)
        while not stopping():
            time.sleep(0.005)
        return replace(place(ready, choices), proven_optimal=False, gap=0.021, most_placed=4)

    monkeypatch.setattr(reading, "place", slow)
    press(qtbot, K.Key_S)
    qtbot.waitUntil(lambda: len(waits) == 1)
    assert not page.again_button.isEnabled()
    page._running.stop()
    quiet()
    assert "within 2.1 % of the best possible, 1 more might be placed" in page.figures.text()
    assert "Stopped: this is the best found until then" in page.note.text()
    monkeypatch.undo()
    press(qtbot, K.Key_S)
    quiet()
    assert "proven best" in page.figures.text()
    assert "Stopped" not in page.note.text()


def test_ctrl_z_takes_back_the_step_or_the_act_that_came_last(
    qtbot: QtBot, herd: Herd, real_book: Book, real_desk: OpenDesk, quiet: Quiet
) -> None:
    """In the whole window: a move, a rename elsewhere; Ctrl+Z undoes the rename, then the move."""
    from herdbook.ui.window import MainWindow

    window = MainWindow(real_desk, first="sort")
    window.resize(1366, 768)
    qtbot.addWidget(window)
    show(qtbot, window)
    quiet()
    page = window.page
    assert isinstance(page, SortPage)
    page.board.choose(herd.id["Lune"])
    page.board.setFocus()
    press(qtbot, K.Key_L)
    herd.do(ChangeAnimal(herd.id["Eden"], sex="F", name="Old Eden"))
    qtbot.waitUntil(lambda: "Eden Old Eden" in where(page))
    quiet()
    press(qtbot, K.Key_Z, CONTROL)
    qtbot.waitUntil(lambda: "Eden" in where(page))
    quiet()
    assert where(page)["Lune"] == "To sell"
    press(qtbot, K.Key_Z, CONTROL)
    quiet()
    assert where(page)["Lune"] in ("Cheviot", "Fell")
    press(qtbot, K.Key_Z, CONTROL | SHIFT)
    quiet()
    assert where(page)["Lune"] == "To sell"
    press(qtbot, K.Key_Z, CONTROL | SHIFT)
    qtbot.waitUntil(lambda: "Eden Old Eden" in where(page))
    quiet()
    assert real_desk.failed == []
