"""A few days with a bull: their window is wider than the plain due days."""

from __future__ import annotations

from datetime import date

import pytest

from herdbook.husbandry.briefrun import brief_run
from herdbook.husbandry.gestation import Check, Evidence, Run, Service, Stage, expect

IN, OUT = date(2026, 4, 10), date(2026, 4, 12)


def test_three_days_with_a_bull() -> None:
    """263 and 299 days: 1st and 99th percentile of 24,732 gestations in an open data set; 283 the default."""
    brief = brief_run([(IN, OUT, 283)])
    assert brief is not None
    assert brief.window == (date(2026, 12, 29), date(2027, 2, 5))
    assert brief.plain == (date(2027, 1, 18), date(2027, 1, 20))
    assert "2026-12-29" in str(brief.note())


@pytest.mark.parametrize(
    "runs",
    [
        [(IN, None, 283)],  # he is still with them
        [(IN, date(2026, 4, 30), 283)],  # 21 days: a whole cycle
        [(IN, OUT, 283), (date(2026, 5, 1), date(2026, 6, 1), 283)],  # another bull followed within a cycle
        [(date(2026, 6, 1), date(2026, 7, 5), 283), (date(2026, 7, 9), date(2026, 7, 20), 283)],
        [],
    ],
)
def test_what_is_not_brief(runs: list[tuple[date, date | None, int]]) -> None:
    assert brief_run(runs) is None


def test_brief_before_a_season_is_told_apart() -> None:
    season = (date(2026, 6, 1), date(2026, 8, 2), 283)
    brief = brief_run([season, (IN, OUT, 283)])
    assert brief is not None
    assert (brief.first, brief.last) == (IN, OUT)


def _expected(on: date, *runs: Run, **more: object):
    return expect(Evidence(runs=runs, **more), on)


def test_the_watch_is_as_wide_as_gestations_differ_the_plain_days_stay() -> None:
    told = _expected(date(2026, 5, 1), Run((1,), IN, OUT))
    assert (told.first_due, told.last_due) == (date(2027, 1, 18), date(2027, 1, 20))
    assert told.watch == (date(2026, 12, 29), date(2027, 2, 5))
    assert told.expected == date(2027, 1, 19)
    assert told.hardly
    assert _expected(date(2026, 12, 28), Run((1,), IN, OUT)).stage is Stage.NOT_DUE
    assert _expected(date(2026, 12, 29), Run((1,), IN, OUT)).stage is Stage.CLOSE_UP


def test_a_season_a_service_or_a_check_makes_it_more_than_hardly() -> None:
    brief, season = Run((1,), IN, OUT), Run((1,), date(2026, 6, 1), date(2026, 8, 2))
    assert not _expected(date(2026, 7, 1), brief, season).hardly
    assert not _expected(date(2026, 5, 1), brief, services=(Service(date(2026, 4, 11)),)).hardly
    assert not _expected(date(2026, 6, 1), brief, checks=(Check(date(2026, 5, 20), "pregnant"),)).hardly
    both = _expected(date(2026, 7, 1), brief, season)
    assert (both.first_due, both.last_due) == (date(2027, 1, 18), date(2027, 5, 12))
    assert both.watch == (date(2026, 12, 29), date(2027, 5, 12))
    alone = _expected(date(2026, 7, 1), season)
    assert (alone.watch, alone.brief) == ((alone.first_due, alone.last_due), None)
