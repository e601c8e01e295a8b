"""The bulls' dialog and what counts: groups, days, numbers and prices by keys, each taking effect at once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.queries.calves_of_bulls import BullCalves, CalvesFrom
from herdbook.services.queries.sort import AskedBull, AskedGroup, Choice, SortAsk
from herdbook.services.queries.sort_rows import Prices, WantedLook
from herdbook.ui.sort.bulls import BullsDialog, calves_told
from herdbook.ui.sort.groups import BullLine, TwoPaddocks, Wanted
from herdbook.ui.sort.page import SortPage
from herdbook.ui.sort.prices import PricesDialog
from tests.services.conftest import Herd
from tests.ui.conftest import OpenDesk
from tests.ui.test_sort import herd, page, press, real_book, real_desk, where

__all__ = ["herd", "page", "real_book", "real_desk"]

K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier
Quiet = Callable[[], None]


def on_board(qtbot: QtBot, page: SortPage) -> None:
    """Put the focus on the board, also after a dialog."""
    page.activateWindow()
    qtbot.waitUntil(page.isActiveWindow)
    page.board.setFocus()


def opened(qtbot: QtBot, page: SortPage, key: Qt.Key, kind: type) -> BullsDialog | PricesDialog:
    """Press a key of the page and return the dialog that it opens."""
    on_board(qtbot, page)
    press(qtbot, key)
    dialog = page.findChildren(kind)[-1]
    qtbot.waitUntil(dialog.isActiveWindow)
    return dialog


def test_two_bulls_of_one_letter_share_a_group(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    """Fell follows Cheviot: one column, each on his days, as many as the paddock holds; and back."""
    dialog = opened(qtbot, page, K.Key_B, BullsDialog)
    cheviot, fell = dialog.lines
    assert (cheviot.group.text(), fell.group.text()) == ("1", "2")
    press(qtbot, K.Key_Tab)  # from "use" to his group
    assert cheviot.group.hasFocus()
    cheviot.group.selectAll()
    qtbot.keyClicks(cheviot.group, "A")
    press(qtbot, K.Key_Down)
    assert fell.group.hasFocus(), "Down goes to the same entry of the next bull"
    fell.group.selectAll()
    qtbot.keyClicks(fell.group, "a")
    qtbot.keyClicks(cheviot.bull_out, "30 Jun")
    qtbot.keyClicks(fell.bull_in, "1 Jul")
    qtbot.keyClicks(cheviot.paddock, "3")
    press(qtbot, K.Key_Return, CONTROL)
    quiet()
    (group,) = page.result.bull_groups
    assert group.tag == "Cheviot + Fell"
    assert [(b.bull_in, b.bull_out) for b in group.bulls] == [
        (date(2026, 6, 1), date(2026, 6, 30)),
        (date(2026, 7, 1), date(2026, 8, 2)),
    ]
    assert group.places == 3
    assert set(where(page)) >= {"Eden", "Lune"}
    assert where(page)["Kent"] == "Not bred", "she is the daughter of one of them"
    dialog = opened(qtbot, page, K.Key_B, BullsDialog)
    cheviot, fell = dialog.lines
    assert (cheviot.group.text(), fell.group.text()) == ("1", "1")
    assert cheviot.bull_out.text() == "30/6/2026"
    assert (cheviot.paddock.text(), fell.paddock.text()) == ("3", "")
    dialog.reject()
    on_board(qtbot, page)
    press(qtbot, K.Key_Backspace)
    assert [bull.tag for bull in page.result.bull_groups] == ["Cheviot", "Fell"]


def test_a_young_bull_with_an_old_one_is_a_caution(qtbot: QtBot, page: SortPage, quiet: Quiet) -> None:
    """Cheviot is five, Fell fourteen months: together they are warned of, on the page and in the dialog."""
    dialog = opened(qtbot, page, K.Key_B, BullsDialog)
    for line in dialog.lines:
        line.group.setText("A")
    dialog.finish()
    quiet()
    assert page.note.text().startswith("Cheviot + Fell: ")
    warned, did = page.note.text().removeprefix("Cheviot + Fell: ").split(" Sorted after ")
    assert did.startswith("a change of the bulls: 1 moved.")
    assert "young" in warned.casefold()
    dialog = opened(qtbot, page, K.Key_B, BullsDialog)
    assert warned in dialog.told.text()
    dialog.reject()


def test_what_is_wrong_is_said_where_it_is(qtbot: QtBot, page: SortPage) -> None:
    """A day that is none, out before in, a number that is none: the entry has the focus, nothing is lost."""
    dialog = opened(qtbot, page, K.Key_B, BullsDialog)
    cheviot, fell = dialog.lines
    for entry, text, words in (
        (cheviot.bull_in, "soonish", "First day of Cheviot"),
        (cheviot.bull_out, "1 May 2026", "out before he is in"),
        (fell.paddock, "-1", "Females that the paddock of Fell holds: a whole number."),
        (dialog.most, "0", "Most groups used: a whole number."),
    ):
        entry.setText(text)
        dialog.finish()
        assert words in dialog.wrong.text()
        assert dialog.isVisible()
        entry.clear()
    cheviot.group.setText("A")
    fell.group.setText("A")
    cheviot.paddock.setText("10")
    fell.paddock.setText("12")
    dialog.finish()
    assert "Group A has two numbers for its paddock" in dialog.wrong.text()
    for line in dialog.lines:
        line.use.setChecked(False)
    dialog.finish()
    assert dialog.wrong.text() == "Tick at least one bull."
    dialog.reject()


def test_of_many_bulls_the_one_worked_on_is_in_view(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    """Eighteen bulls are more than the dialog shows: Down goes on to the last, and he is seen."""
    for number in range(16):
        herd.add(f"Moor {number}", "M", date(2021, 3, 1))
    QApplication.processEvents()
    quiet()
    dialog = opened(qtbot, page, K.Key_B, BullsDialog)
    dialog.resize(879, 464)
    assert dialog.lines[-1].use.visibleRegion().isEmpty()
    for _ in dialog.lines[1:]:
        press(qtbot, K.Key_Down)
    assert dialog.lines[-1].use.hasFocus()
    assert not dialog.lines[-1].use.visibleRegion().isEmpty()
    assert dialog.told.text().startswith(dialog.lines[-1].use.text())
    dialog.reject()


def test_typing_in_a_line_uses_the_bull(qtbot: QtBot, page: SortPage) -> None:
    dialog = opened(qtbot, page, K.Key_B, BullsDialog)
    fell = dialog.lines[1]
    fell.use.setChecked(False)
    qtbot.keyClicks(fell.capacity, "5")
    assert fell.use.isChecked()
    dialog.reject()


@pytest.mark.parametrize(("key", "kind"), [(K.Key_B, BullsDialog), (K.Key_E, PricesDialog)])
def test_closing_asks_when_something_was_typed(
    qtbot: QtBot, page: SortPage, real_desk: OpenDesk, key: Qt.Key, kind: type
) -> None:
    dialog = opened(qtbot, page, key, kind)
    real_desk.answer = "stay"
    entry = dialog.lines[0].capacity if kind is BullsDialog else dialog.risk
    qtbot.keyClicks(entry, "7")
    qtbot.keyClick(entry, K.Key_Escape)
    assert dialog.isVisible()
    assert real_desk.asked == ["Close without what you typed?"]
    entry.clear()
    qtbot.keyClick(entry, K.Key_Escape)
    assert not dialog.isVisible()
    assert len(real_desk.asked) == 1


def test_no_more_groups_than_asked(qtbot: QtBot, page: SortPage, quiet: Quiet) -> None:
    """One group only: the sort chooses which, and says so again when the dialog opens."""
    dialog = opened(qtbot, page, K.Key_B, BullsDialog)
    dialog.most.setText("1")
    press(qtbot, K.Key_Return, CONTROL)
    quiet()
    assert sum(bool(group.females) for group in page.result.groups) == 1
    dialog = opened(qtbot, page, K.Key_B, BullsDialog)
    assert dialog.most.text() == "1"
    dialog.reject()


def test_choices_follow_a_bull_into_his_group() -> None:
    """Bull 2 joins bull 1, whose group is named by 1: a choice of 2 is one of 1 from then on, and back."""
    ask = SortAsk(
        choices={9: Choice("bull", 2, "quiet"), 8: Choice("sell")},
        apart={(7, 2): "", (6, 1): "kin"},
    )
    both = Wanted((BullLine(1, True, "A"), BullLine(2, True, "a"), BullLine(3, False))).asked(ask)
    assert both.groups == (AskedGroup((AskedBull(1), AskedBull(2))),)
    assert both.choices == {9: Choice("bull", 1, "quiet"), 8: Choice("sell")}
    assert both.apart == {(7, 1): "", (6, 1): "kin"}
    only = Wanted((BullLine(1, False), BullLine(2, True, "A"))).asked(both)
    assert only.choices[9].bull == 2, "the group goes on with the bull that is left"


def test_a_group_keeps_the_number_given_to_it_by_hand() -> None:
    """It stays while its bulls stay; with another bull it is by its bulls again."""
    ask = SortAsk(groups=(AskedGroup((AskedBull(1), AskedBull(2)), capacity=25, paddock=30),))
    same = Wanted((BullLine(1, True, "A", paddock=30), BullLine(2, True, "A"))).asked(ask)
    assert same.groups == ask.groups
    other = Wanted((BullLine(1, True, "A"), BullLine(3, True, "A"))).asked(ask)
    assert other.groups is not None
    assert other.groups[0].capacity is None
    with pytest.raises(TwoPaddocks):
        Wanted((BullLine(1, True, "A", paddock=30), BullLine(2, True, "A", paddock=31))).asked(ask)


def test_how_his_calves_came_stands_beside_the_mark(
    page: SortPage, herd: Herd, qtbot: QtBot, quiet: Quiet
) -> None:
    """Counts by category and a mean weight; of a bull without calves that there is none."""
    calf = NewCalf(sex="M", tag="Ure", ease=1)
    herd.do(RecordBirth(herd.id["Lune"], date(2025, 3, 3), (calf,), sire=herd.id["Cheviot"]))
    QApplication.processEvents()
    quiet()
    dialog = opened(qtbot, page, K.Key_B, BullsDialog)
    quiet()
    assert dialog.lines[0].note.said[0].startswith("63 months")
    assert dialog.told.text().startswith("Cheviot: 63 months")
    assert "Of dams not known to have calved before: 1 calf; no help: 1" in dialog.told.text()
    press(qtbot, K.Key_Down)
    assert dialog.told.text().startswith("Fell: 14 months")
    assert dialog.told.text().endswith("No calf in the book that is certainly his")
    dialog.reject()


def test_calves_in_words(real_desk: OpenDesk) -> None:
    told = calves_told(
        BullCalves(1, first_calvers=CalvesFrom(2, ease=((1, 1), (3, 1))), cows=CalvesFrom(1), doubtful=2),
        real_desk,
    )
    assert told == (
        "Calves of first-calvers: 2 calves; no help: 1, hard pull: 1; no birth weights · "
        "of cows: 1 calf; help not written down; no birth weights · 2 more may be his or another's"
    )


def test_what_counts_is_taken_and_told(qtbot: QtBot, page: SortPage, quiet: Quiet) -> None:
    """Risk and a look by keys: asked as shares, counted in the strip, taken back by Backspace."""
    dialog = opened(qtbot, page, K.Key_E, PricesDialog)
    qtbot.keyClicks(dialog.risk, "50")
    choice, entry = dialog.looks["polled"]
    assert not entry.isEnabled()
    choice.setFocus()
    press(qtbot, K.Key_Down)
    assert entry.isEnabled()
    dialog.finish()
    assert "another counts as: a number is needed" in dialog.wrong.text()
    qtbot.keyClicks(entry, "2.5")
    qtbot.keyClick(entry, K.Key_Return, CONTROL)
    quiet()
    assert page.ask.prices == Prices(0.5, 0.0, (WantedLook("polled", "polled", 0.025),))
    assert page.strip.counts.text() == "2 count… (E)"
    assert page.result.ready.prices == page.ask.prices
    dialog = opened(qtbot, page, K.Key_E, PricesDialog)
    assert (dialog.risk.text(), dialog.looks["polled"][1].text()) == ("50", "2.5")
    dialog.same_group.setText("lots")
    dialog.finish()
    assert "a number from 0 to 1000" in dialog.wrong.text()
    dialog.reject()
    on_board(qtbot, page)
    press(qtbot, K.Key_Backspace)
    assert page.ask.prices is None
    assert page.strip.counts.text() == "What counts… (E)"


def test_the_worst_or_the_expected_for_this_sort(qtbot: QtBot, page: SortPage, quiet: Quiet) -> None:
    dialog = opened(qtbot, page, K.Key_E, PricesDialog)
    dialog.held.setCurrentIndex(2)
    dialog.finish()
    quiet()
    assert page.ask.held == "expected"
    assert page.result.ready.held == "expected"
    assert page.ask.prices is None, "nothing else counts"
