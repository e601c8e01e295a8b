"""A herd with two seasons: a spring cow found open is rolled over to the autumn bulls, once.

From a trade article on spring and autumn herds (2013): an open cow may be moved to the other season once; at
the second failure she goes on the cull list. Shares are taken of the group that was exposed (Standardized
Performance Analysis, University of Nebraska Extension), not of a calendar year.
"""

from __future__ import annotations

from datetime import date

import pytest

from herdbook.services.checking import check_book
from herdbook.services.commands.animals import Move, NewGroup
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.happenings import CheckPregnancy, Leave
from herdbook.services.commands.running import TurnIn
from herdbook.services.doubts import doubts
from herdbook.services.queries.butcher import cull_list
from herdbook.services.queries.due import due_list
from herdbook.services.queries.exposures import RunOutcome, run_outcomes, share_words
from tests.services.conftest import Herd

SPRING, SPRING_OUT = date(2025, 6, 1), date(2025, 8, 2)
CHECKED = date(2025, 9, 10)
AUTUMN, AUTUMN_OUT = date(2025, 10, 20), date(2025, 12, 21)
COWS = ("Eden", "Lune", "Wye", "Tees")


@pytest.fixture
def herd_of_two(herd: Herd) -> Herd:
    """Return four spring cows, two autumn cows, and Eden rolled over from the first to the second."""
    herd.add("Cheviot", "M", date(2020, 3, 1))
    for tag in (*COWS, "Kent", "Nith"):
        herd.add(tag, "F", date(2019, 3, 1))
    for tag in COWS:
        herd.calve(tag, date(2025, 3, 10), f"25/{tag}")
    for tag in ("Kent", "Nith"):
        herd.calve(tag, date(2025, 8, 1), f"25/{tag}")
    bull = (herd.id["Cheviot"],)
    herd.do(TurnIn(bull, tuple(herd.id[tag] for tag in COWS), SPRING, SPRING_OUT, name="Spring"))
    for tag in COWS:
        result = "open" if tag == "Eden" else "pregnant"
        herd.do(CheckPregnancy(herd.id[tag], CHECKED, result=result, method="scan"))
    autumn = herd.do(NewGroup("Autumn", purpose="breeding"))
    moved = tuple(herd.id[tag] for tag in ("Eden", "Kent", "Nith"))
    herd.do(Move(moved, date(2025, 9, 20), autumn))
    herd.do(TurnIn(bull, moved, AUTUMN, AUTUMN_OUT, name="Autumn"))
    return herd


def _outcomes(herd: Herd, on: date) -> dict[str | None, RunOutcome]:
    return {row.run.name: row for row in herd.ask(run_outcomes, on=on)}


def _notes(herd: Herd, tag: str, on: date) -> list[str]:
    row = next(row for row in herd.ask(due_list, on=on) if row.tag == tag)
    return [str(note) for note in row.notes if note.code == "rolled"]


def _culls(herd: Herd, on: date) -> dict[str, list[str]]:
    return {row.tag: [reason.code for reason in row.reasons] for row in herd.ask(cull_list, on=on)}


def test_she_is_shown_as_rolled_once(herd_of_two: Herd) -> None:
    on = date(2026, 1, 10)
    assert _notes(herd_of_two, "Eden", on) == [
        "Rolled once: found open on 2025-09-10 and put to a bull again."
    ]
    assert _notes(herd_of_two, "Kent", on) == []


def test_she_counts_in_both_groups_open_in_the_one_and_exposed_in_the_other(herd_of_two: Herd) -> None:
    """Six cows in one calendar year; by groups 4 and 3, of whom one counts in both."""
    told = _outcomes(herd_of_two, date(2026, 1, 10))
    spring, autumn = told["Spring"], told["Autumn"]
    assert (spring.exposed, spring.in_calf, spring.open, spring.not_known) == (4, 3, 1, 0)
    assert (spring.held, spring.found_open) == ((3, 4), (1, 4))
    assert share_words(spring.held) == "3 of 4, 75%"
    assert (autumn.exposed, autumn.not_known, autumn.shared) == (3, 3, 0)
    assert [female.tag for female in autumn.rolled_in] == ["Eden"]
    assert spring.rolled_in == ()


def test_births_count_for_the_group_from_which_they_came(herd_of_two: Herd) -> None:
    herd = herd_of_two
    for tag, day in (("Lune", date(2026, 3, 20)), ("Wye", date(2026, 4, 2)), ("Eden", date(2026, 8, 10))):
        herd.calve(tag, day, f"26/{tag}")
    herd.do(CheckPregnancy(herd.id["Kent"], date(2026, 2, 1), result="pregnant"))
    herd.do(CheckPregnancy(herd.id["Nith"], date(2026, 2, 1), result="open"))
    told = _outcomes(herd, date(2026, 9, 1))
    spring, autumn = told["Spring"], told["Autumn"]
    assert (spring.calved, spring.in_calf, spring.open) == (2, 1, 1)
    assert (autumn.calved, autumn.in_calf, autumn.open) == (1, 1, 1)
    assert (autumn.born, autumn.held) == ((1, 3), (2, 3))


def test_who_left_before_anything_was_known_is_left_out_and_who_was_open_stays_in(herd_of_two: Herd) -> None:
    herd = herd_of_two
    herd.do(Leave(herd.id["Kent"], date(2025, 11, 15), departure_kind="sold"))
    herd.do(CheckPregnancy(herd.id["Nith"], date(2026, 2, 1), result="open"))
    herd.do(Leave(herd.id["Nith"], date(2026, 2, 20), departure_kind="sold"))
    autumn = _outcomes(herd, date(2026, 3, 1))["Autumn"]
    assert (autumn.exposed, autumn.left, autumn.whole) == (3, 1, 2)
    assert autumn.found_open == (1, 2)


def test_seventeen_months_from_calf_to_calf_are_no_error(herd_of_two: Herd) -> None:
    """10 March 2025 to 10 August 2026: 518 days, which nothing asks about; nor 18 months."""
    herd = herd_of_two
    for day in (date(2026, 8, 10), date(2026, 9, 10)):
        birth = RecordBirth(herd.id["Eden"], day, (NewCalf("F", "26/1", 36.0),))
        with herd.book.read() as conn:
            assert doubts(conn, birth, day) == ()
    herd.do(birth)
    with herd.book.read() as conn:
        assert [f.what for f in check_book(conn, date(2026, 9, 10)) if "Eden" in f.tags] == []
    assert "Eden" not in _culls(herd, date(2026, 9, 11))


def test_the_first_failure_is_no_reason_once_she_runs_again_the_second_is(herd_of_two: Herd) -> None:
    herd = herd_of_two
    herd.book.undo()  # before the autumn bull is planned
    assert _culls(herd, CHECKED)["Eden"] == ["open"]
    herd.book.redo()
    assert "Eden" not in _culls(herd, date(2026, 1, 10))
    herd.do(CheckPregnancy(herd.id["Eden"], date(2026, 2, 1), result="open", method="scan"))
    herd.do(CheckPregnancy(herd.id["Nith"], date(2026, 2, 1), result="open", method="scan"))
    culls = _culls(herd, date(2026, 2, 2))
    assert culls["Eden"] == ["open", "open_again"]
    assert culls["Nith"] == ["open"]
    (row,) = [row for row in herd.ask(cull_list, on=date(2026, 2, 2)) if row.tag == "Eden"]
    again = next(str(reason) for reason in row.reasons if reason.code == "open_again")
    assert again == "Found open after 2 times with a bull, first on 2025-09-10, last on 2026-02-01."
    herd.book.undo()
    herd.book.undo()
    assert "Eden" not in _culls(herd, date(2026, 2, 2))


def test_a_check_too_early_for_the_last_day_tells_nothing_of_it(herd_of_two: Herd) -> None:
    """On 5 January, 15 days after bull out, a calf of the last weeks could not have been found."""
    herd = herd_of_two
    herd.do(CheckPregnancy(herd.id["Eden"], date(2026, 1, 5), result="open"))
    assert _outcomes(herd, date(2026, 1, 6))["Autumn"].open == 0
    assert "open_again" not in _culls(herd, date(2026, 1, 6)).get("Eden", [])
