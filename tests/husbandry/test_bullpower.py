"""How many females for a bull, and for bulls together, and what the number rests on."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.bullpower import (
    BullInGroup,
    BullPower,
    Exam,
    bull_capacity,
    bull_power,
    bulls_needed,
    group_capacity,
    young_with_old,
)
from herdbook.husbandry.days import add_months

SEASON = (date(2026, 6, 1), date(2026, 8, 2))
GROWN = date(2020, 3, 1)
PASSED = Exam(date(2026, 4, 20), "satisfactory")


@pytest.mark.parametrize(
    ("months", "wanted"),
    [(12, 12), (15, 15), (18, 18), (23, 23), (24, 30), (60, 30)],
)
def test_one_female_per_month_until_two_years(months: int, wanted: int) -> None:
    # Oklahoma State University Extension, breeding-season column: one per month of age, 25-35 from 24 months.
    assert bull_capacity(add_months(SEASON[0], -months), SEASON[0]) == wanted


def test_capacity_counts_whole_months() -> None:
    # Derived from the same rule: born 10 March 2024, in on 1 June 2025 at 14.7 months: 14.
    assert bull_capacity(date(2024, 3, 10), date(2025, 6, 1)) == 14
    assert bull_capacity(date(2024, 6, 2), date(2026, 6, 1)) == 23  # two years old tomorrow
    assert bull_capacity(date(2024, 6, 1), date(2026, 6, 1), ceiling=25) == 25


def test_capacity_takes_the_youngest_he_can_be() -> None:
    assert bull_capacity(date(2024, 1, 1), date(2026, 6, 1), precision="year") == 17  # born by 31 December
    assert bull_capacity(date(2024, 5, 1), date(2026, 5, 31), precision="month") == 30
    assert bull_capacity(date(2024, 5, 1), date(2026, 5, 30), precision="month") == 23


def test_capacity_by_hand_not_known_or_too_young() -> None:
    assert bull_capacity(date(2025, 8, 1), SEASON[0]) == 0  # common practice: nothing under a year is used
    assert bull_capacity(date(2025, 8, 1), SEASON[0], by_hand=5) == 5
    assert bull_capacity(None, SEASON[0]) is None
    assert bull_capacity(None, SEASON[0], by_hand=20) == 20
    with pytest.raises(ValueError, match="below 0"):
        bull_capacity(None, SEASON[0], by_hand=-1)


def test_bulls_needed() -> None:
    # Oklahoma State University Extension: sixty heifers need four bulls of 15 months.
    assert bulls_needed(60, 15) == 4
    assert bulls_needed(12, 14) == 1
    assert bulls_needed(0, 0) == 0
    with pytest.raises(ValueError, match="never enough"):
        bulls_needed(3, 0)


@given(st.dates(date(2000, 1, 1), date(2030, 1, 1)), st.integers(0, 3000), st.integers(25, 35))
def test_capacity_never_falls_with_age(born: date, days: int, ceiling: int) -> None:
    younger = bull_capacity(born, born + timedelta(days=days), ceiling)
    older = bull_capacity(born, born + timedelta(days=days + 1), ceiling)
    assert younger is not None
    assert older is not None
    assert younger <= older <= ceiling


# -- the soundness examination, and the keeper's number --


def _codes(power: BullPower) -> list[str]:
    return [reason.code for reason in power.reasons]


def test_a_young_bull_for_a_whole_herd() -> None:
    # One female for each month (Oklahoma State University Extension): a bull of 14 months has 14 of 25 cows.
    young = add_months(SEASON[0], -14)
    power = bull_power(young, SEASON[0], exam=PASSED)
    assert (power.capacity, _codes(power)) == (14, ["by_age"])
    assert str(power.rests_on) == "14 months old at bull-in: 14 females, one for each month of age."
    by_hand = bull_power(young, SEASON[0], by_hand=25, exam=PASSED)
    assert (by_hand.capacity, _codes(by_hand)) == (25, ["by_hand", "over_guide"])
    assert str(by_hand.cautions[0]) == "25 by hand; the guide for his age is 14."
    assert _codes(bull_power(young, SEASON[0], by_hand=14, exam=PASSED)) == ["by_hand"]


@pytest.mark.parametrize(
    ("exam", "capacity", "codes"),
    [
        (PASSED, 30, ["grown"]),
        (None, 30, ["grown", "exam_missing"]),
        # Examined 30-60 days before turn-in, Arkansas Extension: 60 days before 1 June is 2 April.
        (Exam(date(2026, 4, 2), "satisfactory"), 30, ["grown"]),
        (Exam(date(2026, 4, 1), "satisfactory"), 30, ["grown", "exam_old"]),
        (Exam(date(2026, 6, 20), "satisfactory"), 30, ["grown"]),
        (Exam(date(2026, 4, 20), "deferred"), 30, ["grown", "exam_deferred"]),
        (Exam(date(2026, 4, 20), "unsatisfactory"), 0, ["exam_unsatisfactory"]),
        (Exam(date(2024, 4, 20), "unsatisfactory"), 0, ["exam_unsatisfactory"]),
    ],
)
def test_the_last_examination_counts(exam: Exam | None, capacity: int, codes: list[str]) -> None:
    power = bull_power(GROWN, SEASON[0], exam=exam)
    assert (power.capacity, _codes(power)) == (capacity, codes)
    assert all("vet" in str(r) or r.code in ("grown", "exam_deferred") for r in power.reasons)


def test_the_keeper_s_number_stands_over_all_of_it() -> None:
    failed = bull_power(GROWN, SEASON[0], by_hand=5, exam=Exam(date(2026, 4, 20), "unsatisfactory"))
    assert (failed.capacity, _codes(failed)) == (5, ["by_hand", "exam_unsatisfactory"])
    with pytest.raises(ValueError, match="below 0"):
        bull_power(GROWN, SEASON[0], by_hand=-1)


def test_age_not_known_or_too_young() -> None:
    unknown = bull_power(None, SEASON[0], exam=PASSED)
    assert (unknown.capacity, _codes(unknown)) == (None, ["age_not_known"])
    calf = bull_power(date(2025, 7, 1), SEASON[0], exam=PASSED)
    assert (calf.capacity, _codes(calf)) == (0, ["bull_too_young"])
    assert str(bull_power(add_months(SEASON[0], -23), SEASON[0], ceiling=20).rests_on) == (
        "23 months old at bull-in: 20 females, no more than a grown bull."
    )


# -- bulls together --


def _bull(capacity: int, first: int, last: int, months: int | None = 60) -> BullInGroup:
    return BullInGroup(capacity, date(2026, 6, first), date(2026, 6, last), months)


def test_bulls_together_and_one_after_the_other() -> None:
    # Our choice: those together share the work, of those in turn each meets every female.
    first, second, third = _bull(20, 1, 10), _bull(15, 10, 20), _bull(10, 21, 30)
    assert group_capacity([first, second]) == 35
    assert group_capacity([first, third]) == 10
    assert group_capacity([third, second, first]) == 10
    assert group_capacity([first, third], by_hand=18) == 18
    for wrong in (lambda: group_capacity([]), lambda: group_capacity([first], by_hand=-1)):
        with pytest.raises(ValueError, match="females"):
            wrong()


@given(
    st.lists(st.tuples(st.integers(0, 40), st.integers(1, 28), st.integers(0, 20)), min_size=1, max_size=6)
)
def test_a_group_serves_no_more_than_all_and_no_fewer_than_its_weakest(
    bulls: list[tuple[int, int, int]],
) -> None:
    group = [_bull(capacity, first, min(first + days, 30)) for capacity, first, days in bulls]
    together = group_capacity(group)
    assert together <= sum(bull.capacity for bull in group)
    assert together >= min(bull.capacity for bull in group)


def test_young_bull_with_an_old_one() -> None:
    # Young with young, old with old: Oklahoma State University Extension. A caution only, for some yearlings
    # sire many beside an old one (yourcattle.com, 2017). Young after old is what that column advises.
    old, young = _bull(30, 1, 20), _bull(14, 5, 25, 14)
    caution = young_with_old([old, young])
    assert caution is not None
    assert caution.code == "young_with_old"
    assert young_with_old([old, _bull(14, 21, 30, 14)]) is None
    assert young_with_old([_bull(30, 1, 20, 24), old]) is None
    assert young_with_old([young, _bull(23, 1, 20, 23)]) is None
    assert young_with_old([old, _bull(30, 1, 20, None)]) is None
