"""Sexes, dates and results as sheets write them."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.exchange.values import (
    blank,
    column_order,
    read_date,
    read_ease,
    read_leaving,
    read_number,
    read_result,
    read_sex,
)

ON = date(2026, 3, 1)


@pytest.mark.parametrize(
    ("word", "sex", "castrated"),
    [
        ("F", "F", False), ("cow", "F", False), ("Heifer", "F", False), ("heifer calf", "F", False),
        ("female calf", "F", False),
        ("M", "M", False), ("bull calf", "M", False), ("Bull", "M", False),
        ("steer", "M", True), ("bullock", "M", True), ("", None, False), ("?", None, False),
    ],
)  # fmt: skip
def test_sex_words(word: str, sex: str | None, castrated: bool) -> None:
    said = read_sex(word)
    assert (said.sex, said.castrated) == (sex, castrated)


def test_a_bull_is_said_to_be_entire_and_a_male_is_not() -> None:
    assert read_sex("bull").entire
    assert not read_sex("M").entire
    assert not read_sex("bull calf").entire


def test_died_in_the_sex_column_is_a_dead_calf_of_unknown_sex() -> None:
    assert read_sex("Died").dead
    assert read_sex("Died").sex is None
    assert not read_sex("Died").stillborn
    assert read_sex("Born dead").stillborn


@pytest.mark.parametrize("word", ["calf", "Yearling", "weaner", "stirk", "U"])
def test_a_word_of_age_leaves_the_sex_unknown(word: str) -> None:
    assert read_sex(word).sex is None


def test_an_unknown_sex_is_refused() -> None:
    with pytest.raises(ValueError, match="zebra"):
        read_sex("zebra")


@pytest.mark.parametrize("code", ["", "NA", "na", "?", ".", "-", "*"])
def test_missing_codes(code: str) -> None:
    assert blank(code)


def test_a_nought_is_blank_only_for_parents_and_dates() -> None:
    assert blank("0", zero=True)
    assert not blank("0")
    assert read_number("0", 0, 100) == 0.0


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("2024-03-09", "2024-03-09"), ("2024/3/9", "2024-03-09"), ("20240309", "2024-03-09"),
        ("2024-03-09 00:00:00", "2024-03-09"), ("9 Mar 2024", "2024-03-09"), ("9-Mar-24", "2024-03-09"),
        ("March 9, 2024", "2024-03-09"), ("Sat 9 March 2024", "2024-03-09"), ("31/12/2023", "2023-12-31"),
        ("12/31/2023", "2023-12-31"), ("5.5.2020", "2020-05-05"), ("2019", "2019"), ("2019-04", "2019-04"),
        ("04/2019", "2019-04"), ("Apr 2019", "2019-04"), ("before 2019", "before 2019-01-01"),
    ],
)  # fmt: skip
def test_dates_that_can_mean_one_thing_only(text: str, shown: str) -> None:
    assert str(read_date(text, None, ON)) == shown


@pytest.mark.parametrize(
    "text", ["DNC", "died", "2024-02-30", "31/04/2024", "45413", "3/4", "9/9/1066", "Mar 9"]
)
def test_what_is_no_date(text: str) -> None:
    with pytest.raises(ValueError, match="“"):
        read_date(text, None, ON)


def test_a_column_is_decided_by_the_rows_that_allow_one_order_only() -> None:
    assert column_order(["03/04/2024", "25/12/2023", "x", ""], ON).order == "dmy"
    assert column_order(["03/04/2024", "12/25/2023"], ON).order == "mdy"
    assert column_order(["03/04/24", "12/25/23"], ON).order == "mdy"


def test_a_column_that_nothing_decides_is_asked_about() -> None:
    assert column_order(["03/04/2024", "2024-04-03"], ON).doubtful == ("03/04/2024",)
    assert column_order(["03/04/2024", "25/12/2023", "12/25/2023"], ON).doubtful == ("03/04/2024",)


def test_a_column_whose_cells_mean_the_same_either_way_is_not_asked_about() -> None:
    order = column_order(["05/05/2024", "6.6.2023", "2024-04-03"], ON)
    assert order.doubtful == ()
    assert str(read_date("05/05/2024", order.order, ON)) == "2024-05-05"


def test_years_of_two_figures_lie_no_later_than_next_year() -> None:
    assert read_date("31/12/27", None, ON).day == date(2027, 12, 31)
    assert read_date("31/12/28", None, ON).day == date(1928, 12, 31)


DAYS = st.dates(date(1950, 1, 1), date(2026, 12, 31))


@given(st.lists(DAYS, min_size=1, max_size=12), st.sampled_from(["%d/%m/%Y", "%m/%d/%Y"]))
def test_a_column_is_read_right_or_asked_about(days: list[date], form: str) -> None:
    cells = [day.strftime(form) for day in days]
    told = "dmy" if form.startswith("%d") else "mdy"
    order = column_order(cells, ON)
    if order.doubtful:
        assert all(day.day <= 12 for day in days)
        assert any(day.day != day.month for day in days)
    assert [read_date(cell, order.order or told, ON).day for cell in cells] == days


@given(DAYS)
def test_named_months_and_iso_need_no_order(day: date) -> None:
    names = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()
    for text in (day.isoformat(), f"{day.day} {names[day.month - 1]} {day.year}"):
        assert read_date(text, None, ON).day == day


def test_results_ease_and_leaving() -> None:
    assert [read_result(w) for w in ("Pregnant", "in calf", "OPEN", "empty", "twins", "?")] == [
        "pregnant", "pregnant", "open", "open", "multiple", "unknown",
    ]  # fmt: skip
    assert [read_ease(w) for w in ("1", "unassisted", "hard pull", "4.0", "", "0")] == [
        1,
        1,
        3,
        4,
        None,
        None,
    ]
    assert [read_leaving(w) for w in ("sold at market", "Butcher", "died of bloat", "gone")] == [
        "sold", "slaughtered", "died", "other",
    ]  # fmt: skip
    for reader, word in ((read_result, "maybe so"), (read_ease, "9")):
        with pytest.raises(ValueError, match=word):
            reader(word)
