"""Hours as people write them."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.hours import moment, read_hour


@pytest.mark.parametrize(
    ("text", "hour"),
    [("4:10", "04:10"), ("4.10", "04:10"), (" 0410 ", "04:10"), ("16h05", "16:05"), ("7", "07:00"),
     ("23:59", "23:59"), ("0:00", "00:00"), ("16,30", "16:30")],
)  # fmt: skip
def test_one_hour_spelt_in_many_ways(text: str, hour: str) -> None:
    assert read_hour(text) == hour


@pytest.mark.parametrize("text", ["24:00", "4:60", "noon", "", "4:1", "410", "-1"])
def test_what_is_no_hour(text: str) -> None:
    with pytest.raises(ValueError, match="no hour"):
        read_hour(text)


@given(st.times())
def test_what_is_read_is_read_again(at: object) -> None:
    text = f"{at:%H:%M}"
    assert read_hour(text) == text


def test_an_hour_not_written_is_the_first_of_the_day() -> None:
    day = date(2026, 3, 3)
    assert moment(day, None).isoformat() == "2026-03-03T00:00:00"
    assert moment(day, "16:05").isoformat() == "2026-03-03T16:05:00"
