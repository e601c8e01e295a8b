"""What is decided by hand on the Sort page: several moved together, fixed, kept from a bull, and back."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.queries.sort import Choice
from herdbook.ui.forms.dialog import FormDialog
from herdbook.ui.sort.page import SortPage
from tests.services.conftest import Herd
from tests.ui.test_sort import answer, herd, page, press, real_book, real_desk, where

__all__ = ["herd", "page", "real_book", "real_desk"]

K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
Quiet = Callable[[], None]


@pytest.fixture
def two(page: SortPage, herd: Herd, quiet: Quiet) -> SortPage:
    """Return the page with Eden and Lune with Cheviot."""
    for tag in ("Eden", "Lune"):
        page.move_female(herd.id[tag], ("bull", herd.id["Cheviot"]))
    quiet()
    return page


def test_several_are_moved_together_and_back_in_one_step(qtbot: QtBot, two: SortPage, herd: Herd) -> None:
    """Shift and Down choose both; L takes both; one Backspace brings both back."""
    before = where(two)
    cheviot = [tag for tag, place in before.items() if place == "Cheviot"]
    assert len(cheviot) == 2
    two.board.choose(herd.id[cheviot[0]])
    press(qtbot, K.Key_Down, SHIFT)
    press(qtbot, K.Key_L)
    after = where(two)
    assert {tag for tag in after if after[tag] == "To sell"} == set(cheviot)
    assert "by hand" in two.note.text()
    two.board.setFocus()
    press(qtbot, K.Key_Backspace)
    assert where(two) == before


def test_several_past_a_rule_ask_once(qtbot: QtBot, page: SortPage, herd: Herd) -> None:
    """Kent is Cheviot's daughter, Tyne a heifer: one reason for both, each told by her name."""
    page.move_females((herd.id["Kent"], herd.id["Tyne"]), ("bull", herd.id["Cheviot"]))
    dialog = answer(qtbot, page, "no other way")
    said = " ".join(label.text() for label in dialog.findChildren(type(page.note)))
    assert "Kent: " in said
    assert "Tyne: " in said
    assert {page.ask.choices[herd.id[tag]].reason for tag in ("Kent", "Tyne")} == {"no other way"}


def test_fixed_where_she_stands_and_free_again(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    """K fixes her and the sort is still proven; sorting again keeps her; K frees her."""
    here = where(page)["Lune"]
    page.board.choose(herd.id["Lune"])
    press(qtbot, K.Key_K)
    assert page.ask.choices == {herd.id["Lune"]: Choice("bull", herd.id[here])}
    assert "proven best" in page.figures.text()
    press(qtbot, K.Key_S)
    quiet()
    assert where(page)["Lune"] == here
    page.board.choose(herd.id["Lune"])
    press(qtbot, K.Key_K)
    assert page.ask.choices == {}
    press(qtbot, K.Key_Backspace)
    assert page.ask.choices


def test_kept_from_a_bull_sorted_to_another_and_left_to_the_sort_again(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    """X asks why; she waits; S gives her the other bull; Delete lifts the rule."""
    here = where(page)["Lune"]
    pair = (herd.id["Lune"], herd.id[here])
    page.board.choose(herd.id["Lune"])
    press(qtbot, K.Key_X)
    dialog = page.findChild(FormDialog)
    qtbot.waitUntil(dialog.isActiveWindow)
    qtbot.keyClicks(QApplication.focusWidget(), "he is too heavy for her")
    press(qtbot, K.Key_Return, CONTROL)
    assert page.ask.apart == {pair: "he is too heavy for her"}
    assert where(page)["Lune"] == "Not bred"
    page.activateWindow()
    qtbot.waitUntil(page.isActiveWindow)
    page.board.setFocus()
    press(qtbot, K.Key_S)
    quiet()
    assert where(page)["Lune"] not in (here, "Not bred")
    assert "proven best" in page.figures.text()
    page.read_sort()
    quiet()
    assert where(page)["Lune"] != here, "the rule holds when the book is read again"
    page.board.choose(herd.id["Lune"])
    press(qtbot, K.Key_Delete)
    quiet()
    assert page.ask.apart == {}
    press(qtbot, K.Key_Backspace)
    assert page.ask.apart


def test_h_goes_to_the_most_inbred_calf_and_on(qtbot: QtBot, page: SortPage, herd: Herd) -> None:
    """Without one it says so; two daughters with their sire are gone to in turn, and round again."""
    page.board.choose(herd.id["Eden"])
    press(qtbot, K.Key_H)
    assert page.note.text() == "No calf is known to be inbred."
    assert page.board.animal() == herd.id["Eden"]
    page.move_females((herd.id["Kent"], herd.id["Tyne"]), ("bull", herd.id["Cheviot"]))
    answer(qtbot, page, "no other way")
    inbred = {one.animal: one.inbreeding for group in page.result.groups for one in group.females}
    known = [animal for animal, figure in inbred.items() if figure > 0]
    assert known
    page.board.choose(herd.id["Eden"])
    reached = []
    for n in range(len(known)):
        page.board.setFocus()
        press(qtbot, K.Key_H)
        reached.append(page.board.animal())
        assert f"{n + 1} of {len(known)}" in page.note.text()
    assert set(reached) == set(known)
    assert [inbred[animal] for animal in reached] == sorted((inbred[a] for a in known), reverse=True)
    press(qtbot, K.Key_H)
    assert page.board.animal() == reached[0]
