"""How a bull that went in on 6 June is doing: what should be settled by when, and heats that warn of him.

The goals are those of an extension beef specialist, North Dakota State University, in a column of the cattle
press on bulls in the breeding season: 62 % settled by 27 June, 87 % by 18 July, and about 10 of 100 still in
heat after 42 days, many more of whom are a warning. From how many on Today warns is our own choice.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.commands.diary import ChangeSetting, FinishTask
from herdbook.services.commands.happenings import SeeHeat, Serve
from herdbook.services.commands.running import ChangeBull, TurnIn
from herdbook.services.queries.settling import settling
from herdbook.services.queries.today import Errand, today
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper

IN, OUT = date(2026, 6, 6), date(2026, 8, 7)
TWO_CYCLES = IN + timedelta(days=42)
COWS = tuple(f"{n}" for n in range(1, 13))


@pytest.fixture
def season(herd: Herd) -> Herd:
    """Return twelve cows with Cheviot."""
    herd.add("Cheviot", "M", date(2020, 3, 1))
    herd.add("Pentland", "M", date(2020, 3, 1))
    for tag in COWS:
        herd.add(tag, "F", date(2019, 3, 1), calved_before=True)
    herd.do(TurnIn((herd.id["Cheviot"],), tuple(herd.id[tag] for tag in COWS), IN, OUT))
    return herd


def _errands(herd: Herd, code: str, on: date) -> list[Errand]:
    return [errand for errand in herd.ask(today, on=on) if errand.code == code]


def _seen(herd: Herd, cows: int, day: date) -> None:
    for tag in COWS[:cows]:
        herd.do(SeeHeat(herd.id[tag], day))


@pytest.mark.parametrize(
    ("on", "words"),
    [
        (date(2026, 6, 27), "Cheviot in for 21 days: about 7 of 12 (62%) should be settled"),
        (date(2026, 7, 18), "Cheviot in for 42 days: about 10 of 12 (87%) should be settled"),
    ],
)
def test_what_should_be_settled_is_told_after_each_cycle(season: Herd, on: date, words: str) -> None:
    (told,) = _errands(season, "settled", on)
    assert told.text == f"{words}; write down the heats you see"
    assert told.urgency == "look"
    assert _errands(season, "settled", on - timedelta(days=1)) == []
    assert _errands(season, "settled", on + timedelta(days=7)) == []
    season.do(FinishTask(told.tasks, on))
    assert _errands(season, "settled", on + timedelta(days=1)) == []
    with season.book.read() as conn:
        (run,) = settling(conn, on)
    assert (run.females, run.settled) == (12, pytest.approx(12 * run.share))


def test_the_keepers_own_figures_are_taken(season: Herd) -> None:
    season.do(ChangeSetting("settled_share", 0.5))
    season.do(ChangeSetting("cycling_share", 0.8))
    (told,) = _errands(season, "settled", date(2026, 6, 27))
    assert "about 5 of 12 (40%)" in told.text
    _seen(season, 4, TWO_CYCLES)
    assert _errands(season, "many_heats", TWO_CYCLES) == [], "with such cows four in heat are no wonder"


def test_many_heats_after_two_cycles_are_an_alarm(season: Herd) -> None:
    """About 1.5 of 12 would be usual; 3 may be chance, 4 would be in fewer than one herd of ten."""
    on = TWO_CYCLES + timedelta(days=10)
    _seen(season, 3, TWO_CYCLES + timedelta(days=3))
    assert _errands(season, "many_heats", on) == []
    season.do(Serve(season.id["4"], TWO_CYCLES + timedelta(days=5), sire=season.id["Cheviot"]))
    (alarm,) = _errands(season, "many_heats", on)
    assert alarm.text == (
        "Many heats after two cycles with Cheviot: 4 of 12 (1, 2, 3, 4), where about 2 would be usual. "
        "Have the bull examined: ask your vet."
    )
    assert alarm.urgency == "act"
    assert alarm.what == tuple(season.id[name] for name in ("Cheviot", "1", "2", "3", "4"))
    season.do(FinishTask(alarm.tasks, on))
    assert _errands(season, "many_heats", on) == []
    season.do(SeeHeat(season.id["5"], on))
    assert len(_errands(season, "many_heats", on)) == 1, "another heat asks again"


def test_heats_in_the_first_two_cycles_and_the_same_cow_again_are_no_alarm(season: Herd) -> None:
    _seen(season, 12, IN + timedelta(days=20))
    _seen(season, 6, TWO_CYCLES - timedelta(days=1))
    for days in (2, 5, 20):
        _seen(season, 2, TWO_CYCLES + timedelta(days=days))
    for tag in COWS[6:]:  # a recipient is not in heat on the day of a transfer
        season.do(Serve(season.id[tag], TWO_CYCLES + timedelta(days=9), how="embryo", embryo_days=7))
    assert _errands(season, "many_heats", TWO_CYCLES + timedelta(days=20)) == []


def test_heats_within_a_cycle_of_bull_out_still_tell_of_him(season: Herd) -> None:
    _seen(season, 5, OUT + timedelta(days=10))
    assert _errands(season, "many_heats", OUT + timedelta(days=10))
    assert _errands(season, "many_heats", OUT + timedelta(days=40)) == []


def test_a_bull_that_came_later_is_not_blamed_for_the_first(season: Herd) -> None:
    """Pentland has been in for one cycle when the females come in heat that Cheviot did not settle."""
    season.do(ChangeBull(season.id["Cheviot"], TWO_CYCLES, season.id["Pentland"], TWO_CYCLES))
    _seen(season, 5, TWO_CYCLES + timedelta(days=12))
    (alarm,) = _errands(season, "many_heats", TWO_CYCLES + timedelta(days=12))
    assert "Cheviot" in alarm.text
    assert "Pentland" not in alarm.text


def test_the_keeper_reads_it_on_the_first_page(qtbot: QtBot, qapp: QApplication, season: Herd) -> None:
    """Today, then Enter to the bull and the females it is about."""
    season.on = TWO_CYCLES + timedelta(days=4)
    _seen(season, 4, TWO_CYCLES + timedelta(days=3))
    keeper = Keeper(qtbot, qapp, season, first="today")
    try:
        rows = keeper.page._model.rows
        assert [row.code for row in rows][:1] == ["many_heats"]
        assert "settled" in [row.code for row in rows]
        keeper.press(Qt.Key.Key_F6)
        keeper.press(Qt.Key.Key_Return)
        keeper.wait(lambda: keeper.page.key == "register")
        keeper.calm()
    finally:
        keeper.close()
