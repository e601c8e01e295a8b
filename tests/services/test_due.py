"""The due list over a whole book: services, runs, checks and calvings move a female through it."""

from __future__ import annotations

from datetime import date

from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.happenings import CheckPregnancy, Lose, Serve
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.due import due_list
from tests.services.conftest import Herd


def _row(herd: Herd, tag: str, on: date):
    return next((row for row in herd.ask(due_list, on=on) if row.tag == tag), None)


def _pair(herd: Herd, **more: object) -> None:
    herd.add("cow", "F", date(2019, 3, 1), **more)
    herd.add("bull", "M", date(2021, 3, 1), **more)


def test_a_service_is_due_after_the_days_of_gestation(empty: Herd) -> None:
    """2025-06-15 + 283 days is 2026-03-25 (calendar-day addition; table of service and due dates)."""
    _pair(empty)
    empty.do(Serve(empty.id["cow"], date(2025, 6, 15), sire=empty.id["bull"], how="hand"))
    row = _row(empty, "cow", date(2026, 3, 1))
    assert row.expected == date(2026, 3, 25)
    assert row.basis == "service"
    assert [(s.tag, s.chance) for s in row.sires] == [("bull", 1.0)]
    assert row.days_to_expected == 24


def test_the_breeds_of_a_cross_set_the_days(empty: Herd) -> None:
    """Angus x Limousin carry (281 + 289) / 2 = 285 days (University of Nevada Extension's breed means)."""
    empty.add("cow", "F", date(2019, 3, 1), breed="Angus")
    empty.add("bull", "M", date(2021, 3, 1), breed="Limousin")
    empty.do(Serve(empty.id["cow"], date(2025, 6, 15), sire=empty.id["bull"]))
    assert _row(empty, "cow", date(2026, 3, 1)).expected == date(2026, 3, 27)
    empty.do(ChangeSetting("gestation_days", 281))
    assert _row(empty, "cow", date(2026, 3, 1)).expected == date(2026, 3, 23)


def test_a_bull_run_gives_its_own_first_and_last_day(empty: Herd) -> None:
    """In 2025-06-01, 63 days: last 2025-08-02; due 2026-03-11 to 2026-05-12 (inclusive-day convention)."""
    _pair(empty)
    empty.do(TurnIn((empty.id["bull"],), (empty.id["cow"],), date(2025, 6, 1), date(2025, 8, 2)))
    row = _row(empty, "cow", date(2026, 1, 1))
    assert (row.first_due, row.last_due) == (date(2026, 3, 11), date(2026, 5, 12))
    assert row.first_due <= row.expected <= row.last_due


def test_a_planned_run_stands_in_the_list_before_it_begins(empty: Herd) -> None:
    _pair(empty)
    empty.do(TurnIn((empty.id["bull"],), (empty.id["cow"],), date(2026, 6, 1), date(2026, 8, 2)))
    row = _row(empty, "cow", date(2026, 5, 1))
    assert (row.first_due, row.last_due) == (date(2027, 3, 11), date(2027, 5, 12))


def test_open_closes_and_a_calving_and_a_loss_close(empty: Herd) -> None:
    _pair(empty)
    empty.do(Serve(empty.id["cow"], date(2025, 6, 15), sire=empty.id["bull"]))
    empty.do(CheckPregnancy(empty.id["cow"], date(2025, 9, 1), result="open"))
    assert _row(empty, "cow", date(2025, 9, 2)) is None
    empty.book.undo()
    assert _row(empty, "cow", date(2025, 9, 2)) is not None
    empty.do(Lose(empty.id["cow"], date(2025, 10, 1)))
    assert _row(empty, "cow", date(2025, 10, 2)) is None
    empty.book.undo()
    empty.calve("cow", date(2026, 3, 20), "calf")
    assert _row(empty, "cow", date(2026, 3, 21)) is None
    assert _row(empty, "cow", date(2026, 3, 1)) is not None, "an earlier day is asked about as it was then"


def test_a_check_with_days_narrows_a_run(empty: Herd) -> None:
    """75 days on 2026-09-01 means conceived 2026-06-18, due 2027-03-28 at 283 days."""
    _pair(empty)
    empty.do(TurnIn((empty.id["bull"],), (empty.id["cow"],), date(2026, 6, 1), date(2026, 8, 2)))
    wide = _row(empty, "cow", date(2026, 9, 1))
    empty.do(CheckPregnancy(empty.id["cow"], date(2026, 9, 1), result="pregnant", days=75))
    narrow = _row(empty, "cow", date(2026, 9, 2))
    assert narrow.expected == date(2027, 3, 28)
    assert narrow.last_due - narrow.first_due < wide.last_due - wide.first_due


def test_sold_females_are_not_listed(herd: Herd) -> None:
    assert _row(herd, "Tamar", herd.on) is None
