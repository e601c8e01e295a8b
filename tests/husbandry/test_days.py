"""Calendar months, ages, and dates known only roughly."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.days import Precision, add_months, age_days, age_months, earliest, latest

days = st.dates(date(1950, 1, 1), date(2150, 12, 31))


@pytest.mark.parametrize(
    ("start", "months", "end"),
    [
        (date(2025, 8, 31), 6, date(2026, 2, 28)),
        (date(2023, 8, 31), 6, date(2024, 2, 29)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2025, 1, 31), 1, date(2025, 2, 28)),
        (date(2025, 3, 31), -1, date(2025, 2, 28)),
        (date(2025, 12, 5), 1, date(2026, 1, 5)),
        (date(2025, 1, 5), -1, date(2024, 12, 5)),
    ],
)
def test_months_are_calendar_months_with_the_end_clamped(start: date, months: int, end: date) -> None:
    assert add_months(start, months) == end


@given(days, st.integers(-600, 600))
def test_adding_months_lands_in_the_right_month(day: date, n: int) -> None:
    there = add_months(day, n)
    assert (there.year - day.year) * 12 + there.month - day.month == n
    assert there.day <= day.day


@given(days, st.integers(-5000, 20000))
def test_age_in_months_is_the_greatest_that_fits(born: date, later: int) -> None:
    on = born + timedelta(days=later)
    n = age_months(born, on)
    assert add_months(born, n) <= on < add_months(born, n + 1)


@given(days, st.integers(0, 600))
def test_an_animal_is_n_months_old_on_the_day_n_months_on(born: date, n: int) -> None:
    assert age_months(born, add_months(born, n)) == n


@given(days, st.integers(-1000, 10000))
def test_age_in_days_counts_from_the_birth(born: date, n: int) -> None:
    assert age_days(born, born + timedelta(days=n)) == n


def test_the_calendar_has_ends() -> None:
    with pytest.raises(ValueError, match="out of range"):
        add_months(date(9999, 12, 1), 1)
    assert age_months(date(1, 1, 31), date(1, 1, 1)) == -1


@pytest.mark.parametrize(
    ("precision", "first", "last"),
    [
        ("day", date(2024, 2, 1), date(2024, 2, 1)),
        ("month", date(2024, 2, 1), date(2024, 2, 29)),
        ("year", date(2024, 1, 1), date(2024, 12, 31)),
        ("before", None, date(2024, 1, 31)),
    ],
)
def test_a_rough_date_has_a_first_and_a_last_day(precision: str, first: date | None, last: date) -> None:
    stored = date(2024, 2, 1)
    assert earliest(stored, precision) == first
    assert latest(stored, precision) == last


@given(days, st.sampled_from(["day", "month", "year"]))
def test_the_stored_day_lies_within_its_period(day: date, precision: str) -> None:
    first = earliest(day, precision)
    assert first is not None
    assert first <= day <= latest(day, precision)


def test_another_precision_is_refused() -> None:
    with pytest.raises(ValueError, match="week"):
        earliest(date(2024, 1, 1), "week")
    assert Precision("month") == "month"
