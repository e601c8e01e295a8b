"""Reasons for culling: each from its record, at its bound, and none from silence."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.culling import (
    CULL_SOURCES,
    CullRules,
    FemaleRecord,
    LostCalf,
    Scored,
    cull_reasons,
)

ON = date(2026, 10, 1)
START = date(2026, 3, 11)


def codes(**record: object) -> list[str]:
    return [reason.code for reason in cull_reasons(FemaleRecord(**record), ON)]  # type: ignore[arg-type]


def scored(kind: str, value: float, scale: str = "1-9", when: date = ON) -> Scored:
    return Scored(when, kind, value, scale)


def test_silence_is_no_reason() -> None:
    assert codes() == []
    assert codes(born=date(2020, 3, 1), calved_on=START, calf_ratios=(100.0, 104.0)) == []


def test_open_and_lost_calves() -> None:
    lost = tuple(LostCalf(date(2026, 3, 20), how) for how in ("aborted", "stillborn", "died"))
    assert codes(open_on=date(2026, 9, 20), lost=lost) == ["open", "lost_calf", "lost_calf", "lost_calf"]
    texts = [str(reason) for reason in cull_reasons(FemaleRecord(lost=lost), ON)]
    assert texts == [
        "Lost her pregnancy on 2026-03-20.",
        "Calf born dead on 2026-03-20.",
        "Calf died on 2026-03-20.",
    ]


def test_what_is_still_to_come_is_no_reason() -> None:
    later = ON + timedelta(days=1)
    assert (
        codes(open_on=later, lost=(LostCalf(later, "died"),), scores=(scored("udder", 1, when=later),)) == []
    )


@pytest.mark.parametrize(("days", "late"), [(-5, False), (0, False), (41, False), (42, True), (70, True)])
def test_late_from_the_third_period(days: int, late: bool) -> None:
    # Common practice: the third 21-day period begins on the 42nd day after the first day.
    there = START + timedelta(days=days)
    assert codes(calved_on=there, season_start=START) == ["late"] * late
    assert codes(expected=there, next_start=START) == ["due_late"] * late


@pytest.mark.parametrize(
    ("born", "precision", "expected"),
    [
        (date(2014, 10, 1), "day", ["age"]),
        (date(2014, 10, 2), "day", []),
        (date(2014, 1, 1), "year", ["age"]),
        (date(2014, 10, 1), "month", ["age"]),
        (date(2015, 1, 1), "year", []),
        (date(2010, 1, 1), "before", []),
    ],
)
def test_age_at_its_oldest(born: date, precision: str, expected: list[str]) -> None:
    # Common practice, no source: twelve years.
    assert codes(born=born, precision=precision) == expected


def test_a_rough_age_says_so() -> None:
    (rough,) = cull_reasons(FemaleRecord(born=date(2014, 1, 1), precision="year"), ON)
    (exact,) = cull_reasons(FemaleRecord(born=date(2014, 1, 1)), ON)
    assert str(rough) == "May be 12 years old: look at her teeth."
    assert str(exact) == "12 years old: look at her teeth."


@pytest.mark.parametrize(
    ("kind", "value", "scale", "expected"),
    [
        # The scales are BIF's; what counts as poor on them is common practice.
        ("udder", 3, "1-9", ["udder"]),
        ("udder", 4, "1-9", []),
        ("udder", 3, "1-5", []),
        ("teat", 1, "1-9", ["teat"]),
        ("teat", 4, "1-9", []),
        ("feet", 3, "1-9", ["feet"]),
        ("feet", 4, "1-9", []),
        ("feet", 7, "1-9", []),
        ("feet", 8, "1-9", ["feet"]),
        ("claw", 9, "1-9", ["feet"]),
        ("temper", 3, "1-6", []),
        ("temper", 4, "1-6", ["temper"]),
        ("temper", 6, "1-9", ["temper"]),
        ("condition", 2, "1-9", []),
    ],
)
def test_scores(kind: str, value: float, scale: str, expected: list[str]) -> None:
    assert codes(scores=(scored(kind, value, scale),)) == expected


def test_the_latest_score_of_a_kind_counts() -> None:
    old = scored("temper", 6, "1-6", date(2023, 10, 1))
    assert codes(scores=(scored("temper", 2, "1-6"), old)) == []
    assert codes(scores=(scored("temper", 5, "1-6"), scored("udder", 2), scored("feet", 9))) == [
        "udder",
        "feet",
        "temper",
    ]


@pytest.mark.parametrize(
    ("ratios", "poor"),
    [((80.0,), False), ((89.0, 90.0), True), ((90.0, 90.0), False), ((70.0, 120.0), False)],
)
def test_poor_calves_need_two(ratios: tuple[float, ...], poor: bool) -> None:
    # Common practice, no source.
    assert codes(calf_ratios=ratios) == ["poor_calves"] * poor


def test_the_bounds_are_settings_and_each_names_its_source() -> None:
    assert {field.name for field in dataclasses.fields(CullRules)} == set(CULL_SOURCES)
    old = FemaleRecord(born=date(2016, 1, 1))
    assert cull_reasons(old, ON) == ()
    assert [r.code for r in cull_reasons(old, ON, CullRules(age_years=10))] == ["age"]


@given(
    st.builds(
        FemaleRecord,
        born=st.none() | st.dates(date(2000, 1, 1), ON),
        precision=st.sampled_from(["day", "month", "year", "before"]),
        open_on=st.none() | st.dates(date(2026, 1, 1), date(2027, 1, 1)),
        calved_on=st.none() | st.dates(date(2026, 1, 1), date(2027, 1, 1)),
        season_start=st.none() | st.just(START),
        scores=st.lists(
            st.builds(
                Scored,
                st.dates(date(2024, 1, 1), date(2027, 1, 1)),
                st.sampled_from(["udder", "teat", "feet", "claw", "temper", "condition"]),
                st.integers(1, 9),
                st.sampled_from(["1-9", "1-5", "1-6"]),
            ),
            max_size=8,
        ).map(tuple),
        calf_ratios=st.lists(st.floats(60, 130), max_size=5).map(tuple),
    )
)
def test_every_reason_can_be_said(record: FemaleRecord) -> None:
    reasons = cull_reasons(record, ON)
    assert all(str(reason).endswith(".") for reason in reasons)
    assert cull_reasons(record, ON) == reasons
