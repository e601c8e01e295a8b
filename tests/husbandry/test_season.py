"""How many females for a bull, and which females may be bred."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.days import add_months
from herdbook.husbandry.season import (
    RULES,
    Candidate,
    Readiness,
    Rules,
    beside_male_from,
    bull_capacity,
    bulls_needed,
    latest_conception,
    may_be_bred,
    too_young_beside_male,
)

SEASON = (date(2026, 6, 1), date(2026, 8, 2))
COW = Candidate(born=date(2020, 4, 1), calvings=4, last_calved=date(2026, 3, 20))
HEIFER = Candidate(born=date(2025, 3, 1), weight_kg=400.0, mature_weight_kg=600.0)


def codes(readiness: Readiness) -> list[str]:
    return [reason.code for reason in readiness.reasons]


# -- bulls --


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


# -- the year of a cow --


@pytest.mark.parametrize(
    ("calved", "by"),
    [(date(2025, 3, 15), date(2025, 6, 5)), (date(2024, 2, 1), date(2024, 4, 23))],
)
def test_last_day_to_conceive_for_a_calf_a_year(calved: date, by: date) -> None:
    # 365 - 283 = 82 days; University of Nebraska Extension says in calf by 80-85 days. Rows derived.
    assert latest_conception(calved) == by
    assert by + timedelta(days=283) == calved + timedelta(days=365)


# -- who may be bred --


def test_a_cow_that_calved_in_time() -> None:
    assert may_be_bred(COW, SEASON) == Readiness(True, None, ())


def test_a_cow_that_calved_late_has_a_low_chance() -> None:
    # Womb ready about 50 days after calving, University of Nebraska Extension.
    fifty = SEASON[1] - timedelta(days=50)
    assert may_be_bred(replace(COW, last_calved=fifty), SEASON).reasons == ()
    late = may_be_bred(replace(COW, last_calved=fifty + timedelta(days=1)), SEASON)
    assert late.ok
    assert codes(late) == ["low_chance"]
    assert "49 days" in str(late.reasons[0])


def test_in_calf() -> None:
    assert may_be_bred(replace(COW, in_calf=True, due=date(2026, 3, 30)), SEASON).ok
    late = may_be_bred(replace(COW, in_calf=True, due=date(2026, 7, 1)), SEASON)
    assert late.ok
    assert codes(late) == ["low_chance"]
    # First heat 20-60 days after calving, Merck/MSD Veterinary Manual.
    assert may_be_bred(replace(COW, in_calf=True, due=date(2026, 7, 13)), SEASON).ok
    assert may_be_bred(replace(COW, in_calf=True, due=date(2026, 7, 14)), SEASON).code == "in_calf"
    assert may_be_bred(replace(COW, in_calf=True), SEASON).code == "in_calf"


def test_an_in_calf_heifer_is_judged_by_her_due_day_not_her_age() -> None:
    young = Candidate(born=date(2025, 8, 1), in_calf=True, due=date(2026, 6, 20))
    assert may_be_bred(young, SEASON).code is None


@pytest.mark.parametrize(
    ("born", "code"),
    [
        (date(2025, 4, 1), None),  # 14 months at bull-in
        (date(2025, 4, 2), "too_young"),
        (date(2025, 6, 1), "too_young"),
    ],
)
def test_heifer_by_age(born: date, code: str | None) -> None:
    # First bred at 14-15 months, Merck/MSD Veterinary Manual.
    assert may_be_bred(replace(HEIFER, born=born), SEASON).code == code


def test_heifer_is_as_young_as_she_can_be() -> None:
    assert may_be_bred(replace(HEIFER, born=date(2025, 3, 1), precision="month"), SEASON).ok
    assert may_be_bred(replace(HEIFER, born=date(2025, 4, 1), precision="month"), SEASON).code == "too_young"
    assert may_be_bred(replace(HEIFER, born=date(2025, 1, 1), precision="year"), SEASON).code == "too_young"
    unknown = may_be_bred(replace(HEIFER, born=None), SEASON)
    assert (unknown.code, codes(unknown)) == ("other", ["age_unknown"])


def test_never_under_a_year_whatever_the_setting() -> None:
    # Common practice, no source.
    eager = Rules(breeding_months=9)
    assert may_be_bred(replace(HEIFER, born=date(2025, 6, 2)), SEASON, eager).code == "too_young"
    assert may_be_bred(replace(HEIFER, born=date(2025, 6, 1)), SEASON, eager).ok
    later = Rules(breeding_months=26)  # a herd that calves at three
    assert may_be_bred(HEIFER, SEASON, later).code == "too_young"


@pytest.mark.parametrize(
    ("weight", "code", "reasons"),
    [
        (390.0, None, []),  # 65 % of 600 kg
        (389.9, None, ["light"]),
        (360.0, None, ["light"]),  # 60 %
        (359.9, "too_young", ["too_light"]),
        (None, None, ["no_weight"]),
    ],
)
def test_heifer_by_weight(weight: float | None, code: str | None, reasons: list[str]) -> None:
    # 65 % of mature weight at first breeding, 60 % acceptable: extension texts.
    found = may_be_bred(replace(HEIFER, weight_kg=weight), SEASON)
    assert (found.code, codes(found)) == (code, reasons)


def test_published_target_weight() -> None:
    # Mature 1,400 lb: breed at 910 lb; mature 1,100 lb: 715 lb (extension texts).
    for mature, target in ((1400, 910), (1100, 715)):
        heifer = replace(HEIFER, mature_weight_kg=mature * 0.45359237)
        assert may_be_bred(replace(heifer, weight_kg=target * 0.45359237 + 1e-9), SEASON).reasons == ()
        assert codes(may_be_bred(replace(heifer, weight_kg=(target - 1) * 0.45359237), SEASON)) == ["light"]


def test_marks_and_cautions() -> None:
    assert may_be_bred(replace(COW, left_on=date(2026, 5, 1)), SEASON).code == "left"
    assert may_be_bred(replace(COW, left_on=date(2026, 9, 1)), SEASON).ok
    kept = may_be_bred(replace(COW, kept_back="bad feet"), SEASON)
    assert (kept.code, str(kept.reasons[0])) == ("chosen", "Marked not to be bred: bad feet")
    assert may_be_bred(replace(COW, kept_back=""), SEASON).code == "chosen"
    assert codes(may_be_bred(replace(COW, open_last_season=True), SEASON)) == ["open_last_season"]
    # Over 90 in 100 heifers twin to a bull are sterile: extension texts. A heifer that has calved is not.
    freemartin = may_be_bred(replace(HEIFER, twin_to_male=True), SEASON)
    assert (freemartin.code, codes(freemartin)) == ("other", ["freemartin"])
    assert may_be_bred(replace(COW, twin_to_male=True), SEASON).ok
    with pytest.raises(ValueError, match="must not be before"):
        may_be_bred(COW, (SEASON[1], SEASON[0]))


DAYS = st.dates(date(2015, 1, 1), date(2027, 1, 1))
ANYONE = st.builds(
    Candidate,
    born=st.none() | DAYS,
    precision=st.sampled_from(["day", "month", "year", "before"]),
    calvings=st.integers(0, 3),
    last_calved=st.none() | DAYS,
    in_calf=st.booleans(),
    due=st.none() | DAYS,
    weight_kg=st.none() | st.floats(50, 900),
    mature_weight_kg=st.none() | st.floats(300, 900),
    left_on=st.none() | DAYS,
    kept_back=st.none() | st.just("temper"),
    twin_to_male=st.booleans(),
    open_last_season=st.booleans(),
)


@given(ANYONE)
def test_every_answer_reads(female: Candidate) -> None:
    found = may_be_bred(female, SEASON)
    assert found.ok == (found.code is None)
    assert found.ok or len(found.reasons) == 1
    assert all("{" not in str(reason) for reason in found.reasons)
    if found.ok and not female.calvings and female.last_calved is None and not female.in_calf:
        assert female.born is not None
        assert add_months(female.born, RULES.breeding_months) <= SEASON[0]


# -- young males and females together --


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
