"""A bull is hurt on 5 July and taken out; the next goes in on 9 July. The days between cover nobody.

A bull's days are his own: neither is stretched over the gap (a keeper's account of a season in which four of
five bulls went lame or fought; common practice).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.husbandry.paternity import Ran, conception_law, sire_chances
from herdbook.husbandry.settling import settled
from herdbook.services.commands.happenings import CheckPregnancy, Leave
from herdbook.services.commands.running import ChangeBull, EndRun, JoinRun, LeaveRun, TurnIn
from herdbook.services.facts import company
from herdbook.services.history import entry_words
from herdbook.services.pedigree import sires_of
from herdbook.services.queries.due import DueRow, due_list
from herdbook.services.queries.happened import happenings
from herdbook.services.queries.runs import RunRow, runs
from herdbook.services.queries.settling import settling
from herdbook.services.queries.today import Errand, today
from herdbook.services.registry import Refused
from herdbook.services.sires import GESTATION_SD, LISTED_FROM
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper

IN, OUT = date(2026, 6, 1), date(2026, 8, 2)
HURT, NEXT = date(2026, 7, 5), date(2026, 7, 9)
COWS = ("Eden", "Lune", "Wye")


@pytest.fixture
def season(herd: Herd) -> Herd:
    """Return three cows with Cheviot from 1 June to 2 August, and Pentland in the yard."""
    herd.add("Cheviot", "M", date(2020, 3, 1))
    herd.add("Pentland", "M", date(2021, 3, 1))
    for tag in COWS:
        herd.add(tag, "F", date(2019, 3, 1), calved_before=True)
    herd.id["run"] = herd.do(TurnIn((herd.id["Cheviot"],), tuple(herd.id[tag] for tag in COWS), IN, OUT))
    return herd


def _change(herd: Herd, **more: object) -> ChangeBull:
    return ChangeBull(herd.id["Cheviot"], HURT, herd.id["Pentland"], NEXT, **more)


def _run(herd: Herd) -> RunRow:
    (run,) = herd.ask(lambda conn, _on: runs(conn))
    return run


def _row(herd: Herd, on: date, tag: str = "Eden") -> DueRow:
    return next(row for row in herd.ask(due_list, on=on) if row.tag == tag)


def _errands(herd: Herd, code: str, on: date) -> list[Errand]:
    return [errand for errand in herd.ask(today, on=on) if errand.code == code]


def _days(herd: Herd) -> list[tuple[tuple[int, ...], date, date | None]]:
    with herd.book.read() as conn:
        hers = company(conn, [herd.id["Eden"]])[herd.id["Eden"]]
    return [(run.sires, run.first, run.last) for run in hers]


def test_each_bull_has_his_own_days_in_one_run(season: Herd) -> None:
    season.do(_change(season))
    run = _run(season)
    assert [(bull.tag, bull.from_day, bull.to_day) for bull in run.bulls] == [
        ("Cheviot", IN, HURT),
        ("Pentland", NEXT, OUT),
    ]
    assert {(female.from_day, female.to_day) for female in run.females} == {(IN, OUT)}
    assert _days(season) == [((season.id["Cheviot"],), IN, HURT), ((season.id["Pentland"],), NEXT, OUT)]
    assert entry_words(season.book.history(1)[0]) == "Cheviot out and Pentland in"
    season.book.undo()
    assert _days(season) == [((season.id["Cheviot"],), IN, OUT)]


def test_taken_out_first_and_replaced_when_another_is_found(season: Herd) -> None:
    """The same in two steps, on the two days on which they were done."""
    season.do(ChangeBull(season.id["Cheviot"], HURT))
    assert _run(season).last == HURT
    season.do(_change(season))
    assert _days(season) == [((season.id["Cheviot"],), IN, HURT), ((season.id["Pentland"],), NEXT, OUT)]


def test_the_same_by_leaving_and_joining_the_run(season: Herd) -> None:
    season.do(LeaveRun(season.id["run"], (season.id["Cheviot"],), HURT))
    season.do(JoinRun(season.id["run"], (season.id["Pentland"],), NEXT, OUT))
    assert _days(season) == [((season.id["Cheviot"],), IN, HURT), ((season.id["Pentland"],), NEXT, OUT)]


def test_a_run_without_an_end_goes_on_without_one(herd: Herd) -> None:
    for tag, sex in (("Cheviot", "M"), ("Pentland", "M"), ("Eden", "F")):
        herd.add(tag, sex, date(2019, 3, 1), calved_before=True if sex == "F" else None)
    run = herd.do(TurnIn((herd.id["Cheviot"],), (herd.id["Eden"],), IN))
    herd.do(_change(herd))
    assert _days(herd)[1] == ((herd.id["Pentland"],), NEXT, None)
    herd.do(EndRun(run, OUT))
    assert _days(herd) == [((herd.id["Cheviot"],), IN, HURT), ((herd.id["Pentland"],), NEXT, OUT)]


def test_the_next_bull_may_stay_longer(season: Herd) -> None:
    season.do(_change(season, next_out=date(2026, 8, 20)))
    assert _days(season)[1] == ((season.id["Pentland"],), NEXT, date(2026, 8, 20))


def test_what_cannot_be_is_refused(season: Herd) -> None:
    with pytest.raises(Refused, match="When did the next bull go in"):
        season.do(ChangeBull(season.id["Cheviot"], HURT, season.id["Pentland"]))
    with pytest.raises(Refused, match="with nobody"):
        season.do(ChangeBull(season.id["Pentland"], HURT))
    with pytest.raises(Refused, match="before bull in"):
        season.do(_change(season, next_out=date(2026, 7, 8)))
    assert _days(season) == [((season.id["Cheviot"],), IN, OUT)]


def test_a_bull_that_dies_is_not_kept_in_his_run_to_its_planned_end(season: Herd) -> None:
    season.do(Leave(season.id["Cheviot"], HURT, departure_kind="died"))
    assert _days(season) == [((season.id["Cheviot"],), IN, HURT)]


def test_the_due_window_respects_the_gap(season: Herd) -> None:
    season.do(_change(season))
    row = _row(season, date(2026, 9, 1))
    assert (row.first_due, row.last_due) == (date(2027, 3, 11), date(2027, 5, 12))
    assert row.brief is None
    # Open on 4 August by a check that finds what is 28 days old: whatever holds now came after 7 July.
    season.do(CheckPregnancy(season.id["Eden"], date(2026, 8, 4), result="open"))
    late = _row(season, date(2026, 9, 1))
    assert late.conceived_first == NEXT  # not 8 July: nobody was there
    assert late.first_due == date(2027, 4, 18)
    assert [(sire.tag, sire.chance) for sire in late.sires] == [("Pentland", 1.0)]


def test_found_in_calf_from_the_days_of_the_first_bull(season: Herd) -> None:
    season.do(_change(season))
    season.do(CheckPregnancy(season.id["Eden"], date(2026, 9, 1), result="pregnant", days=75, method="scan"))
    row = _row(season, date(2026, 9, 2))
    assert row.expected == date(2027, 3, 28)
    assert [(sire.tag, sire.chance) for sire in row.sires] == [("Cheviot", 1.0)]


@pytest.mark.parametrize("born", [date(2027, 3, 20), date(2027, 4, 16), date(2027, 5, 8)])
def test_a_birth_is_shared_by_what_each_can_have_done(season: Herd, born: date) -> None:
    """The middle one falls 283 days after 7 July, when no bull was there: a late or an early calf."""
    season.do(_change(season))
    calf = season.calve("Eden", born, "27/1")
    with season.book.read() as conn:
        told = {chance.sire: chance.chance for chance in sires_of(conn, calf)}
    first, second = season.id["Cheviot"], season.id["Pentland"]
    law = [Ran((first,), IN, HURT), Ran((second,), NEXT, OUT)]
    exact = {row.sire: row.chance for row in sire_chances(born, law, 283.0, GESTATION_SD)}
    listed = {sire: chance for sire, chance in exact.items() if chance >= LISTED_FROM}
    assert told == pytest.approx({sire: chance / sum(listed.values()) for sire, chance in listed.items()})
    assert not any(HURT < day < NEXT for day, _ in conception_law(law))
    if born == date(2027, 4, 16):
        assert 0.1 < told[first] < 0.9
    else:
        assert max(told, key=lambda sire: told[sire]) == (first if born.month == 3 else second)


def test_what_should_be_settled_counts_no_day_of_the_gap(season: Herd) -> None:
    season.do(_change(season))
    on = date(2026, 7, 13)  # two cycles after bull in
    with season.book.read() as conn:
        (told,) = settling(conn, on)
    assert told.share == pytest.approx(settled([(IN, HURT), (NEXT, OUT)], on))
    assert told.share < settled([(IN, OUT)], on)


def test_today_has_each_bull_in_and_out_on_his_days(season: Herd) -> None:
    season.do(_change(season))
    on = HURT + timedelta(days=1)
    (in_,) = _errands(season, "bull_in", on)
    assert (in_.text, in_.when) == ("Bull in Thu 9 Jul: Pentland with 3", NEXT)
    assert [e.when for e in _errands(season, "bull_out", HURT)] == [HURT]
    (out,) = _errands(season, "bull_out", OUT)
    assert (out.when, out.what) == (OUT, (season.id["Pentland"],))


def test_her_card_tells_each_bull_with_his_own_days(season: Herd) -> None:
    season.do(_change(season))
    with season.book.read() as conn:
        told = happenings(conn, season.id["Eden"], date(2026, 9, 1))
    assert [(h.day, h.words) for h in told if h.kind == "bull_run"] == [
        (NEXT, "with Pentland until 2 Aug 2026"),
        (IN, "with Cheviot until 5 Jul 2026"),
    ]


# -- by keys, in the window --

K = Qt.Key


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, season: Herd) -> Iterator[Keeper]:
    """Return a keeper before Today, on the day on which the next bull went in."""
    season.on = NEXT
    keeper = Keeper(qtbot, qapp, season, first="today")
    yield keeper
    keeper.close()


def _go_to(keeper: Keeper, name: str) -> None:
    while not keeper.dialog().form.entries[name].isAncestorOf(QApplication.focusWidget()):
        keeper.press(K.Key_Tab)


def _pick(keeper: Keeper, name: str, text: str) -> None:
    _go_to(keeper, name)
    keeper.type(text)
    entry = keeper.dialog().form.entries[name]
    keeper.wait(lambda: entry.edit.found)
    keeper.press(K.Key_Return)


def test_the_keeper_changes_the_bull_on_the_calving_page(keeper: Keeper) -> None:
    """O there: who is out since when, who is in from when; undo takes it back."""
    keeper.press(K.Key_4, Qt.KeyboardModifier.ControlModifier)
    keeper.in_window()
    keeper.press(K.Key_F6)
    keeper.press(K.Key_O)
    _pick(keeper, "bull", "chev")
    _go_to(keeper, "day")
    keeper.type("5 jul 2026")
    _pick(keeper, "next_bull", "pent")
    _go_to(keeper, "next_day")
    keeper.type("9 jul 2026")
    keeper.save()
    assert keeper.told[-1] == "The bull is out; the days between him and the next cover nobody."
    assert _days(keeper.herd) == [
        ((keeper.herd.id["Cheviot"],), IN, HURT),
        ((keeper.herd.id["Pentland"],), NEXT, OUT),
    ]
    keeper.press(K.Key_Z, Qt.KeyboardModifier.ControlModifier)
    keeper.wait(lambda: _days(keeper.herd) == [((keeper.herd.id["Cheviot"],), IN, OUT)])


def test_the_keeper_takes_the_bull_out_on_his_card(keeper: Keeper) -> None:
    keeper.desk.open_animal(keeper.herd.id["Cheviot"])
    keeper.wait(lambda: keeper.page.heading.text() == "Cheviot")
    keeper.calm()
    keeper.press(K.Key_A)
    keeper.dialog()
    keeper.type("bull out")
    keeper.press(K.Key_Return)
    form = keeper.dialog().form
    assert form.entries["bull"].value() == keeper.herd.id["Cheviot"]
    _go_to(keeper, "day")
    keeper.type("5 jul 2026")
    keeper.save()
    assert _days(keeper.herd) == [((keeper.herd.id["Cheviot"],), IN, HURT)]


def test_what_was_planned_for_an_animal_that_left_before_is_gone_and_undo_brings_it_back(
    season: Herd,
) -> None:
    """A bull that dies and a cow that is sold in May; one that is hired out may be back by June."""
    may = date(2026, 5, 10)
    season.do(Leave(season.id["Wye"], may, departure_kind="hired_out"))
    season.do(Leave(season.id["Lune"], may, departure_kind="sold"))
    assert {female.tag for female in _run(season).females} == {"Eden", "Wye"}
    assert not _errands(season, "no_bull", may)
    season.do(Leave(season.id["Cheviot"], may, departure_kind="died"))
    assert not _errands(season, "bull_in", date(2026, 5, 30))
    assert not _days(season)
    (without,) = _errands(season, "no_bull", date(2026, 5, 30))
    assert without.urgency == "act"
    assert without.what == (season.id["Eden"],)
    season.book.undo()
    season.book.undo()
    assert {female.tag for female in _run(season).females} == set(COWS)
    assert [bull.tag for bull in _run(season).bulls] == ["Cheviot"]


def test_females_whose_bull_died_are_told_until_another_is_with_them(season: Herd) -> None:
    season.do(Leave(season.id["Cheviot"], HURT, departure_kind="died"))
    assert not _errands(season, "no_bull", HURT)  # his last day counts
    (without,) = _errands(season, "no_bull", HURT + timedelta(days=1))
    assert set(without.what) == {season.id[tag] for tag in COWS}
    assert not _errands(season, "no_bull", OUT + timedelta(days=1))
    two = tuple(season.id[tag] for tag in COWS[:2])
    season.do(TurnIn((season.id["Pentland"],), two, NEXT, OUT))
    (without,) = _errands(season, "no_bull", NEXT)
    assert without.what == (season.id[COWS[2]],)
    season.do(JoinRun(season.id["run"], (season.id["Pentland"],), NEXT, OUT))
    assert not _errands(season, "no_bull", NEXT)
