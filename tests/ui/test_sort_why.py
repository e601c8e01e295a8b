"""The side card of the sort: why she is not elsewhere, what would place her, what was decided by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QMenu
from pytestqt.qtbot import QtBot

from herdbook.services.queries.sort import AskedBull, AskedGroup, SortAsk, each_alone
from herdbook.ui.sort.menu import MOST, places_menu
from herdbook.ui.sort.page import SortPage
from herdbook.ui.sort.whys import WhyHere, why_here
from tests.services.conftest import Herd
from tests.ui.test_sort import answer, herd, page, press, real_book, real_desk, where
from tests.ui.test_sort_board import a_sort

__all__ = ["herd", "page", "real_book", "real_desk"]

K = Qt.Key
Quiet = Callable[[], None]


def said(page: SortPage) -> str:
    """Return all that stands on the card."""
    return "\n".join(label.text() for label in page.card.findChildren(QLabel))


def test_a_placed_female_is_told_why_she_is_not_with_the_bull_that_suits_her_best(page: SortPage) -> None:
    """She gives 6.25 % where she is and 1 % with the other, who has a place: only after a move by hand."""
    result = a_sort(8, 2)
    page.card.show_female(result, 1000, page.desk.on)
    assert page.card._why_line.isHidden()
    reasons = why_here(None, WhyHere().of(result), 1000)
    page.card.show_why(reasons, 1001, page.desk.on)
    assert page.card._why_line.isHidden(), "the answer for another female is none of hers"
    page.card.show_why(reasons, 1000, page.desk.on)
    said_there = page.card._why_line.text().replace("\N{NO-BREAK SPACE}", " ")
    assert said_there == "B2 has a place for her, and she would give 1.0 %: sort again."


def test_what_is_looked_up_arrives_on_the_card(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    """The same by way of the page: Kent sent to her sire by hand, where Fell would be better."""
    page.board.choose(herd.id["Kent"])
    press(qtbot, K.Key_1)
    answer(qtbot, page, "no other way")
    qtbot.waitUntil(lambda: "Fell" in page.card._why_line.text(), timeout=5000)
    quiet()


def test_one_without_a_bull_is_told_the_smallest_change(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    """Fell alone may have one female: one place more with him is enough for each of those left out."""
    page.ask = SortAsk(groups=each_alone([AskedBull(herd.id["Fell"], 1)]), heifer_bulls=(herd.id["Fell"],))
    page.read_sort()
    quiet()
    left = [tag for tag, place in where(page).items() if place == "Not bred"]
    page.board.choose(herd.id[left[0]])
    qtbot.waitUntil(lambda: "one more place" in page.card._why_line.text().lower(), timeout=5000)
    quiet()


def test_a_choice_kept_apart_stands_on_the_card_and_in_the_menu(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    page.board.choose(herd.id["Eden"])
    bull = where(page)["Eden"]
    stood = page.result
    ready = replace(stood.ready, apart={(herd.id["Eden"], herd.id[bull]): "she fights with his cows"})
    page.card.show_female(replace(stood, ready=ready), herd.id["Eden"], page.desk.on)
    assert "kept from him by hand: she fights with his cows" in said(page)
    menu = places_menu(page, replace(stood, ready=ready), herd.id["Eden"], page.move_female, page.release)
    words = [action.text() for action in menu.actions()]
    assert any(text.startswith(bull) and "kept from him by hand" in text for text in words)
    assert words[-1] == "Leave her to the sort again"
    menu.deleteLater()
    quiet()


def test_nothing_is_drawn_anew_for_the_same_female_of_the_same_sort(page: SortPage, herd: Herd) -> None:
    page.board.choose(herd.id["Kent"])
    heading = page.card.widget()
    page.card.show_female(page.result, herd.id["Kent"], page.desk.on)
    assert page.card.widget() is heading
    page.card.show_female(page.result, herd.id["Eden"], page.desk.on)
    assert page.card.widget() is not heading


def test_the_reason_of_a_choice_by_hand_is_told(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    page.board.choose(herd.id["Kent"])
    press(qtbot, K.Key_1)
    answer(qtbot, page, "no other road to the field")
    assert "Chosen by hand: no other road to the field" in said(page)
    quiet()


def test_of_many_groups_the_best_are_offered_and_the_one_she_is_in(page: SortPage) -> None:
    result = a_sort(60, 60)
    worst = next(f for f in result.groups[56].females)
    menu: QMenu = places_menu(page, result, worst.animal, page.move_female, page.release)
    groups = [action for action in menu.actions() if " females" in action.text()]
    assert len(groups) == MOST + 1
    assert [action.isChecked() for action in groups].count(True) == 1
    menu.deleteLater()


def test_the_paths_to_her_bull_stand_on_the_card(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    """Kent sent to her sire: what they are to each other, the path, and his picture under P."""
    page.board.choose(herd.id["Kent"])
    press(qtbot, K.Key_1)
    answer(qtbot, page, "no other way")
    qtbot.waitUntil(lambda: "Cheviot" in page.card._kin_line.text(), timeout=5000)
    assert page.card._kin_line.text().splitlines()[:3] == [
        "with Cheviot: Cheviot 25.0 %",
        "Sire and daughter: 25 %.",
        "By Cheviot: Kent – Cheviot, 25 %",
    ]
    quiet()


def test_of_a_group_of_bulls_each_is_told_and_the_nearest_explained(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    """Fell, no kin of Kent, runs with Cheviot, her sire, and is named first: it is Cheviot who matters."""
    together = AskedGroup((AskedBull(herd.id["Fell"]), AskedBull(herd.id["Cheviot"])))
    page.ask = SortAsk(groups=(together,), heifer_bulls=(herd.id["Fell"],))
    page.read_sort()
    quiet()
    page.board.choose(herd.id["Kent"])
    if where(page)["Kent"] == "Not bred":
        press(qtbot, K.Key_1)
        answer(qtbot, page, "no other way")
    qtbot.waitUntil(lambda: "By Cheviot: Kent – Cheviot" in page.card._kin_line.text(), timeout=5000)
    assert page.card.nearest == herd.id["Cheviot"]
    assert "with Fell" not in page.card._kin_line.text()
    quiet()
