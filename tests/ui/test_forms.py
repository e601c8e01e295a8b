"""Forms made from commands: what is typed, what is said of it, and what comes out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QPushButton
from pytestqt.qtbot import QtBot

from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.reasons import Reason
from herdbook.services.asking import Question, asks, questions
from herdbook.services.registry import Refused
from herdbook.ui.dates import day_text, read_day
from herdbook.ui.desk import Desk, Found, plain_words
from herdbook.ui.forms.days import DateEntry, MonthDayEntry
from herdbook.ui.forms.dialog import FormDialog
from herdbook.ui.forms.entry import Mistake, ShareEntry
from herdbook.ui.forms.form import CommandForm
from tests.ui.conftest import ON, OpenDesk, SmallBook, show

Quiet = Callable[[], None]


@dataclass(frozen=True)
class Weigh:
    """A command like those of the book."""

    animal: int = asks("Animal", "animal")
    day: date = asks("Date", "date")
    kg: float = asks("Weight", "weight", hint="as the scale shows it")
    unit: str = "kg"
    how: str = asks("How", "choice", choices=(("scale", "scale"), ("tape", "girth tape")), default="scale")
    times: int | None = asks("Times", "count", optional=True)
    note: str | None = asks("Note", "note", optional=True)


@dataclass(frozen=True)
class Everything:
    """Every kind of question."""

    run: int
    tag: str = asks("Tag", "text", default="12")
    born: PartDay | None = asks("Born", "part_date", optional=True)
    cm: float | None = asks("Height", "length", optional=True)
    value: float | None = asks("Score", "number", optional=True)
    ease: int | None = asks("Help", "choice", choices=(("1", "none"), ("2", "some")), optional=True)
    known: bool = asks("Known", "flag", default=False)
    dam: int | None = asks("Dam", "female", optional=True)
    sire: int | None = asks("Sire", "male", optional=True)
    animals: tuple[int, ...] | None = asks("Animals", "animals", optional=True)
    group: int | None = asks("Group", "group", optional=True)
    days: int | None = asks("Days", "days", optional=True)


def shown(qtbot: QtBot, form: CommandForm) -> CommandForm:
    """Show a form and give it the focus."""
    qtbot.addWidget(form)
    show(qtbot, form)
    return form


# -- days ---


@pytest.mark.parametrize(
    ("typed", "day"),
    [
        ("today", ON),
        ("yesterday", ON - timedelta(days=1)),
        ("-2", ON - timedelta(days=2)),
        ("+14", ON + timedelta(days=14)),
        ("3/3", ON),
        ("1.3.", date(2026, 3, 1)),
        ("24/12", date(2025, 12, 24)),
        ("3 Mar", ON),
        ("march 3 2026", ON),
        ("3 mar 26", ON),
        ("2026-03-03", ON),
        ("20260303", ON),
        ("3/3/26", ON),
        ("mon", date(2026, 3, 2)),
        ("Tuesday", ON),
        ("wed", date(2026, 2, 25)),
        ("29 feb", date(2024, 2, 29)),
        ("29/2/2024", date(2024, 2, 29)),
    ],
)
def test_days_are_read_as_they_are_said(typed: str, day: date) -> None:
    """On Tuesday 3 March 2026, days in figures being day-month-year."""
    assert read_day(typed, ON, "dmy") == day


@pytest.mark.parametrize(
    "typed", ["", "soon", "31/2", "29/2/2025", "3/3/3/3", "13/13", "monkey 3", "--", "1e3"]
)
def test_what_is_no_day_is_refused(typed: str) -> None:
    """Nothing is guessed."""
    with pytest.raises(ValueError, match="is not a day"):
        read_day(typed, ON, "dmy")


def test_order_of_day_and_month() -> None:
    """Month first where the locale has it so; four figures first always mean year-month-day."""
    assert read_day("2/1/2026", ON, "mdy") == date(2026, 2, 1)
    assert read_day("2/1/2026", ON, "dmy") == date(2026, 1, 2)
    assert read_day("2026/1/2", ON, "mdy") == date(2026, 1, 2)


def test_days_as_text() -> None:
    """The weekday within 14 days, the year beyond, and no more than is known."""
    assert "Tue" in day_text(ON, ON)
    assert "2026" in day_text(ON + timedelta(days=15), ON)
    assert "2026" not in day_text(ON + timedelta(days=14), ON)
    assert day_text(date(2019, 1, 1), ON, "year") == "2019"
    assert day_text(date(2019, 4, 1), ON, "month") == "Apr 2019"
    assert day_text(date(2019, 4, 1), ON, "before").startswith("before")


# -- the form ---


def test_a_weighing_by_keys_alone(qtbot: QtBot, desk: Desk) -> None:
    """Tag, day, weight in pounds, Enter from one to the next; Enter at the end says the form is finished."""
    form = shown(qtbot, CommandForm(Weigh, desk))
    form.focus_first()
    qtbot.keyClicks(form.entries["animal"].line, "388")
    qtbot.keyClick(form.entries["animal"].line, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: form.entries["day"].line.hasFocus())
    qtbot.keyClicks(form.entries["day"].line, "yesterday")
    assert "2 March 2026" in form.entries["day"].said.text()
    qtbot.keyClick(form.entries["day"].line, Qt.Key.Key_Return)
    qtbot.keyClicks(form.entries["kg"].line, "520 lb")
    qtbot.keyClick(form.entries["kg"].line, Qt.Key.Key_Return)
    qtbot.keyClick(form.entries["how"].line, Qt.Key.Key_Return)
    qtbot.keyClick(form.entries["times"].line, Qt.Key.Key_Return)
    with qtbot.waitSignal(form.finished):
        qtbot.keyClick(form.entries["note"].line, Qt.Key.Key_Return)
    command = form.command()
    assert command == Weigh(2, ON - timedelta(days=1), pytest.approx(235.868, abs=0.001), "lb", "scale")


def test_enter_does_not_pass_over_a_mistake(qtbot: QtBot, desk: Desk) -> None:
    """What cannot be read is said under the entry, and the focus stays."""
    form = shown(qtbot, CommandForm(Weigh, desk, {"animal": 1}))
    form.focus("kg")
    qtbot.keyClicks(form.entries["kg"].line, "heavy")
    qtbot.keyClick(form.entries["kg"].line, Qt.Key.Key_Return)
    assert form.entries["kg"].line.hasFocus()
    assert "heavy" in form._errors["kg"].text()
    assert form._errors["kg"].isVisible()
    qtbot.keyClicks(form.entries["kg"].line, "x")
    assert not form._errors["kg"].isVisible()


def test_missing_answers_are_marked_and_nothing_comes_out(qtbot: QtBot, desk: Desk) -> None:
    """An answer that is needed and not there is named."""
    form = shown(qtbot, CommandForm(Weigh, desk))
    assert form.command() is None
    assert form._errors["animal"].text() == "This is needed."
    assert form._errors["kg"].text() == "This is needed."
    assert not form._errors["note"].text()
    assert form.entries["animal"].line.hasFocus()


def test_typed_but_not_picked_is_looked_up_on_save(qtbot: QtBot, desk: Desk) -> None:
    """Saving right after typing a name takes the animal of that name; 412 is not 4120."""
    form = shown(qtbot, CommandForm(Weigh, desk, {"kg": 400.0}))
    got: list[Weigh] = []
    qtbot.keyClicks(form.entries["animal"].line, "412")
    form.submit(got.append)
    qtbot.waitUntil(lambda: bool(got))
    assert got[0].animal == 1


def test_unknown_and_doubtful_names(qtbot: QtBot, desk: Desk, quiet: Quiet) -> None:
    """A name nobody bears and one that several bear are said to be so."""
    form = shown(qtbot, CommandForm(Weigh, desk, {"kg": 400.0}))
    got: list[Weigh] = []
    qtbot.keyClicks(form.entries["animal"].line, "99")
    form.submit(got.append)
    quiet()
    assert "No animal here" in form._errors["animal"].text()
    form.entries["animal"].line.clear()
    qtbot.keyClicks(form.entries["animal"].line, "4")
    form.submit(got.append)
    quiet()
    assert "More than one" in form._errors["animal"].text()
    assert got == []


def test_every_kind_of_question(qtbot: QtBot, desk: Desk, quiet: Quiet) -> None:
    """Each kind fills from a value and gives it back; what is not asked passes through."""
    values = {
        "run": 9,
        "tag": "26-08",
        "born": PartDay(date(2019, 4, 1), "month"),
        "cm": 128.4,
        "value": 5.5,
        "ease": 2,
        "known": True,
        "dam": 2,
        "sire": 5,
        "animals": (1, Found(3, "401", "Caldew")),
        "group": 11,
        "days": 14,
    }
    form = shown(qtbot, CommandForm(Everything, desk, values))
    quiet()
    assert form.entries["dam"].line.text() == "388 Lowther"
    command = form.command()
    assert command == Everything(**{**values, "animals": (1, 3)})
    assert not form.is_edited, "a form that fills itself was not edited by the keeper"


@pytest.mark.parametrize(
    ("typed", "born"),
    [
        ("2019", PartDay(date(2019, 1, 1), "year")),
        ("4/2019", PartDay(date(2019, 4, 1), "month")),
        ("2019-04", PartDay(date(2019, 4, 1), "month")),
        ("Apr 2019", PartDay(date(2019, 4, 1), "month")),
        ("before 2019", PartDay(date(2019, 1, 1), "before")),
        ("3 Apr 2019", PartDay(date(2019, 4, 3))),
    ],
)
def test_part_days(qtbot: QtBot, desk: Desk, typed: str, born: PartDay) -> None:
    """A year will do."""
    form = shown(qtbot, CommandForm(Everything, desk, {"run": 1}))
    qtbot.keyClicks(form.entries["born"].line, typed)
    assert form.command().born == born


def test_animals_join_one_by_one(qtbot: QtBot, desk: Desk) -> None:
    """Enter adds to the list, twice the same adds once, Delete takes off."""
    form = shown(qtbot, CommandForm(Everything, desk, {"run": 1}))
    entry = form.entries["animals"]
    entry.line.setFocus()
    for tag in ("388", "401", "388"):
        qtbot.keyClicks(entry.line, tag)
        qtbot.keyClick(entry.line, Qt.Key.Key_Return)
        qtbot.waitUntil(lambda: entry.line.text() == "")
    assert form.command().animals == (2, 3)
    entry.list.setCurrentRow(0)
    qtbot.keyClick(entry.list, Qt.Key.Key_Delete)
    assert form.command().animals == (3,)


def test_a_bull_is_no_dam(qtbot: QtBot, desk: Desk, quiet: Quiet) -> None:
    """A female entry finds no bulls."""
    form = shown(qtbot, CommandForm(Everything, desk, {"run": 1}))
    got: list[Everything] = []
    qtbot.keyClicks(form.entries["dam"].line, "Cheviot")
    form.submit(got.append)
    quiet()
    assert got == []
    assert form._errors["dam"].text()


def test_the_wheel_turns_nothing(qtbot: QtBot, desk: Desk) -> None:
    """Rolling over a choice leaves it as it is."""
    form = shown(qtbot, CommandForm(Weigh, desk))
    combo = form.entries["how"].line
    form.focus("how")
    event = QWheelEvent(
        QPointF(5, 5),
        QPointF(5, 5),
        QPoint(0, -120),
        QPoint(0, -120),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(combo, event)
    assert form.entries["how"].value() == "scale"


def test_pounds_are_the_unit_where_the_book_says_so(qtbot: QtBot, desk: Desk) -> None:
    """A bare number is in the book's unit, one with its own unit is taken so, one not retyped stays exact."""
    desk.settings.weight_unit = "lb"
    form = shown(qtbot, CommandForm(Weigh, desk, {"animal": 1, "kg": 123.456}))
    assert form.entries["kg"].line.text() == "272.2"
    assert form.command() == Weigh(1, ON, 123.456, "lb", "scale")
    form.entries["kg"].line.clear()
    qtbot.keyClicks(form.entries["kg"].line, "100 kg")
    assert form.command().kg == 100
    assert form.command().unit == "kg"
    assert "220.5 lb" in form.entries["kg"].said.text()


def test_every_control_has_a_name(qtbot: QtBot, desk: Desk) -> None:
    """Screen readers can say what each entry is, and the label leads to it."""
    form = shown(qtbot, CommandForm(Everything, desk, {"run": 1}))
    for entry in form.entries.values():
        assert entry.line.accessibleName() == entry.question.label


# -- the dialog ---


def test_dialog_saves_and_closes(qtbot: QtBot, desk: Desk, book: SmallBook) -> None:
    """Ctrl+Enter saves from anywhere, once, and says so with Undo."""
    said: list[tuple[str, bool]] = []
    desk.told.connect(lambda text, undo: said.append((text, undo)))
    dialog = FormDialog(Weigh, desk, "Weigh", {"animal": 1}, told="Weighed.")
    show(qtbot, dialog)
    qtbot.keyClicks(dialog.form.entries["kg"].line, "400")
    with qtbot.waitSignal(dialog.accepted):
        dialog.save()
        dialog.save()
    assert [command.kg for command in book.done] == [400.0]
    assert said == [("Weighed.", True)]


def test_dialog_stays_with_the_reason(qtbot: QtBot, desk: Desk, book: SmallBook, quiet: Quiet) -> None:
    """Refused: the reason is shown, nothing typed is lost."""
    book.refuse = Refused(Reason("left", "{tag} left on 1 February", {"tag": "412"}))
    dialog = FormDialog(Weigh, desk, "Weigh", {"animal": 1})
    qtbot.addWidget(dialog)
    show(qtbot, dialog)
    qtbot.keyClicks(dialog.form.entries["kg"].line, "400")
    dialog.save()
    quiet()
    assert dialog.isVisible()
    assert dialog.refusal.text() == "412 left on 1 February"
    assert dialog.form.entries["kg"].line.text() == "400"


def test_enter_in_the_middle_saves_nothing(qtbot: QtBot, desk: Desk, book: SmallBook, quiet: Quiet) -> None:
    """Half a form is never saved by Enter."""
    dialog = FormDialog(Weigh, desk, "Weigh", {"animal": 1, "kg": 400.0})
    qtbot.addWidget(dialog)
    show(qtbot, dialog)
    dialog.form.focus("kg")
    qtbot.keyClick(dialog.form.entries["kg"].line, Qt.Key.Key_Return)
    quiet()
    assert book.done == []
    assert dialog.form.entries["how"].line.hasFocus()


def test_closing_asks_only_when_something_was_typed(qtbot: QtBot, desk: OpenDesk) -> None:
    """Escape closes an untouched form; of a touched one it asks, and staying keeps what was typed."""
    dialog = FormDialog(Weigh, desk, "Weigh", {"animal": 1})
    qtbot.addWidget(dialog)
    show(qtbot, dialog)
    desk.answer = "stay"
    qtbot.keyClicks(dialog.form.entries["kg"].line, "40")
    dialog.reject()
    assert dialog.isVisible()
    assert len(desk.asked) == 1
    desk.answer = "close"
    dialog.reject()
    assert not dialog.isVisible()
    again = FormDialog(Weigh, desk, "Weigh", {"animal": 1})
    again.show()
    again.reject()
    assert len(desk.asked) == 2


def test_only_words_for_people_are_shown() -> None:
    """The book's own errors speak; a slip of the program stays inside; a file says which it is."""
    assert plain_words(Refused(Reason("left", "{tag} left", {"tag": "412"}))) == "412 left"
    assert plain_words(ValueError(Reason("low", "{n} is low", {"n": 2}))) == "2 is low"
    assert "unpack" not in plain_words(ValueError("not enough values to unpack"))
    assert "safe" in plain_words(KeyError("tag"))
    assert "/no/cows.csv" in plain_words(FileNotFoundError(2, "no such folder", "/no/cows.csv"))


def test_enter_presses_the_button_with_the_focus(
    qtbot: QtBot, desk: Desk, book: SmallBook, quiet: Quiet
) -> None:
    """On Cancel it cancels, and saves nothing."""
    dialog = FormDialog(Weigh, desk, "Weigh", {"animal": 1, "kg": 400.0})
    show(qtbot, dialog)
    cancel = next(button for button in dialog.findChildren(QPushButton) if button.text() == "Cancel")
    cancel.setFocus()
    with qtbot.waitSignal(dialog.rejected):
        qtbot.keyClick(cancel, Qt.Key.Key_Return)
    quiet()
    assert book.done == []


def test_a_day_in_a_line_with_others_is_said_briefly(qtbot: QtBot, desk: Desk) -> None:
    """A brief entry says how far the day is; Up steps a day."""
    entry = DateEntry(questions(Weigh)[1], desk, brief=True)
    qtbot.addWidget(entry)
    show(qtbot, entry)
    entry.fill(ON)
    assert entry.said.text() == "today"
    qtbot.keyClick(entry.line, Qt.Key.Key_Up)
    assert entry.said.text() == "tomorrow"
    assert entry.value() == ON + timedelta(days=1)


def question(kind: str) -> Question:
    """Return a question of a kind."""
    return Question("what", "What", kind, (), "", False, None)  # type: ignore[arg-type]


def test_share_is_typed_in_per_cent(desk: OpenDesk) -> None:
    """A sixteenth reads 6.25 %, and what is typed with or without the sign comes back as a fraction."""
    entry = ShareEntry(question("share"), desk)
    entry.fill(0.0625)
    assert entry.text() == "6.25 %"
    assert entry.value() == 0.0625
    for text, value in (("65", 0.65), ("65%", 0.65), ("12,5 %", 0.125)):
        entry.edit.setText(text)
        assert entry.value() == value
    entry.edit.setText("650")
    with pytest.raises(Mistake):
        entry.value()


def test_day_of_the_year(desk: OpenDesk) -> None:
    """Bull in on 1 June is typed as a day, without a year, and kept as month and day."""
    entry = MonthDayEntry(question("month_day"), desk)
    entry.fill("06-01")
    assert set(entry.text().split()) == {"1", "Jun"}
    assert entry.value() == "06-01"
    for text, value in (("29 Feb", "02-29"), ("15 may", "05-15"), ("12-24", "12-24")):
        entry.edit.setText(text)
        assert entry.value() == value
    entry.edit.setText("summer")
    with pytest.raises(Mistake):
        entry.value()
