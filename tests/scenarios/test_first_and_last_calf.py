"""Bull in from 1 June to 1 August 2026: the first and the last calf in the list, the calendar, the spread.

By plain count of 283 days (University of Nevada Extension) from 11 March to 11 May 2027. A column of North
Dakota State University in the cattle press prints 12 March: its table counts otherwise, and so the days used
always travel with an answer.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from icalendar import Calendar

from herdbook.exchange.calendar import export_calendar
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.due import due_list
from herdbook.services.queries.season_measures import season_measures
from tests.services.conftest import Herd

BULL_IN, BULL_OUT = date(2026, 6, 1), date(2026, 8, 1)
FIRST, LAST = date(2027, 3, 11), date(2027, 5, 11)
ON = date(2026, 9, 1)


@pytest.fixture
def cows(herd: Herd) -> Herd:
    """Return two cows with the bull over the whole season."""
    herd.add("Cheviot", "M", date(2020, 3, 1))
    for tag in ("Eden", "Lune"):
        herd.add(tag, "F", date(2019, 3, 1), calved_before=True)
    herd.do(TurnIn((herd.id["Cheviot"],), (herd.id["Eden"], herd.id["Lune"]), BULL_IN, BULL_OUT))
    return herd


def test_the_due_list_has_both_days_and_the_days_used(cows: Herd) -> None:
    for row in cows.ask(due_list, on=ON):
        assert (row.first_due, row.last_due, row.gestation_days) == (FIRST, LAST, 283)
        assert FIRST <= row.expected <= LAST


def test_the_calendar_says_both_on_one_day(cows: Herd, tmp_path: Path) -> None:
    """No bar of two months for each cow: one day, with the window in its title, and close up before it."""
    export_calendar(cows.book, tmp_path / "a.ics", ON)
    events = Calendar.from_ical((tmp_path / "a.ics").read_bytes()).events
    due = [event for event in events if str(event["SUMMARY"]).startswith("Eden due")]
    close = [event for event in events if str(event["SUMMARY"]).startswith("Eden close up")]
    assert [str(event["SUMMARY"]) for event in due] == ["Eden due, between 11 Mar and 11 May"]
    assert all(event.end - event.start == timedelta(days=1) for event in events)
    assert len(close) == 1
    assert close[0].start <= FIRST <= due[0].start


def test_the_first_21_days_begin_with_the_first_due_day(cows: Herd) -> None:
    """And on other gestations than 283 days the published rule stays as it is published."""
    (season,) = cows.ask(season_measures, on=ON)
    assert season.starts == FIRST
    cows.do(ChangeSetting("gestation_days", 290))
    (season,) = cows.ask(season_measures, on=ON)
    assert season.starts == FIRST
