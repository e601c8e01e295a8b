"""The Butcher page on a real book: ready, clear, 30 months, booked; cautions and reasons; culls."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot

from herdbook.husbandry.partday import PartDay
from herdbook.services.book import Book
from herdbook.services.commands.animals import ChangeAnimal, Move, NewGroup
from herdbook.services.commands.diary import BookAnimal, BookDay
from herdbook.services.commands.happenings import GiveScore, Treat, Weigh
from herdbook.services.queries.animal import card
from herdbook.services.queries.butcher import finishing_list
from herdbook.services.queries.diary import booked_days
from herdbook.ui import theme
from herdbook.ui.butcher.ruler import MonthsDelegate, marks_of
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper

ON = date(2026, 8, 1)
K = Qt.Key


def steers(path: Path) -> Herd:
    """Write Mistral, ready and with a medicine running; Zonda, with no weight; Eden, old with a bad udder."""
    herd = Herd(Book.create(path, who="keeper"), ON)
    born = PartDay(date(2024, 4, 15))
    herd.add("Mistral", "M", born, castrated=True)
    herd.do(Weigh(herd.id["Mistral"], date(2026, 4, 23), kg=460.0))
    herd.do(Weigh(herd.id["Mistral"], ON, kg=540.0))
    herd.do(Treat(herd.id["Mistral"], date(2026, 7, 30), product="drench", meat_days=14.0))
    herd.add("Zonda", "M", PartDay(date(2025, 4, 1)), castrated=True)
    herd.add("Eden", "F", PartDay(date(2011, 1, 1), "year"))
    herd.calve("Eden", date(2026, 4, 1), "Eden calf")
    herd.do(GiveScore(herd.id["Eden"], date(2026, 7, 1), score_kind="udder", value=2.0))
    change = ChangeAnimal(herd.id["Eden"], sex="F", born=PartDay(date(2011, 1, 1), "year"), care="kicks")
    herd.do(change)
    return herd


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before the Butcher page, with the keys in its table."""
    keeper = Keeper(qtbot, qapp, steers(tmp_path / "herd.herdbook"), first="butcher")
    keeper.page.finishing.table.setFocus()
    keeper.calm()
    yield keeper
    keeper.close()


def line(keeper: Keeper, tag: str) -> dict[str, str]:
    """Return a row of the table in view as it is written, by columns."""
    model = keeper.page.stack.currentWidget().model
    (row,) = [row for row in model.rows if row.tag == tag]
    return {column.key: column.full_text(row) for column in model.columns}


def said(keeper: Keeper) -> str:
    """Return all that the side card says."""
    return " ".join(label.text() for label in keeper.page.card.widget().findChildren(QLabel))


def bookings(keeper: Keeper) -> list[tuple[date, list[tuple[str, str | None]]]]:
    """Return the booked days with who is on them and why all the same."""
    days = keeper.herd.ask(booked_days, on=ON)
    return [(day.day, [(b.tag, b.override) for b in day.booked]) for day in days]


def a_day(keeper: Keeper, day: date, places: int = 2) -> int:
    """Book a day and wait until the page knows it."""
    made: int = keeper.herd.do(BookDay(day, places=places, where="Village"))
    keeper.wait(lambda: made in [d.id for d in keeper.page._days])
    keeper.calm()
    return made


def test_a_line_says_when(keeper: Keeper) -> None:
    """Ready at 520 kg and over it; 14 days of medicine from 30 July run through 13 August."""
    row = line(keeper, "Mistral")
    assert row["weight_kg"] == "540"
    assert row["ready_on"] == "Sat 1 Aug"
    assert row["clear_on"] == "Fri 14 Aug"
    assert row["thirty_months_on"] == "15 Oct 2026"
    assert row["booked_on"] == ""
    assert "2 finishing · 1 ready · 1 with reasons to cull" in keeper.page.detail.text()
    assert "540 kg" in said(keeper)
    assert "Hanging" in said(keeper)


def test_no_weight_asks_for_one(keeper: Keeper) -> None:
    """Nothing is guessed from nothing: no day, and the way on."""
    assert line(keeper, "Zonda")["weight_kg"] == "weigh"
    assert line(keeper, "Zonda")["ready_on"] == ""
    keeper.press(K.Key_Down)
    assert "no day: weigh it (W)" in said(keeper)


def test_one_weight_is_a_guess(keeper: Keeper) -> None:
    """A gain that nobody measured is marked beside the weight, and the card says what it is."""
    keeper.herd.do(Weigh(keeper.herd.id["Zonda"], date(2026, 7, 1), kg=400.0))
    keeper.wait(lambda: line(keeper, "Zonda")["weight_kg"].endswith("guess"))


def test_medicine_not_known_is_never_clear(keeper: Keeper) -> None:
    """No days typed: "not known, ask", in the table and the card."""
    keeper.herd.do(Treat(keeper.herd.id["Zonda"], date(2026, 1, 1), product="old bottle"))
    keeper.wait(lambda: line(keeper, "Zonda")["clear_on"] == "not known, ask")
    keeper.press(K.Key_Down)
    assert "Clear of medicine: not known, ask." in said(keeper)


def test_pounds(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> None:
    """A book in pounds shows pounds, in the table, its heading and the card."""
    keeper = Keeper(qtbot, qapp, steers(tmp_path / "lb.herdbook"), first="today")
    keeper.desk.settings = SimpleNamespace(weight_unit="lb")
    keeper.window.go("butcher")
    keeper.calm()
    assert line(keeper, "Mistral")["weight_kg"].replace(",", "") == "1190"  # 540 kg / 0.45359237
    assert keeper.page._finishing_model.columns[1].heading == "lb today"
    assert "1190 lb" in said(keeper).replace(",", "")
    keeper.close()


def test_weigh(keeper: Keeper) -> None:
    """W, the weight, Ctrl+Enter: the line knows it."""
    keeper.press(K.Key_Down)
    keeper.press(K.Key_W)
    keeper.dialog().form.entries["kg"].setFocus()
    keeper.type("410")
    keeper.save()
    keeper.wait(lambda: line(keeper, "Zonda")["weight_kg"] == "410 guess")


def test_onto_a_day_without_caution(keeper: Keeper) -> None:
    """Clear and ready by then: Enter, Enter; R takes it off again."""
    a_day(keeper, date(2026, 8, 20))
    assert "Village: 0 of 2" in keeper.page.diary.text()
    keeper.press(K.Key_Return)
    dialog = keeper.dialog()
    assert dialog.panel.model.rows[0].day == date(2026, 8, 20)
    keeper.press(K.Key_Return)
    keeper.in_window()
    keeper.wait(lambda: line(keeper, "Mistral")["booked_on"] == "20 Aug 2026")
    assert bookings(keeper) == [(date(2026, 8, 20), [("Mistral", None)])]
    keeper.page.finishing.table.setFocus()
    keeper.press(K.Key_R)
    keeper.wait(lambda: line(keeper, "Mistral")["booked_on"] == "")
    assert bookings(keeper) == [(date(2026, 8, 20), [])]


def test_a_caution_asks_why_and_never_blocks(keeper: Keeper) -> None:
    """The day lies in the medicine period: the list says so, and Enter asks for a reason that is kept."""
    a_day(keeper, date(2026, 8, 10))
    keeper.press(K.Key_Return)
    dialog = keeper.dialog()
    model = dialog.panel.model
    assert model.columns[4].full_text(model.rows[0]) == "medicine runs"
    keeper.press(K.Key_Return)
    keeper.wait(lambda: QApplication.activeModalWidget() not in (None, dialog))
    reason = keeper.dialog()
    words = "\n".join(label.text() for label in reason.findChildren(QLabel))
    assert "A medicine period runs through Thu 13 Aug." in words
    assert "your vet" in words
    keeper.type("the vet gives it on the day, not yet")
    keeper.press(K.Key_Return)
    keeper.in_window()
    keeper.wait(lambda: line(keeper, "Mistral")["booked_on"] == "Mon 10 Aug")
    assert bookings(keeper)[0][1] == [("Mistral", "the vet gives it on the day, not yet")]
    assert "A medicine period runs through Thu 13 Aug." in said(keeper)


def test_escape_from_the_reason_books_nothing(keeper: Keeper) -> None:
    """Passing over a caution is a choice; Escape is none."""
    a_day(keeper, date(2026, 8, 10))
    keeper.press(K.Key_Return)
    dialog = keeper.dialog()
    keeper.press(K.Key_Return)
    keeper.wait(lambda: QApplication.activeModalWidget() not in (None, dialog))
    keeper.dialog()
    keeper.press(K.Key_Escape)
    keeper.in_window()
    assert bookings(keeper) == [(date(2026, 8, 10), [])]


def test_a_full_day_says_so(keeper: Keeper) -> None:
    """A day without places can be taken too, with a reason."""
    day = a_day(keeper, date(2026, 8, 20), places=1)
    keeper.herd.do(BookAnimal(keeper.herd.id["Zonda"], day, "small is fine"))
    keeper.wait(lambda: line(keeper, "Zonda")["booked_on"] != "")
    keeper.calm()
    keeper.page.finishing.table.choose(keeper.herd.id["Mistral"])
    keeper.press(K.Key_Return)
    dialog = keeper.dialog()
    assert "full" in dialog.panel.model.columns[2].full_text(dialog.panel.model.rows[0])
    keeper.press(K.Key_Return)
    keeper.wait(lambda: QApplication.activeModalWidget() not in (None, dialog))
    assert "Every place of that day is taken." in [x.text() for x in keeper.dialog().findChildren(QLabel)]
    keeper.press(K.Key_Escape)
    keeper.in_window()


def test_no_day_booked_leads_to_booking_one_and_back(keeper: Keeper) -> None:
    """Enter with no day ahead: the one button books a day, and the question comes again."""
    keeper.press(K.Key_Return)
    dialog = keeper.dialog()
    assert dialog.panel.empty_button.text() == "Book a day"
    dialog.panel.empty_button.setFocus()
    keeper.press(K.Key_Space)
    keeper.wait(lambda: QApplication.activeModalWidget() not in (None, dialog))
    form = keeper.dialog()
    form.form.entries["day"].setFocus()
    keeper.type("2026-08-20")
    keeper.press(K.Key_Return, Qt.KeyboardModifier.ControlModifier)
    keeper.wait(lambda: QApplication.activeModalWidget() not in (None, form))
    keeper.dialog()
    keeper.press(K.Key_Return)
    keeper.in_window()
    keeper.wait(lambda: line(keeper, "Mistral")["booked_on"] == "20 Aug 2026")


def test_gone_to_the_butcher(keeper: Keeper) -> None:
    """G opens the form as slaughtered; the medicine that runs is asked about, and he goes all the same."""
    keeper.press(K.Key_G)
    dialog = keeper.dialog()
    assert dialog.form.entries["departure_kind"].value() == "slaughtered"
    keeper.save()
    keeper.wait(lambda: [row.tag for row in keeper.page._finishing_model.rows] == ["Zonda"])
    with keeper.herd.book.read() as conn:
        assert not card(conn, keeper.herd.id["Mistral"], date(2026, 8, 2)).present


def test_t_turns_to_the_reasons_to_cull(keeper: Keeper) -> None:
    """Each female with her reasons in words, in order of tags; the card says what to mind; T turns back."""
    keeper.press(K.Key_T)
    assert keeper.page.tabs.tabText(0) == "Finishing (T)"
    assert keeper.page.culls.table.hasFocus()
    row = line(keeper, "Eden")
    assert row["tag"] == "Eden !"
    assert "15 years" in row["reasons"]
    assert "dder 2 of 9" in row["reasons"]
    assert "Take care: kicks" in said(keeper)
    assert "Born 2011" in said(keeper)
    keeper.press(K.Key_T)
    assert keeper.page.finishing.table.hasFocus()
    assert "Mistral" in said(keeper)


def test_a_cull_into_a_group(keeper: Keeper) -> None:
    """V moves her; the finishing group's animals stand in the other list."""
    group = keeper.herd.do(NewGroup(name="Finishing", purpose="finishing"))
    keeper.calm()
    keeper.press(K.Key_T)
    keeper.press(K.Key_V)
    dialog = keeper.dialog()
    assert "group" in dialog.form.entries
    keeper.press(K.Key_Escape)
    keeper.in_window()
    keeper.herd.do(Move((keeper.herd.id["Eden"],), ON, group))
    keeper.wait(lambda: "Eden" in [row.tag for row in keeper.page._finishing_model.rows])


def test_enter_on_a_cull_opens_her_card(keeper: Keeper) -> None:
    """The card of the Register is a key away."""
    went: list[Any] = []
    keeper.desk.went.connect(lambda page, what: went.append((page, what)))
    keeper.press(K.Key_T)
    keeper.press(K.Key_Return)
    keeper.wait(lambda: went == [("register", {"animal": keeper.herd.id["Eden"]})])
    keeper.calm()


def test_acts_need_an_animal(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> None:
    """An empty book: what to do first, one button; only booking a day can be done."""
    herd = Herd(Book.create(tmp_path / "empty.herdbook", who="keeper"), ON)
    keeper = Keeper(qtbot, qapp, herd, first="butcher")
    page = keeper.page
    assert page.finishing.empty_button.isVisible()
    assert not page.card.isVisible()
    assert [button.isEnabled() for button in page._finishing_buttons] == [False, True, False, False, False]
    page.setFocus()
    keeper.press(K.Key_W)
    keeper.press(K.Key_R)
    keeper.press(K.Key_G)
    assert QApplication.activeModalWidget() is None
    keeper.press(K.Key_T)
    assert not any(button.isEnabled() for button in page._cull_buttons)
    keeper.close()


def test_another_page_opens_an_animal_here(keeper: Keeper) -> None:
    """Today may ask for one of the culls."""
    keeper.page.open({"animal": keeper.herd.id["Eden"]})
    assert keeper.page.tabs.currentIndex() == 1
    assert "Eden" in said(keeper)


def test_the_ruler(keeper: Keeper) -> None:
    """Twelve months from this one; what lies beyond is marked so; letters never lie over one another."""
    a_day(keeper, date(2026, 8, 10))
    keeper.herd.do(BookAnimal(keeper.herd.id["Mistral"], keeper.page._days[0].id, "why not"))
    (row,) = [row for row in keeper.herd.ask(finishing_list, on=ON) if row.tag == "Mistral"]
    marks = marks_of(row, ON)
    assert {mark.letter: mark.day for mark in marks} == {
        "c": date(2026, 8, 14),
        "R": ON,
        "30": date(2026, 10, 15),
        "B": date(2026, 8, 10),
    }
    months, box = MonthsDelegate(ON), QRect(0, 0, 180, 32)
    assert months.place(date(2026, 8, 1), box) == 0
    assert months.place(date(2027, 8, 1), box) == 180
    assert months.place(date(2030, 1, 1), box) == 180
    metrics = QFontMetrics(theme.body_font(8))
    placed = list(months._letters(sorted(marks, key=lambda mark: mark.day), metrics, box))
    assert [text for _, _, text in placed] == ["R", "B", "c", "30"]
    for (_, left, text), (_, following, _) in pairwise(placed):
        assert left + metrics.horizontalAdvance(text) <= following
    assert "c" not in [mark.letter for mark in marks_of(row, date(2026, 8, 14))]


def test_tab_goes_all_round(keeper: Keeper) -> None:
    """Tab leaves the table and comes back to it, by way of the buttons."""
    table = keeper.page.finishing.table
    table.setFocus()
    seen = []
    for _ in range(30):
        keeper.press(K.Key_Tab)
        focus = QApplication.focusWidget()
        seen.append(focus)
        if focus is table:
            break
    assert seen[-1] is table
    assert set(keeper.page._finishing_buttons[:2]) <= set(seen)
    assert keeper.page.finishing.filter in seen
    assert keeper.page.tabs in seen
