"""The class of an animal: first rule that fits, at the unsafe end of a rough age."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.classes import AnimalClass, class_of
from herdbook.husbandry.days import add_months

BORN = date(2025, 3, 10)


def named(sex: str, months: int, **known: object) -> AnimalClass:
    facts: dict[str, object] = {"weaned": False, "castrated": False, "calvings": 0, "in_calf": False, **known}
    return class_of(sex, BORN, "day", add_months(BORN, months), **facts)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("sex", "months", "known", "expected"),
    [
        ("F", 3, {}, "calf"),
        ("M", 9, {}, "calf"),
        ("M", 9, {"castrated": True}, "calf"),
        ("M", 7, {"castrated": True, "weaned": True}, "steer"),
        ("M", 10, {"castrated": True}, "steer"),
        ("M", 10, {}, "young bull"),
        ("M", 7, {"weaned": True}, "young bull"),
        ("M", 11, {"weaned": True}, "young bull"),
        ("M", 12, {"weaned": True}, "bull"),
        ("M", 40, {}, "bull"),
        ("F", 7, {"weaned": True}, "heifer"),
        ("F", 10, {}, "heifer"),
        ("F", 20, {"in_calf": True}, "in-calf heifer"),
        ("F", 24, {"calvings": 1}, "cow"),
        ("F", 60, {"calvings": 4, "in_calf": True}, "cow"),
    ],
)
def test_the_first_rule_that_fits(sex: str, months: int, known: dict[str, object], expected: str) -> None:
    # Common practice, no source.
    assert named(sex, months, **known) == expected


def test_a_calf_is_one_until_the_day_before_ten_months() -> None:
    plain = {"weaned": False, "castrated": False, "calvings": 0, "in_calf": False}
    assert class_of("F", BORN, "day", date(2026, 1, 9), **plain) is AnimalClass.CALF
    assert class_of("F", BORN, "day", date(2026, 1, 10), **plain) is AnimalClass.HEIFER


def test_a_rough_birth_counts_at_its_earliest() -> None:
    plain = {"weaned": True, "castrated": False, "calvings": 0, "in_calf": False}
    stored = date(2025, 1, 1)
    assert class_of("M", stored, "year", date(2025, 12, 31), **plain) is AnimalClass.YOUNG_BULL
    assert class_of("M", stored, "year", date(2026, 1, 1), **plain) is AnimalClass.BULL
    assert class_of("M", date(2026, 6, 1), "before", date(2026, 6, 2), **plain) is AnimalClass.BULL
    assert class_of("M", None, "day", date(2026, 6, 2), **plain) is AnimalClass.BULL


def test_another_sex_is_refused() -> None:
    with pytest.raises(ValueError, match="F or M"):
        class_of("X", BORN, "day", BORN, weaned=False, castrated=False, calvings=0, in_calf=False)


@given(
    st.sampled_from("FM"),
    st.integers(0, 200),
    st.booleans(),
    st.booleans(),
    st.integers(0, 3),
    st.booleans(),
)
def test_every_animal_has_a_class_of_its_sex(
    sex: str, months: int, weaned: bool, castrated: bool, calvings: int, in_calf: bool
) -> None:
    found = named(sex, months, weaned=weaned, castrated=castrated, calvings=calvings, in_calf=in_calf)
    female = {AnimalClass.COW, AnimalClass.HEIFER, AnimalClass.IN_CALF_HEIFER}
    assert found is AnimalClass.CALF or (found in female) == (sex == "F")
    assert (found is AnimalClass.CALF) == (months < 10 and not weaned)
