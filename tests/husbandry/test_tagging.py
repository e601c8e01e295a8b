"""The next tag in a herd's own style. The rule is common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.tagging import Worn, next_tag


def nobody(_tag: str) -> bool:
    """Say that no tag is taken."""
    return False


@pytest.mark.parametrize(
    ("latest", "year", "expected"),
    [
        ([("26-08", 2026), ("26-07", 2026)], 2026, "26-09"),
        ([("26-09", 2026)], 2026, "26-10"),
        ([("26-08", 2026)], 2027, "27-01"),  # a new year begins again at 1
        ([("17/26", 2026), ("9/26", 2026)], 2026, "18/26"),
        ([("9/26", 2026), ("17/26", 2026)], 2026, "18/26"),  # the highest, not the latest
        ([("17/26", 2026)], 2027, "1/27"),
        ([("2026/3", 2026)], 2026, "2026/4"),
        ([("W12", 2025)], 2026, "W13"),
        ([("099", 2025)], 2026, "100"),
        ([("417", 2025)], 2026, "418"),
        ([("UK 26 004", 2026)], 2026, "UK 26 005"),
        ([("26/26", 2026)], 2026, "26/27"),  # the first of two equal numbers is taken as the year
        ([("Wharfe", 2025), ("12/25", 2025)], 2026, "1/26"),  # a name is no style
        ([], 2026, None),
        ([("Wharfe", 2025)], 2026, None),
    ],
)
def test_next_tag(latest: list[tuple[str, int]], year: int, expected: str | None) -> None:
    assert next_tag([Worn(*worn) for worn in latest], year, nobody) == expected


@pytest.mark.parametrize(
    ("style", "expected"),
    [
        ("12/24", "1/26"),
        ("24-012", "26-001"),
        ("W12", "W01"),
        ("2024/7", "2026/1"),
        ("", None),
        ("tags", None),
    ],
)
def test_before_the_first_calf_the_example_counts(style: str, expected: str | None) -> None:
    assert next_tag([], 2026, nobody, style) == expected


def test_a_tag_that_is_worn_is_passed_over() -> None:
    worn = {"26-09", "26-10"}
    assert next_tag([Worn("26-08", 2026)], 2026, worn.__contains__) == "26-11"


@given(st.integers(1, 500), st.integers(1990, 2060), st.sampled_from(["{n}/{y}", "{y}-{n:03d}", "A{n}"]))
def test_what_is_given_is_counted_on_from(number: int, year: int, style: str) -> None:
    """Each tag given makes the next one another, of the same style."""
    tag = style.format(n=number, y=f"{year % 100:02d}")
    second = next_tag([Worn(tag, year)], year, nobody)
    assert second is not None
    assert second != tag
    third = next_tag([Worn(second, year), Worn(tag, year)], year, nobody)
    assert third not in (None, tag, second)
