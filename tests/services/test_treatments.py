"""The medicine book: who had what, and from which day that is clear for meat."""

from __future__ import annotations

from datetime import date

from herdbook.services.commands.happenings import Leave, Treat
from herdbook.services.queries.treatments import running, treatments
from tests.services.conftest import Herd

ON = date(2026, 8, 15)
BORN = date(2019, 4, 1)


def test_the_latest_first_also_of_those_that_left(empty: Herd) -> None:
    steer, cow = empty.add("Mistral", "M", BORN, castrated=True), empty.add("Eden", "F", BORN)
    empty.do(Treat(cow, date(2026, 2, 1), product="drench", meat_days=7.0, batch="B12", by_whom="me"))
    empty.do(Treat(steer, date(2026, 8, 1), product="penicillin", meat_days=14.0))
    empty.do(Leave(cow, date(2026, 6, 1), departure_kind="sold"))
    later = Treat(steer, date(2026, 8, 20), product="penicillin", meat_days=14.0)
    empty.do(later)
    rows = empty.ask(treatments, on=ON)
    assert [(row.tag, row.here) for row in rows] == [("Mistral", True), ("Eden", False)]
    assert rows[1].batch == "B12"
    with empty.book.read() as conn:
        assert [row.tag for row in treatments(conn, ON, since=date(2026, 3, 1))] == ["Mistral"]


def test_clear_the_day_after_the_last_dose_and_the_label_days(empty: Herd) -> None:
    """14 days from 1 August run through the 15th; clear on the 16th. Common practice, no source."""
    steer = empty.add("Mistral", "M", BORN, castrated=True)
    empty.do(Treat(steer, date(2026, 7, 30), product="penicillin", meat_days=14.0, last_day=date(2026, 8, 1)))
    (row,) = empty.ask(treatments, on=ON)
    assert row.clear_on == date(2026, 8, 16)
    assert row.runs(ON)
    assert not row.runs(date(2026, 8, 16))
    assert empty.ask(running, on=date(2026, 8, 16)) == []


def test_days_that_nobody_typed_are_never_clear(empty: Herd) -> None:
    steer = empty.add("Mistral", "M", BORN, castrated=True)
    empty.do(Treat(steer, date(2020, 1, 1), product="old bottle"))
    (row,) = empty.ask(running, on=ON)
    assert row.clear_on is None


def test_part_of_a_day_counts_as_one(empty: Herd) -> None:
    """36 hours from 1 August run into the 3rd; clear on the 4th."""
    steer = empty.add("Mistral", "M", BORN, castrated=True)
    empty.do(Treat(steer, date(2026, 8, 1), product="spray", meat_days=1.5))
    (row,) = empty.ask(treatments, on=ON)
    assert row.clear_on == date(2026, 8, 4)
