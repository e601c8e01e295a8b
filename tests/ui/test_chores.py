"""The Chores page on a real book: births, weights, rounds; what is asked; what is kept half-typed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from sqlalchemy import func, select

from herdbook.services.book import Book
from herdbook.store import tables as t
from tests.services.conftest import Herd
from tests.ui.chores_keys import ChoresKeeper, chores_herd
from tests.ui.real_book import ON

K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[ChoresKeeper]:
    """Return a keeper before the Chores page."""
    keeper = ChoresKeeper(qtbot, qapp, chores_herd(tmp_path / "moor.herdbook"))
    yield keeper
    keeper.close()


def ask(keeper: ChoresKeeper, query: Any) -> list[Any]:
    """Return the rows of a query, read from the file."""
    with keeper.herd.book.read() as conn:
        return [tuple(row) for row in conn.execute(query)]


def calves_of(keeper: ChoresKeeper, tag: str) -> list[tuple[Any, ...]]:
    """Return the calves of a female born on or after the day: tag, sex, day, kg, unit, ease, fate."""
    a, c, k, w = t.Animal, t.CalvingCalf, t.Calving, t.Weighing
    query = (
        select(a.tag, a.sex, k.day, w.kg, w.unit, c.ease, c.fate)
        .join(c, c.calf_id == a.id)
        .join(k, k.id == c.calving_id)
        .outerjoin(w, (w.animal_id == a.id) & (w.stage == "birth"))
        .where(k.animal_id == keeper.herd.id[tag], k.day > date(2026, 2, 25))
        .order_by(a.id)
    )
    return ask(keeper, query)


def weighings(keeper: ChoresKeeper, day: date = ON) -> dict[str, tuple[float, str]]:
    """Return the weights of a day by tag."""
    w, a = t.Weighing, t.Animal
    rows = ask(keeper, select(a.tag, w.kg, w.unit).join(w, w.animal_id == a.id).where(w.day == day))
    return {tag: (kg, unit) for tag, kg, unit in rows}


def cell(keeper: ChoresKeeper, name: str) -> Any:
    """Return an entry of the line in view."""
    return keeper.page.sheet.line.entries[name]


# ---------------------------------------------------------------- births


def test_a_birth_in_seven_keys_beyond_what_it_says(keeper: ChoresKeeper) -> None:
    """Tag, sex and weight of it are typed; the rest is Enter. At most 12 keys beyond the data."""
    keeper.enter("12")
    keeper.enter()
    keeper.enter("h")
    assert cell(keeper, "tag-0").value() == "26/2"
    assert keeper.page.births.understood.text().endswith("sire by dates B1 Cheviot")
    keeper.enter()
    keeper.enter("34")
    keeper.enter()
    keeper.enter()
    keeper.wait_written("calf 26/2 of 12")
    assert keeper.keys - len("12" + "h" + "34") == 7
    assert calves_of(keeper, "12") == [("26/2", "F", ON, 34.0, "kg", 1, "alive")]
    assert cell(keeper, "dam").line.hasFocus()
    assert cell(keeper, "dam").edit.text() == ""
    assert cell(keeper, "tag-0").value() == "26/3"
    assert keeper.told[-1].startswith("Saved: calving of 12 Eden on Tue 3 Mar: heifer calf, 34 kg, no help")


def test_the_dam_is_offered_from_who_is_due(keeper: ChoresKeeper) -> None:
    """Enter in the empty cell opens the list, the nearest due first; females only."""
    likely = [one.tag for one in cell(keeper, "dam").edit.likely]
    assert set(likely) == {"12", "21"}
    assert "Likely next: " in keeper.page.births.offer.text()
    keeper.enter()
    assert cell(keeper, "dam").edit.choosing
    keeper.enter()
    keeper.wait(lambda: cell(keeper, "day").line.hasFocus())
    assert cell(keeper, "dam").value() == keeper.herd.id[likely[0]]


def test_a_dam_to_be_careful_with_is_marked(keeper: ChoresKeeper) -> None:
    """The reason stands under the line as soon as she is named, and goes with her."""
    assert not keeper.page.births.care.isVisible()
    keeper.enter("7")
    keeper.wait(keeper.page.births.care.isVisible)
    assert keeper.page.births.care.text() == "Take care with 7 Lune: goes for dogs."
    keeper.press(K.Key_Escape)
    assert not keeper.page.births.care.isVisible()


def test_a_bull_is_no_dam(keeper: ChoresKeeper) -> None:
    keeper.enter("B1")
    assert cell(keeper, "dam").line.hasFocus()
    assert "No animal here is called “B1”" in keeper.page.births.line.wrong.text()


def test_a_doubt_is_asked_in_words_and_takes_one_more_enter(keeper: ChoresKeeper) -> None:
    """Nith ran with no bull; the tag is Lune's calf's. Nothing opens over the page."""
    keeper.enter("Nith")
    keeper.wait(lambda: "not written as with a bull" in keeper.page.births.asking.text())
    keeper.enter()
    keeper.enter("b")
    cell(keeper, "tag-0").line.selectAll()
    keeper.type("26/1")
    keeper.wait(lambda: "26/1 is the tag of 26/1 Bora" in keeper.page.births.asking.text())
    keeper.enter()
    keeper.enter("90")
    keeper.wait(lambda: "not likely at birth" in keeper.page.births.asking.text())
    keeper.press(K.Key_Return, CONTROL)
    assert calves_of(keeper, "3") == []
    assert "Enter once more" in keeper.page.births.asking.text()
    assert QApplication.activeModalWidget() is None
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait_written("calf 26/1 of 3")
    assert [row[:4] for row in calves_of(keeper, "3")] == [("26/1", "M", ON, 90.0)]


def test_what_was_asked_is_asked_anew_after_a_change(keeper: ChoresKeeper) -> None:
    keeper.enter("Nith")
    keeper.enter()
    keeper.enter("b")
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait(lambda: "Enter once more" in keeper.page.births.asking.text())
    cell(keeper, "kg-0").line.setFocus()
    keeper.type("31")
    keeper.press(K.Key_Return, CONTROL)
    assert calves_of(keeper, "3") == []
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait_written("calf 26/2 of 3")


def test_twins_are_one_birth(keeper: ChoresKeeper) -> None:
    """Ctrl+T adds a calf with the tag after; pounds are understood; a mixed pair is one act."""
    keeper.enter("12")
    keeper.enter()
    keeper.enter("h")
    keeper.enter()
    keeper.enter("66 lb")
    keeper.press(K.Key_T, CONTROL)
    keeper.wait(lambda: cell(keeper, "tag-1").value() == "26/3")
    assert cell(keeper, "sex-1").line.hasFocus()
    keeper.type("b")
    assert "and bull calf" in keeper.page.births.understood.text()
    assert "barren" in keeper.page.births.understood.text()
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait_written("calf 26/2, 26/3 of 12")
    born = calves_of(keeper, "12")
    assert [(row[0], row[1]) for row in born] == [("26/2", "F"), ("26/3", "M")]
    assert born[0][3:5] == (pytest.approx(29.937, abs=0.001), "lb")  # 66 x 0.45359237
    assert "sex-1" not in keeper.page.births.line.entries
    keeper.undo()
    keeper.wait(lambda: calves_of(keeper, "12") == [])


def test_a_dead_calf_gets_no_tag_that_was_only_offered(keeper: ChoresKeeper) -> None:
    keeper.enter("12")
    keeper.enter()
    keeper.enter("b")
    keeper.enter()
    keeper.enter()
    keeper.enter("3")
    keeper.enter("born")
    keeper.wait(lambda: len(calves_of(keeper, "12")) == 1)
    assert calves_of(keeper, "12")[0][0] == "12 calf 2026-03-03"
    assert calves_of(keeper, "12")[0][5:] == (3, "stillborn")


def test_what_is_missing_is_said(keeper: ChoresKeeper) -> None:
    """No sex, no save; the cell has the focus, and what was typed stays."""
    keeper.enter("12")
    keeper.press(K.Key_Return, CONTROL)
    assert keeper.page.births.line.wrong.text() == "Calf: This is needed."
    assert cell(keeper, "sex-0").line.hasFocus()
    assert keeper.written()[:1] != ["calf 26/2 of 12"]


def test_ctrl_z_takes_back_only_from_an_empty_line(keeper: ChoresKeeper) -> None:
    """In a line that is being typed it is the entry's own undo."""
    before = keeper.standing()
    keeper.enter("12")
    keeper.enter()
    keeper.type("h")
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait_written("calf 26/2 of 12")
    keeper.type("2")
    keeper.undo()
    assert keeper.standing() == before + 1
    assert cell(keeper, "dam").edit.text() == ""
    keeper.press(K.Key_Escape)
    keeper.undo()
    keeper.wait(lambda: keeper.standing() == before)
    keeper.press(K.Key_Z, CONTROL | Qt.KeyboardModifier.ShiftModifier)
    keeper.wait(lambda: keeper.standing() == before + 1)


# ---------------------------------------------------------------- weights


def weigh(keeper: ChoresKeeper) -> Any:
    """Go to the weights and into the column."""
    keeper.press(K.Key_F8)
    keeper.enter()
    keeper.wait(lambda: keeper.page.weights.table.editor() is not None)
    return keeper.page.weights


def column(sheet: Any, key: str) -> dict[str, str]:
    """Return a column of the weights by tag."""
    wanted = sheet.model.column(key)
    return {line.of.tag: wanted.full_text(line) for line in sheet.model.rows}


def test_weights_down_the_column_are_one_round(keeper: ChoresKeeper) -> None:
    """In order of tags; Down leaves one out; the gain stands beside; one act with its round."""
    sheet = weigh(keeper)
    assert list(column(sheet, "tag")) == ["3", "7", "12", "21", "25/1", "26/1", "B1"]
    assert "goes for dogs" in column(sheet, "name")["7"]
    keeper.enter("610")
    keeper.press(K.Key_Down)
    keeper.enter("1320 lb")
    keeper.press(K.Key_Down)
    keeper.enter("344")
    keeper.press(K.Key_Up)
    assert column(sheet, "gain")["25/1"] == "+1.00"  # 34 kg in the 34 days since 28 January
    assert column(sheet, "gain")["3"] == ""
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait_written("weighing of 3, 12, 25/1")
    assert weighings(keeper) == {
        "3": (610.0, "kg"),
        "12": (pytest.approx(598.742, abs=0.001), "lb"),  # 1320 x 0.45359237
        "25/1": (344.0, "kg"),
    }
    assert ask(
        keeper, select(func.count(func.distinct(t.Weighing.round_id))).where(t.Weighing.day == ON)
    ) == [(1,)]
    keeper.undo()
    keeper.wait(lambda: weighings(keeper) == {})


def test_no_gain_under_a_fortnight(keeper: ChoresKeeper) -> None:
    sheet = weigh(keeper)
    sheet.day.fill(date(2026, 1, 28) + timedelta(days=13))
    sheet.day.line.setFocus()
    keeper.enter()
    keeper.wait(lambda: sheet.table.editor() is not None)
    keeper.press(K.Key_Down, times=4)
    keeper.enter("330")
    assert column(sheet, "typed")["25/1"] == "330"
    assert column(sheet, "gain")["25/1"] == ""


def test_a_group_first(keeper: ChoresKeeper) -> None:
    """Only its animals stand there, and the round keeps the group."""
    keeper.press(K.Key_F8)
    keeper.enter("Top")
    keeper.wait(lambda: keeper.page.weights.table.editor() is not None)
    assert list(column(keeper.page.weights, "tag")) == ["25/1"]
    keeper.enter("344")
    assert keeper.page.weights.save_button.hasFocus()
    keeper.enter()
    keeper.wait_written("weighing of 25/1")
    assert ask(keeper, select(t.Group.name).join(t.Round, t.Round.group_id == t.Group.id)) == [("Top field",)]


def test_doubtful_weights_are_named(keeper: ChoresKeeper) -> None:
    """Pounds typed as kilograms are asked about beside the animal; Enter once more saves."""
    sheet = weigh(keeper)
    keeper.press(K.Key_Down, times=4)
    keeper.enter("758")
    keeper.wait(lambda: "gain of more than 3 kg a day" in column(sheet, "heed")["25/1"])
    assert sheet.asking.text().startswith("25/1 Wharfe: ")
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait(lambda: sheet.save_button.hasFocus())
    assert weighings(keeper) == {}
    assert sheet.save_button.text() == "Save all the same (Enter)"
    keeper.enter()
    keeper.wait_written("weighing of 25/1")


def test_what_is_no_weight_is_not_saved(keeper: ChoresKeeper) -> None:
    sheet = weigh(keeper)
    keeper.enter("6l0")
    keeper.press(K.Key_Return, CONTROL)
    assert "cannot be read" in sheet.refusal.text() or "not a unit" in sheet.refusal.text()
    assert weighings(keeper) == {}
    assert sheet.table.editor() is not None


def test_tab_leaves_the_column(keeper: ChoresKeeper) -> None:
    sheet = weigh(keeper)
    keeper.press(K.Key_Tab)
    assert QApplication.focusWidget() in (sheet.save_button, keeper.page.undo, keeper.page.book.table)
    assert sheet.table.editor() is None


# ---------------------------------------------------------------- rounds


def test_tab_goes_round_every_sheet(keeper: ChoresKeeper) -> None:
    """Tab visits the entries in reading order and comes back to where it began."""
    for key, sheet in ((K.Key_F7, keeper.page.births), (K.Key_F9, keeper.page.rounds)):
        keeper.press(key)
        lines = [entry.line for entry in sheet.line.entries.values()]
        lines[0].setFocus()
        visited = [QApplication.focusWidget()]
        keeper.press(K.Key_Tab)
        while QApplication.focusWidget() is not lines[0] and len(visited) < 40:
            visited.append(QApplication.focusWidget())
            keeper.press(K.Key_Tab)
        assert visited[: len(lines)] == lines
        assert keeper.window.search in visited


def test_the_page_opens_with_the_cursor_in_dam(keeper: ChoresKeeper) -> None:
    """Also when it comes into view by its key from another page; the wheel turns no tab."""
    keeper.press(K.Key_2, CONTROL)
    keeper.press(K.Key_3, CONTROL)
    assert QApplication.focusWidget() is keeper.page.births.dam.edit
    middle = QPointF(keeper.page.tabs.rect().center())
    turn = QWheelEvent(middle, middle, QPoint(), QPoint(0, -120), Qt.MouseButton.NoButton,
                       Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False)  # fmt: skip
    QApplication.sendEvent(keeper.page.tabs, turn)
    assert keeper.page.tabs.currentIndex() == 0


def test_a_treatment_of_several(keeper: ChoresKeeper) -> None:
    """Animals one by one; no days for meat reads as not known, and is asked once."""
    keeper.press(K.Key_F9)
    keeper.enter("12")
    keeper.enter("Nith")
    keeper.enter()
    keeper.enter()
    keeper.enter()
    keeper.enter("Pour-on")
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait(lambda: "not known" in keeper.page.rounds.asking.text())
    assert keeper.written()[:1] != ["treatment of 12, 3"]
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait_written("treatment of 12, 3")
    d = t.Treatment
    rows = ask(keeper, select(d.animal_id, d.product, d.meat_days, d.round_id).order_by(d.id))
    assert [row[:3] for row in rows] == [(keeper.herd.id[tag], "Pour-on", None) for tag in ("12", "3")]
    assert rows[0][3] == rows[1][3] is not None
    assert cell(keeper, "animals").value() is None


def test_a_whole_group_and_the_days_of_last_time(keeper: ChoresKeeper) -> None:
    """The group's animals join the list; the days of last time are said, never put in."""
    keeper.press(K.Key_F9)
    keeper.enter()
    keeper.enter("Top")
    keeper.wait(lambda: cell(keeper, "animals").value() == (keeper.herd.id["25/1"],))
    keeper.enter()
    keeper.enter("Drench")
    keeper.enter("28")
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait_written("treatment of 25/1")
    keeper.enter("12")
    keeper.enter()
    keeper.enter()
    keeper.enter()
    keeper.type("drench")
    keeper.wait(lambda: "28 days for meat; the label counts" in keeper.page.rounds.understood.text())
    assert cell(keeper, "meat_days").value() is None


def test_castrating_what_today_sent(keeper: ChoresKeeper) -> None:
    """Another page passes animals and the work; method, Enter."""
    calf = keeper.herd.id["26/1"]
    keeper.desk.go("chores", {"animals": (calf,), "errand": "castrate"})
    keeper.calm()
    keeper.enter()
    keeper.enter("rub")
    keeper.wait_written("castration of 26/1")
    assert ask(keeper, select(t.Castration.animal_id, t.Castration.method)) == [(calf, "ring")]


def test_today_says_what_the_errand_is(keeper: ChoresKeeper) -> None:
    """Enter on Today's line of calves to castrate opens the castration of just those calves."""
    keeper.press(K.Key_1, CONTROL)
    keeper.page.setFocus()
    keeper.wait(lambda: keeper.page._model.rows)
    castrate = next(row for row in keeper.page._model.rows if row.code == "castrate")
    keeper.page.panel.table.choose(keeper.page._model._key(castrate))
    keeper.press(K.Key_Return)
    keeper.wait(lambda: keeper.page.key == "chores")
    assert cell(keeper, "work").value() == "castration"
    assert cell(keeper, "animals").value() == castrate.what
    assert cell(keeper, "day").line.hasFocus()


def test_nobody_chosen(keeper: ChoresKeeper) -> None:
    keeper.press(K.Key_F9)
    cell(keeper, "product").line.setFocus()
    keeper.type("Drench")
    keeper.press(K.Key_Return, CONTROL)
    assert keeper.page.rounds.line.wrong.text() == "Animals: Choose at least one."


# ---------------------------------------------------------------- half-typed


def again(keeper: ChoresKeeper, qtbot: QtBot, qapp: QApplication) -> ChoresKeeper:
    """Close the window and open the book anew."""
    path = keeper.herd.book.path
    keeper.window.close()
    keeper.close()
    herd = Herd(Book.open(path, who="keeper"), ON, keeper.herd.id)
    return ChoresKeeper(qtbot, qapp, herd)


def test_half_a_birth_is_there_again(keeper: ChoresKeeper, qtbot: QtBot, qapp: QApplication) -> None:
    """Twin and all; it is saved then, and does not come back a third time."""
    keeper.enter("12")
    keeper.enter("yesterday")
    keeper.enter("h")
    keeper.press(K.Key_T, CONTROL)
    keeper.type("b")
    second = again(keeper, qtbot, qapp)
    try:
        second.wait(lambda: cell(second, "dam").value() == second.herd.id["12"])
        assert "half typed" in second.page.births.restored.text()
        assert cell(second, "day").value() == date(2026, 3, 2)
        assert (cell(second, "sex-0").value(), cell(second, "sex-1").value()) == ("F", "M")
        second.press(K.Key_Return, CONTROL)
        second.wait_written("calf 26/2, 26/3 of 12")
        third = again(second, qtbot, qapp)
    finally:
        keeper.herd = second.herd
    try:
        assert cell(third, "dam").edit.text() == ""
    finally:
        third.close()


def test_half_a_column_is_there_again(keeper: ChoresKeeper, qtbot: QtBot, qapp: QApplication) -> None:
    """Also what stands in a cell that Enter has not left; the page opens on that sheet."""
    sheet = weigh(keeper)
    keeper.enter("610")
    keeper.type("58")
    second = again(keeper, qtbot, qapp)
    try:
        assert second.page.sheet is second.page.weights
        assert column(second.page.weights, "typed") | {"3": "", "7": ""} == dict.fromkeys(
            column(sheet, "tag"), ""
        )
        assert column(second.page.weights, "typed")["3"] == "610"
        assert column(second.page.weights, "typed")["7"] == "58"
    finally:
        second.close()


def test_escape_takes_it_away(keeper: ChoresKeeper) -> None:
    keeper.type("12")
    keeper.page.drafts.write()
    assert keeper.page.drafts.path.exists()
    keeper.press(K.Key_Escape)
    keeper.press(K.Key_Escape)  # the first may put the list away
    keeper.page.drafts.write()
    assert not keeper.page.drafts.path.exists()


def test_a_book_that_cannot_be_written_says_so(
    keeper: ChoresKeeper, qtbot: QtBot, qapp: QApplication
) -> None:
    """The refusal stands under the line, and what was typed stays."""
    path = keeper.herd.book.path
    keeper.close()
    reader = ChoresKeeper(qtbot, qapp, Herd(Book.open(path, read_only=True), ON, keeper.herd.id))
    try:
        reader.enter("12")
        reader.enter()
        reader.type("h")
        reader.press(K.Key_Return, CONTROL)
        reader.wait(lambda: reader.page.births.refusal.text() != "")
        assert cell(reader, "dam").edit.text() == "12 Eden"
    finally:
        reader.close()


def test_an_empty_book(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> None:
    """It says what to do first, with one button."""
    keeper = ChoresKeeper(qtbot, qapp, Herd(Book.create(tmp_path / "new.herdbook"), ON))
    assert keeper.page.nobody.isVisible()
    assert "first" in keeper.page.nobody_words.text()
    keeper.close()
