"""Days and lists in words."""

from __future__ import annotations

from datetime import date

import pytest

from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.reasons import Reason
from herdbook.services.saying import (
    called,
    day_words,
    days_words,
    full_day_words,
    listed,
    reason_words,
    short_day_words,
)

ON = date(2026, 3, 3)


@pytest.mark.parametrize(
    ("day", "words"),
    [
        (date(2026, 3, 3), "Tue 3 Mar"),
        (date(2026, 3, 16), "Mon 16 Mar"),  # 13 days on
        (date(2026, 3, 17), "17 Mar"),
        (date(2026, 2, 18), "Wed 18 Feb"),
        (date(2026, 8, 29), "29 Aug"),
        (date(2026, 8, 30), "30 Aug 2026"),  # 180 days on
    ],
)
def test_days(day: date, words: str) -> None:
    assert day_words(day, ON) == words
    assert day_words(day).endswith(f" {day.year}")


def test_what_is_printed_bears_weekday_and_year() -> None:
    assert full_day_words(date(2026, 3, 3)) == "Tue 3 Mar 2026"
    assert short_day_words(date(2026, 3, 3)) == "3 Mar"
    inner = Reason("born", "Born {born}.", {"born": PartDay(date(2019, 5, 1), "month")})
    told = Reason("due", "Due {due}: {why} {more}", {"due": ON, "why": (inner, inner), "more": inner})
    assert reason_words(told) == "Due 3 Mar 2026: Born 2019-05. Born 2019-05. Born 2019-05."
    assert reason_words(Reason("d", "{day}", {"day": PartDay(ON)})) == "3 Mar 2026"


def test_numbers_and_lists() -> None:
    assert [days_words(n) for n in (0, 1, 2)] == ["0 days", "1 day", "2 days"]
    tags = [str(n) for n in range(1, 8)]
    assert listed(tags[:6]) == "1, 2, 3, 4, 5, 6"
    assert listed(tags) == "1, 2, 3, 4, 5 and 2 more"
    assert listed([]) == ""
    assert [called("12", "Eden"), called("12", None), called("Eden", "Eden")] == ["12 Eden", "12", "Eden"]


def test_a_long_list_is_counted_without_all_of_its_words() -> None:
    assert listed(["a", "b", "c"], 3) == "a, b, c"
    assert listed(["a", "b", "c", "d"], 3) == listed(["a", "b", "c"], 3, of=4) == "a, b and 2 more"
