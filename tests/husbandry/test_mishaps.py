"""Heifers too young to be bred and entire males."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from herdbook.husbandry.days import add_months
from herdbook.husbandry.mishaps import beside_male_from, mated_too_young, too_young_beside_male


def test_heifer_calf_beside_an_entire_calf() -> None:
    # A keepers' page and an extension answer on breeding age (lifestyleblock.co.nz; beef.unl.edu); entire
    # from 4 months beside females of 6 is common practice. Born 10 and 15 March 2026: from 9 September, when
    # she is 183 days old.
    heifer, bull = date(2026, 3, 10), date(2026, 3, 15)
    assert beside_male_from(heifer, bull) == date(2026, 9, 9)
    assert too_young_beside_male(heifer, bull, date(2026, 9, 8)) is None
    alert = too_young_beside_male(heifer, bull, date(2026, 9, 9))
    assert alert is not None
    assert "vet" in str(alert)
    assert too_young_beside_male(heifer, bull, date(2027, 5, 9)) is not None
    assert too_young_beside_male(heifer, bull, date(2027, 5, 10)) is None  # 14 months: old enough to be bred


def test_alert_waits_for_a_much_younger_male_and_not_for_a_doubtful_date() -> None:
    assert beside_male_from(date(2025, 9, 1), date(2026, 3, 15)) == date(2026, 3, 15) + timedelta(days=122)
    assert beside_male_from(date(2026, 3, 1), date(2020, 1, 1), "month") == date(2026, 8, 31)
    assert beside_male_from(date(2026, 3, 1), date(2020, 1, 1), "before") is None
    assert too_young_beside_male(date(2026, 3, 1), date(2020, 1, 1), date(2026, 3, 2), "before") is not None


@pytest.mark.parametrize(
    ("months", "code"),
    [(5, None), (7, "mated_too_young"), (11, "mated_too_young"), (12, "mated_young"), (14, None)],
)
def test_served_before_her_time(months: int, code: str | None) -> None:
    # First service at 14-15 months, Merck/MSD Veterinary Manual; conceives from about 6 months and nothing is
    # bred under 12: common practice.
    born = date(2025, 3, 10)
    alert = mated_too_young(born, "day", add_months(born, months))
    assert (alert and alert.code) == code
    assert alert is None or "ask your vet" in str(alert)


def test_served_with_a_doubtful_birth_she_is_as_young_as_she_can_be() -> None:
    alert = mated_too_young(date(2025, 1, 1), "year", date(2026, 1, 15))
    assert alert is not None
    assert alert.values["months"] == 0
    assert mated_too_young(date(2025, 1, 1), "year", date(2025, 6, 1)) is None
