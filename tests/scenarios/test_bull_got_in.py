"""A bull got in with the cows from 10 to 12 April, seven weeks before the season that begins on 1 June.

Few hold in three days (about 3 of 21 females are in heat), but calving may begin about seven weeks sooner:
common practice. The window of 29 December to 5 February is 263 days from the first day and 299 from the last,
the 1st and 99th percentile of 24,732 gestations in an open data set; its middle, 18 to 20 January, is 283
days from each (University of Nevada Extension).
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot

from herdbook.husbandry.duedates import Stage
from herdbook.services.commands.animals import Move, NewGroup
from herdbook.services.commands.happenings import CheckPregnancy
from herdbook.services.commands.running import BullGotIn, TurnIn
from herdbook.services.doubts import doubts
from herdbook.services.history import entry_words
from herdbook.services.pedigree import sires_of
from herdbook.services.queries.due import DueRow, due_list
from herdbook.services.queries.plans import accept_command
from herdbook.services.queries.runs import runs
from herdbook.services.queries.sort import SortAsk, each_alone, solve
from herdbook.services.queries.today import Errand, today
from herdbook.services.registry import Refused
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper

FROM, TO = date(2026, 4, 10), date(2026, 4, 12)
BULL_IN, BULL_OUT = date(2026, 6, 1), date(2026, 8, 1)


@pytest.fixture
def cows(herd: Herd) -> Herd:
    """Return three cows and a heifer on the moor, one of them in calf, a cow elsewhere, and two bulls."""
    herd.add("Gale", "M", date(2021, 3, 1))
    herd.add("Cheviot", "M", date(2020, 3, 1))
    for tag in ("Eden", "Lune", "Wye", "Tees"):
        herd.add(tag, "F", date(2019, 3, 1), calved_before=True)
    herd.add("Nith", "F", date(2024, 9, 1))
    herd.add("Kent", "F", date(2025, 11, 1))
    moor, yard = herd.do(NewGroup("Moor")), herd.do(NewGroup("Yard"))
    inside = tuple(herd.id[tag] for tag in ("Eden", "Lune", "Wye", "Nith", "Kent"))
    herd.do(Move(inside, date(2026, 3, 1), moor))
    herd.do(Move((herd.id["Tees"],), date(2026, 3, 1), yard))
    herd.do(CheckPregnancy(herd.id["Wye"], date(2026, 4, 1), result="pregnant", days=100))
    herd.id["moor"] = moor
    return herd


def _got_in(herd: Herd, **more: object) -> BullGotIn:
    return BullGotIn(herd.id["Gale"], FROM, TO, **{"group": herd.id["moor"], **more})


def _rows(herd: Herd, on: date) -> dict[str, DueRow]:
    return {row.tag: row for row in herd.ask(due_list, on=on)}


def _errands(herd: Herd, code: str, on: date) -> list[Errand]:
    return [errand for errand in herd.ask(today, on=on) if errand.code == code]


def _females(herd: Herd) -> list[str]:
    (run,) = herd.ask(lambda conn, _on: runs(conn))
    return sorted(female.tag for female in run.females)


def test_all_who_could_have_held_were_with_him(cows: Herd) -> None:
    """Not the one in calf, not the calf of five months, not who stood elsewhere."""
    cows.do(_got_in(cows))
    assert _females(cows) == ["Eden", "Lune", "Nith"]
    (run,) = cows.ask(lambda conn, _on: runs(conn))
    assert {(f.from_day, f.to_day) for f in (*run.females, *run.bulls)} == {(FROM, TO)}
    assert entry_words(cows.book.history(1)[0]) == "Gale got in with females"
    cows.book.undo()
    assert cows.ask(lambda conn, _on: runs(conn)) == []


def test_without_a_group_the_whole_herd_was_with_him_and_named_females_are_taken_as_they_are(
    cows: Herd,
) -> None:
    cows.do(_got_in(cows, group=None))
    assert _females(cows) == ["Eden", "Lune", "Nith", "Tees"]
    cows.book.undo()
    cows.do(_got_in(cows, females=(cows.id["Tees"],)))
    assert _females(cows) == ["Tees"]


def test_a_calf_at_foot_is_where_its_dam_is(cows: Herd) -> None:
    """Seven months old on the day: she can hold, and is asked about."""
    cows.calve("Eden", date(2025, 9, 1), "Esk")
    cows.do(_got_in(cows))
    assert "Esk" in _females(cows)
    cows.book.undo()
    with cows.book.read() as conn:
        told = {doubt.code: str(doubt) for doubt in doubts(conn, _got_in(cows), TO)}
    assert told["met"] == "Females written as with him on these days: 4"
    assert "Esk" in told["too_young_met"]
    assert "ask your vet" in told["too_young_met"]


def test_where_nobody_could_have_held_nothing_is_written(cows: Herd) -> None:
    alone = cows.do(NewGroup("Bank"))
    cows.do(Move((cows.id["Kent"],), date(2026, 3, 2), alone))
    with pytest.raises(Refused, match="under 6 months"):
        cows.do(_got_in(cows, group=alone))


def test_the_window_of_three_days(cows: Herd) -> None:
    cows.do(_got_in(cows))
    row = _rows(cows, date(2026, 5, 1))["Eden"]
    assert row.watch == (date(2026, 12, 29), date(2027, 2, 5))
    assert (row.first_due, row.last_due) == (
        date(2027, 1, 18),
        date(2027, 1, 20),
    )  # its centre, by plain days
    assert date(2027, 1, 18) <= row.expected <= date(2027, 1, 20)
    (note,) = [note for note in row.notes if note.code == "brief_run"]
    assert (note.values["from"], note.values["to"]) == (date(2026, 12, 29), date(2027, 2, 5))
    assert row.hardly
    assert [sire.tag for sire in row.sires] == ["Gale"]


def test_today_judges_her_by_the_whole_window(cows: Herd) -> None:
    cows.do(_got_in(cows))
    (due,) = [e for e in _errands(cows, "due", date(2027, 1, 10)) if e.what == (cows.id["Eden"],)]
    assert due.text == "Eden is due about Tue 19 Jan (Tue 29 Dec to 5 Feb)"
    (past,) = [e for e in _errands(cows, "past_due", date(2027, 1, 25)) if e.what == (cows.id["Eden"],)]
    assert (past.text, past.urgency) == ("Eden was due Tue 19 Jan; usual until Fri 5 Feb", "soon")


def _with_season(cows: Herd) -> None:
    """Accept the season's sort: Cheviot with all who may be bred, from 1 June to 1 August."""
    groups = each_alone([cows.id["Cheviot"]])
    asked = SortAsk(bull_in=BULL_IN, bull_out=BULL_OUT, groups=groups, heifer_bulls=(cows.id["Cheviot"],))
    cows.do(accept_command(cows.ask(solve, asked, on=date(2026, 4, 1)), date(2026, 4, 1)))


def test_the_first_watch_moves_seven_weeks_and_more(cows: Herd) -> None:
    _with_season(cows)
    on = date(2026, 12, 28)
    assert _rows(cows, on)["Eden"].first_due == BULL_IN + timedelta(days=283) == date(2027, 3, 11)
    cows.do(_got_in(cows))
    row = _rows(cows, on)["Eden"]
    assert (row.first_due, row.last_due) == (date(2027, 1, 18), date(2027, 5, 11))
    assert (date(2027, 3, 11) - row.first_due).days == 52  # about seven weeks
    assert (row.watch[0], row.stage, row.hardly) == (date(2026, 12, 29), Stage.NOT_DUE, False)
    assert _rows(cows, date(2026, 12, 29))["Eden"].stage is Stage.CLOSE_UP
    assert _errands(cows, "brief_watch", on) == []
    (early,) = _errands(cows, "brief_watch", date(2026, 12, 29))
    words = "May calve from now on, after a few days with a bull; likeliest from 18 Jan: Nith, Eden, Lune"
    assert early.text == words  # the heifer first
    assert _errands(cows, "window_open", date(2027, 1, 17)) == []
    (later,) = _errands(cows, "window_open", date(2027, 1, 18))
    assert set(later.what) == set(early.what)


def test_the_run_of_the_season_stands_beside_it(cows: Herd) -> None:
    _with_season(cows)
    cows.do(_got_in(cows))
    both = cows.ask(lambda conn, _on: runs(conn))
    assert [(run.bull_words, run.first, run.last) for run in both] == [
        ("Gale", FROM, TO), ("Cheviot", BULL_IN, BULL_OUT)
    ]  # fmt: skip
    sires = {sire.tag: sire.chance for sire in _rows(cows, date(2026, 9, 1))["Lune"].sires}
    assert sires["Cheviot"] > 0.85
    assert 0.05 < sires["Gale"] < 0.15  # 3 of 21 in heat, six of ten of these hold


@pytest.mark.parametrize(
    ("born", "sire"),
    [
        (date(2026, 12, 29), "Gale"),
        (date(2027, 1, 19), "Gale"),
        (date(2027, 2, 5), "Gale"),
        (date(2027, 3, 11), "Cheviot"),
        (date(2027, 5, 1), "Cheviot"),
    ],
)
def test_sires_by_dates_look_at_both(cows: Herd, born: date, sire: str) -> None:
    _with_season(cows)
    cows.do(_got_in(cows))
    calf = cows.calve("Eden", born, "27/1")
    with cows.book.read() as conn:
        (his,) = sires_of(conn, calf)
    assert (his.sire, his.basis) == (cows.id[sire], "dates")


def test_the_same_bull_early_and_in_his_season_is_in_no_doubt(cows: Herd) -> None:
    females = tuple(cows.id[tag] for tag in ("Eden", "Lune"))
    cows.do(TurnIn((cows.id["Gale"],), females, BULL_IN, BULL_OUT))
    cows.do(_got_in(cows))
    row = _rows(cows, date(2026, 9, 1))["Eden"]
    assert [(sire.tag, sire.chance) for sire in row.sires] == [("Gale", 1.0)]


# -- by keys, in the window --

K = Qt.Key


def test_the_keeper_writes_it_down_on_the_calving_page(qtbot: QtBot, qapp: QApplication, cows: Herd) -> None:
    """G there; the form asks once about those who are too young, and the due list shows who was with him."""
    cows.calve("Eden", date(2025, 9, 1), "Esk")
    cows.on = date(2026, 4, 13)
    keeper = Keeper(qtbot, qapp, cows, first="today")
    try:
        keeper.press(K.Key_4, Qt.KeyboardModifier.ControlModifier)
        keeper.in_window()
        keeper.press(K.Key_F6)
        keeper.press(K.Key_G)
        form = keeper.dialog().form
        keeper.type("gale")
        keeper.wait(lambda: form.entries["bull"].edit.found)
        keeper.press(K.Key_Return)
        for name, text in (("day", "10 apr 2026"), ("out", "12 apr 2026")):
            while not form.entries[name].isAncestorOf(QApplication.focusWidget()):
                keeper.press(K.Key_Tab)
            keeper.type(text)
        keeper.press(K.Key_Return, Qt.KeyboardModifier.ControlModifier)
        asking = keeper.dialog().asking
        keeper.wait(asking.isVisible)
        assert "Females written as with him on these days: 5" in asking.text()
        assert "Esk" in asking.text()
        keeper.press(K.Key_Return)
        keeper.in_window()
        rows = {row.tag: row for row in keeper.page._all.rows}
        assert {"Eden", "Lune", "Tees", "Nith", "Esk"} <= set(rows)
        assert keeper.page.panel.table.choose(rows["Lune"].animal)
        keeper.calm()
        words = " ".join(label.text() for label in keeper.page.card.findChildren(QLabel))
        assert "when few hold" in words
        assert "29 Dec 2026 to 5 Feb 2027" in words
        keeper.press(K.Key_Z, Qt.KeyboardModifier.ControlModifier)
        keeper.wait(lambda: [row.tag for row in keeper.page._all.rows] == ["Wye"])
    finally:
        keeper.close()


# -- what it means for the season's sort --


def test_she_may_still_be_bred_this_season_with_a_caution(cows: Herd) -> None:
    """Most did not hold in three days: none is barred as in calf, and each is told to be checked."""
    cows.do(_got_in(cows))
    groups = each_alone([cows.id["Cheviot"]])
    result = cows.ask(solve, SortAsk(groups=groups, bull_in=BULL_IN, bull_out=BULL_OUT), on=date(2026, 5, 20))
    eden = next(female for female in result.females if female.tag == "Eden")
    assert eden.readiness.ok
    assert any("few days" in str(reason) or "check" in str(reason) for reason in eden.readiness.reasons)
    wye = next(female for female in result.females if female.tag == "Wye")
    assert wye.readiness.code == "in_calf"
