"""Plans on the Sort page by keys: kept, opened, compared, accepted, withdrawn, and what has changed since."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.commands.happenings import Leave
from herdbook.services.queries.due import due_list
from herdbook.services.queries.plans import PlanRow, plans
from herdbook.services.queries.today import today
from herdbook.store import tables as t
from herdbook.ui.sort.compare import CompareDialog
from herdbook.ui.sort.page import SortPage
from herdbook.ui.sort.plans import PlansDialog
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper

ON = date(2026, 5, 1)
IN, OUT, CHECK, AUTUMN = date(2026, 6, 1), date(2026, 8, 2), date(2026, 9, 20), date(2026, 9, 1)
K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def keeper(tmp_path: Path, qtbot: QtBot, qapp: QApplication) -> Iterator[Keeper]:
    """Return a keeper before the Sort page: two bulls, five cows of whom Kent is Cheviot's daughter."""
    h = Herd(Book.create(tmp_path / "moor.herdbook", who="keeper"), ON)
    h.add("Cheviot", "M", date(2021, 3, 1))
    h.add("Pentland", "M", date(2022, 3, 1))
    for tag, born in (("Eden", 2018), ("Lune", 2019), ("Nith", 2019), ("Tarn", 2020)):
        h.add(tag, "F", date(born, 3, 1))
    h.add("Kent", "F", date(2022, 4, 1), dam=h.id["Eden"], sire=h.id["Cheviot"])
    for dam in ("Eden", "Lune", "Nith", "Tarn", "Kent"):
        h.calve(dam, date(2026, 3, 20), f"{dam} calf", sex="M")
    keeper = Keeper(qtbot, qapp, h, first="sort")
    keeper.desk.answer = "accept"
    keeper.wait(lambda: keeper.page.result is not None)
    keeper.calm()
    keeper.page.setFocus()
    yield keeper
    keeper.close()


def kept(keeper: Keeper) -> list[PlanRow]:
    """Return the plans in the book."""
    with keeper.herd.book.read() as conn:
        return plans(conn)


def keep(keeper: Keeper, name: str) -> None:
    """Keep the sort in view under a name, by keys."""
    keeper.press(K.Key_S, CONTROL)
    keeper.dialog()
    keeper.press(K.Key_A, CONTROL)
    keeper.type(name)
    keeper.save()


def choose(keeper: Keeper, tag: str) -> None:
    """Go to a female on the board."""
    assert keeper.page.board.choose(keeper.herd.id[tag])
    keeper.page.board.setFocus()


def plans_open(keeper: Keeper) -> PlansDialog:
    """Open the list of plans by its key."""
    keeper.press(K.Key_O)
    dialog = keeper.dialog()
    assert isinstance(dialog, PlansDialog)
    keeper.calm()
    return dialog


def two_plans(keeper: Keeper) -> None:
    """Keep the sort as "All", then without Lune as "Without Lune"."""
    keep(keeper, "All")
    choose(keeper, "Lune")
    keeper.press(K.Key_L)
    keep(keeper, "Without Lune")


def test_kept_opened_and_taken_back(keeper: Keeper) -> None:
    """The first plan is opened over the second: a step, which Backspace takes back; nobody is solved anew."""
    two_plans(keeper)
    assert [(row.words, row.state, row.bred, row.sell) for row in kept(keeper)] == [
        ("Without Lune, version 1", "draft", 4, 1),
        ("All, version 1", "draft", 5, 0),
    ]
    dialog = plans_open(keeper)
    assert [dialog.panel.model.row_at(n).name for n in range(2)] == ["Without Lune", "All"]
    keeper.press(K.Key_Down)
    keeper.press(K.Key_Return)
    keeper.in_window()
    page: SortPage = keeper.page
    assert page.note.text().startswith("All, version 1, as it was kept")
    assert "kept as All" in page.detail.text()
    assert not page.result.choices
    assert "proven best" in page.figures.text()
    page.board.setFocus()
    keeper.press(K.Key_Backspace)
    assert "All, version 1 opened" in page.note.text()
    assert page.result.choices[keeper.herd.id["Lune"]].place == "sell"
    keep(keeper, "All")
    assert kept(keeper)[0].words == "All, version 2"


def test_side_by_side(keeper: Keeper) -> None:
    """C compares the two that are chosen: counts, and Lune as the one who stands differently."""
    two_plans(keeper)
    dialog = plans_open(keeper)
    keeper.press(K.Key_Down, SHIFT)
    assert len(dialog.panel.table.chosen_keys()) == 2
    keeper.press(K.Key_C)
    side = keeper.dialog()
    assert isinstance(side, CompareDialog)
    keeper.wait(lambda: side.females is not None)
    rows = {row.what: row.values for row in side.figures.model.rows}
    assert rows["With a bull"] == ("4", "5")
    assert rows["To sell"] == ("1", "0")
    assert rows["Worst calf"] == ("not known", "not known")
    assert rows["Calves of which nothing is known"] == ("4", "5")
    assert rows["State"] == ("draft", "draft")
    assert rows["First and last due"][0] == rows["First and last due"][1]
    assert side.said.text() == "1 female stands differently:"
    (lune,) = side.females.model.rows
    assert (lune.label, lune.places[0]) == ("Lune", "to sell")
    assert lune.places[1].startswith(("Cheviot", "Pentland"))
    keeper.press(K.Key_Escape)
    keeper.wait(lambda: QApplication.activeModalWidget() is dialog)
    keeper.dialog()
    keeper.press(K.Key_Escape)
    keeper.in_window()


def written(keeper: Keeper) -> dict[str, Any]:
    """Return what an accepted plan fills: runs, who is in which group, the due list, and Today's lines."""
    with keeper.herd.book.read() as conn:
        days = [errand for day in (IN, OUT, CHECK) for errand in today(conn, day)]
        return {
            "runs": len(conn.execute(t.BullRun.__table__.select()).all()),
            "moves": len(conn.execute(t.Membership.__table__.select()).all()),
            "due": {row.tag: row.sires[0].tag for row in due_list(conn, AUTUMN)},
            "tasks": sorted({errand.code for errand in days}),
        }


def test_accepted_from_the_list_undone_and_done_again(keeper: Keeper) -> None:
    """Ctrl+Enter in the list accepts that very version; Ctrl+Z takes all of it out of the book again."""
    two_plans(keeper)
    empty = written(keeper)
    assert (empty["runs"], empty["due"]) == (0, {})
    plans_open(keeper)
    keeper.press(K.Key_Return, CONTROL)
    keeper.in_window()
    keeper.wait(keeper.page.plan_line.isVisible)
    keeper.calm()
    assert keeper.desk.asked == ["Accept this sort?"]
    assert [row.state for row in kept(keeper)] == ["accepted", "draft"], "no further version was made"
    full = written(keeper)
    assert full["runs"] == 2
    assert full["moves"] > empty["moves"]
    assert set(full["due"]) == {"Eden", "Nith", "Tarn", "Kent"}
    assert full["due"]["Kent"] == "Pentland"
    assert {"bull_in", "bull_out", "check"} <= set(full["tasks"])
    keeper.page.board.setFocus()
    keeper.press(K.Key_Z, CONTROL)
    keeper.wait(lambda: not keeper.page.plan_line.isVisible())
    keeper.calm()
    assert written(keeper) == empty
    assert [row.state for row in kept(keeper)] == ["draft", "draft"]
    keeper.press(K.Key_Z, CONTROL | SHIFT)
    keeper.wait(keeper.page.plan_line.isVisible)
    keeper.calm()
    assert written(keeper) == full


def test_another_takes_its_place_and_is_withdrawn(keeper: Keeper) -> None:
    """The second accepted replaces the first; its acceptance is taken back from the list."""
    two_plans(keeper)
    plans_open(keeper)
    keeper.press(K.Key_Return, CONTROL)
    keeper.in_window()
    keeper.wait(keeper.page.plan_line.isVisible)
    keeper.calm()
    plans_open(keeper)
    keeper.press(K.Key_Down)
    keeper.press(K.Key_Return, CONTROL)
    keeper.in_window()
    keeper.wait(lambda: "All" in keeper.page.head.plan_text.text())
    assert keeper.desk.asked[-1] == "Without Lune was accepted already. Accept this one in its place?"
    assert [row.state for row in kept(keeper)] == ["replaced", "accepted"]
    assert set(written(keeper)["due"]) == {"Eden", "Nith", "Tarn", "Kent", "Lune"}
    dialog = plans_open(keeper)
    keeper.press(K.Key_Down)
    keeper.desk.answer = "withdraw"
    keeper.wait(dialog.withdraw_button.isVisible)
    keeper.press(K.Key_A)
    keeper.calm()
    keeper.wait(lambda: [row.state for row in kept(keeper)] == ["replaced", "draft"])
    keeper.press(K.Key_Escape)
    keeper.in_window()
    assert written(keeper)["due"] == {}
    assert not keeper.page.plan_line.isVisible()


def test_one_that_has_begun_keeps_its_place(keeper: Keeper) -> None:
    """The bulls went in today: another plan is refused, in words, and nothing is written or lost."""
    page = keeper.page
    page.ask = replace(page.ask, bull_in=ON)
    page.read_sort("bull in")
    keeper.calm()
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait(page.plan_line.isVisible)
    keeper.calm()
    before = written(keeper)
    choose(keeper, "Lune")
    keeper.press(K.Key_L)
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait(lambda: keeper.desk.failed != [])
    keeper.calm()
    assert "has begun" in keeper.desk.failed.pop()
    assert written(keeper) == before
    assert page.result.choices[keeper.herd.id["Lune"]].place == "sell"
    assert page.accept_button.isEnabled()


def test_what_has_changed_since_it_was_kept_is_told(keeper: Keeper) -> None:
    """Tarn has been sold meanwhile: she is named, nobody is placed anew, and accepting waits for a look."""
    keep(keeper, "All")
    keeper.herd.do(Leave(keeper.herd.id["Tarn"], date(2026, 4, 30)))
    keeper.calm()
    plans_open(keeper)
    keeper.press(K.Key_Return, CONTROL)
    keeper.in_window()
    keeper.wait(lambda: "since it was kept" in keeper.page.note.text())
    assert "Tarn is not here any more" in keeper.page.note.text()
    assert keeper.page.note.text().endswith("It is not accepted yet: look it through, then Ctrl+Enter.")
    assert keeper.desk.asked == [], "it is not accepted before the keeper has seen that"


def test_a_draft_is_named_and_thrown_away(keeper: Keeper) -> None:
    """E gives a note, Delete throws it away, Ctrl+Z brings it back."""
    keep(keeper, "All")
    dialog = plans_open(keeper)
    keeper.press(K.Key_E)
    form = keeper.dialog()
    form.form.entries["note"].fill("for a wet spring")
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait(lambda: kept(keeper)[0].note == "for a wet spring")
    dialog.activateWindow()
    keeper.wait(dialog.isActiveWindow)
    keeper.press(K.Key_Delete)
    keeper.wait(lambda: kept(keeper) == [])
    keeper.calm()
    keeper.press(K.Key_Escape)
    keeper.in_window()
    keeper.page.board.setFocus()
    keeper.press(K.Key_Z, CONTROL)
    keeper.wait(lambda: [row.words for row in kept(keeper)] == ["All, version 1"])
