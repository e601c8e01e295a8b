"""What came of each time with a bull."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.exposures import Outcome, exposures, found_open, rolled
from herdbook.husbandry.gestation import Check

IN, OUT = date(2025, 6, 1), date(2025, 8, 2)
ON = date(2027, 1, 1)


def _open(day: date) -> Check:
    return Check(day, "open")


def test_nothing_known_is_not_open() -> None:
    """Two years after the bull without a calf or a check: the calendar alone calls nobody open."""
    (time,) = exposures([(IN, OUT)], date(2027, 8, 2))
    assert (time.outcome, time.told) == (Outcome.NOT_KNOWN, None)


def test_what_followed_tells() -> None:
    born = IN + timedelta(days=283)
    told = {
        Outcome.CALVED: {"calvings": [born]},
        Outcome.LOST: {"losses": [date(2025, 12, 1)]},
        Outcome.OPEN: {"checks": [_open(date(2025, 9, 10))]},
        Outcome.IN_CALF: {"checks": [_open(date(2025, 7, 1)), Check(date(2025, 9, 10), "multiple")]},
        Outcome.NOT_KNOWN: {"checks": [_open(date(2025, 8, 20)), Check(date(2025, 9, 10), "unknown")]},
    }
    for outcome, known in told.items():
        (time,) = exposures([(IN, OUT)], ON, **known)
        assert time.outcome is outcome


def test_an_open_cow_that_calves_has_calved() -> None:
    (time,) = exposures([(IN, OUT)], ON, [_open(date(2025, 9, 10))], [date(2026, 3, 20)])
    assert (time.outcome, time.told) == (Outcome.CALVED, date(2026, 3, 20))


def test_bulls_that_follow_closely_are_one_time_unless_a_check_lies_between() -> None:
    spans = [(IN, date(2025, 7, 5)), (date(2025, 7, 9), OUT), (date(2025, 10, 20), None)]
    (time,) = exposures(spans, date(2025, 11, 1))
    assert (time.first, time.last) == (IN, None)
    first, second = exposures(spans, date(2025, 11, 1), [_open(date(2025, 9, 10))])
    assert (first.last, first.outcome, second.first) == (OUT, Outcome.OPEN, date(2025, 10, 20))
    assert (found_open([first, second]), rolled([first, second])) == ((date(2025, 9, 10),), 1)
    assert rolled([first]) == 0  # found open, and to no bull since


def test_a_birth_belongs_to_the_time_that_it_fits_best() -> None:
    spans = [(IN, OUT), (date(2025, 10, 1), date(2025, 12, 1))]
    checks = [_open(date(2025, 9, 10))]
    late = exposures(spans, ON, checks, [date(2026, 6, 25)])  # 282 days from 16 September: nearer to October
    assert [time.outcome for time in late] == [Outcome.OPEN, Outcome.CALVED]
    early = exposures(spans, ON, checks, [date(2026, 5, 20)])
    assert [time.outcome for time in early] == [Outcome.CALVED, Outcome.NOT_KNOWN]


def test_what_is_still_to_come_is_passed_over() -> None:
    assert exposures([(IN, OUT)], IN - timedelta(days=1)) == ()
    (time,) = exposures([(IN, OUT)], date(2025, 9, 1), [_open(date(2025, 9, 10))], [date(2026, 3, 20)])
    assert time.outcome is Outcome.NOT_KNOWN


DAYS = st.dates(date(2020, 1, 1), date(2027, 1, 1))


@given(
    st.lists(st.tuples(DAYS, st.integers(0, 90)), max_size=5),
    st.lists(st.tuples(DAYS, st.sampled_from(["open", "pregnant", "unknown"])), max_size=6),
    st.lists(DAYS, max_size=4),
)
def test_times_are_in_order_apart_and_each_birth_counts_once(
    spans: list[tuple[date, int]], checks: list[tuple[date, str]], born: list[date]
) -> None:
    days = [(first, first + timedelta(days=length)) for first, length in spans]
    times = exposures(days, date(2028, 1, 1), [Check(*check) for check in checks], born)
    assert all(one.last < two.first for one, two in pairwise(times))
    for first, last in days:
        assert sum(time.first <= first and last <= time.last for time in times) == 1
    calved = [time.told for time in times if time.outcome is Outcome.CALVED]
    assert len(calved) == len(set(calved)) <= len(born)
    assert rolled(times) <= len(found_open(times)) <= len(checks)
