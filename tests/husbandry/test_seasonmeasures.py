"""Calvings by 21 days and the percentages of a season, against published rows."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.exposures import Outcome
from herdbook.husbandry.seasonmeasures import (
    GOAL_CUMULATIVE,
    BornOn,
    Calf,
    Exposed,
    Share,
    Starts,
    calvings_by_period,
    days_open,
    days_summed,
    is_grown,
    season_rates,
    starts_on,
)
from herdbook.husbandry.units import to_kg
from tests.published import seasons
from tests.published.trade import day

C, L, O, N, I = Outcome.CALVED, Outcome.LOST, Outcome.OPEN, Outcome.NOT_KNOWN, Outcome.IN_CALF  # noqa: E741


def test_the_worked_calvings() -> None:
    start = starts_on(Starts.AFTER_283, day(seasons.BULL_IN), ())
    assert start is not None
    found = calvings_by_period([day(text) for text in seasons.CALVINGS], start)
    assert [period.first for period in found] == [day(text) for text in seasons.PERIODS]
    assert [(p.calved, round(100 * p.calved / p.of, 1)) for p in found] == seasons.CALVED
    assert [period.so_far for period in found] == [6, 9, 10, 11]
    assert all((period.last - period.first).days == 20 for period in found)


@pytest.mark.parametrize(("rule", "days", "source"), seasons.RULES)
def test_the_rules_that_count_from_bull_in(rule: str, days: int, source: str) -> None:
    bull_in = date(2023, 6, 1)  # 29 February 2024 lies between
    assert starts_on(Starts(rule), bull_in, ()) == bull_in + timedelta(days=days), source


def test_the_rule_of_the_third_mature_cow() -> None:
    """Heifers and cows under 3 years do not count towards it; two are not enough."""
    calvings = [
        BornOn(date(2026, 3, 1), first=True, grown=False),
        BornOn(date(2026, 3, 9)),
        BornOn(date(2026, 3, 4)),
        BornOn(date(2026, 3, 5), grown=False),
    ]
    assert starts_on(Starts.THIRD_COW, date(2025, 6, 1), calvings) is None
    assert starts_on(Starts.THIRD_COW, date(2025, 6, 1), [*calvings, BornOn(date(2026, 3, 9))]) == date(
        2026, 3, 9
    )


def test_the_sheet_of_a_farm() -> None:
    """Its start is the third calf; what came before joins the first period, and periods without one stand."""
    start = date(2026, 3, 11)
    days = [start - timedelta(days=2)] * seasons.SHEET_BEFORE
    for n, calved in enumerate(seasons.SHEET):
        days += [start + timedelta(days=21 * n + (k * 7) % 21) for k in range(calved)]
    born = sorted(days)
    assert starts_on(Starts.THIRD_COW, date(2025, 6, 1), [BornOn(d) for d in born]) == born[2]
    found = calvings_by_period(days, start)
    assert [period.calved for period in found] == [12, *seasons.SHEET[1:]]
    assert found[-1].so_far == found[-1].of == sum(seasons.SHEET) + 1 == 92


def test_a_period_without_a_calving_stands() -> None:
    start = date(2026, 3, 1)
    found = calvings_by_period([start, start + timedelta(days=42)], start)
    assert [period.calved for period in found] == [1, 0, 1]
    assert calvings_by_period([], start) == ()


@given(st.lists(st.integers(-60, 200), min_size=1, max_size=80))
def test_every_calving_is_in_one_period(offsets: list[int]) -> None:
    start = date(2026, 3, 1)
    days = [start + timedelta(days=n) for n in offsets]
    found = calvings_by_period(days, start)
    for n, period in enumerate(found):
        inside = sum(period.first <= d <= period.last or (n == 0 and d < start) for d in days)
        assert (period.calved, period.of) == (inside, len(days))
    assert found[-1].so_far == len(days)
    assert found[-1].calved > 0 or len(found) == 1


def test_the_goal_adds_up() -> None:
    """Source: KANSAS."""
    assert pytest.approx((0.65, 0.65 + 0.20, 0.65 + 0.20 + 0.10)) == GOAL_CUMULATIVE, seasons.KANSAS


@pytest.mark.parametrize(
    ("born", "first", "grown"),
    [
        (date(2023, 3, 10), False, True),
        (date(2023, 3, 11), False, False),
        (date(2020, 3, 11), True, True),  # late, but no longer young
        (None, True, False),
        (None, False, True),
    ],
)
def test_who_is_a_mature_cow(born: date | None, first: bool, grown: bool) -> None:
    assert is_grown(born, date(2026, 3, 10), first) is grown


# ---------------------------------------------------------------- percentages


def spa_herd() -> list[Exposed]:
    """Return the herd of the worked example."""
    weight = to_kg(seasons.WEANED_LB, "lb")
    weaned = [Calf(weaned=True, weaned_kg=weight)] * 86
    calves = [*weaned, *[Calf(born_dead=True)] * 2, *[Calf(died=True)] * 3]
    return [
        *(Exposed(C, found_in_calf=True, calves=(calf,)) for calf in calves),
        Exposed(L, found_in_calf=True),
        Exposed(O, found_in_calf=True, gone=True),  # misread; found open then, and sold: she stays in
        *[Exposed(O)] * 7,
        *[Exposed(I, found_in_calf=True, gone=True)] * seasons.SOLD_IN_CALF,
    ]


@pytest.mark.parametrize(("measure", "n", "of", "percent"), seasons.SPA_SHARES)
def test_the_worked_percentages(measure: str, n: int, of: int, percent: float) -> None:
    rates = season_rates(spa_herd())
    assert (rates.exposed, rates.left, rates.whole) == (seasons.EXPOSED, seasons.SOLD_IN_CALF, 100)
    share = getattr(rates, measure)
    assert share == Share(n, of)
    assert share.percent == pytest.approx(percent, abs=0.005), seasons.SPA


def test_the_worked_weight_for_each_exposed() -> None:
    rates = season_rates(spa_herd())
    assert rates.kg_per_exposed == pytest.approx(to_kg(seasons.LB_PER_EXPOSED, "lb"), rel=1e-9)
    assert (rates.weighed, rates.at_foot, rates.in_calf, rates.not_known) == (86, 0, 0, 0)


def test_what_is_not_known_yet_is_no_loss() -> None:
    """In calf still, nothing known, at foot: counted apart, and none of it as lost or dead."""
    rates = season_rates([Exposed(I, found_in_calf=True), Exposed(N), Exposed(C, calves=(Calf(),))])
    assert (rates.pregnancy, rates.loss) == (Share(2, 3), Share(0, 2))
    assert (rates.in_calf, rates.not_known, rates.at_foot) == (1, 1, 1)
    assert rates.deaths_of_born == Share(0, 1)
    assert rates.kg_per_exposed is None


def test_who_went_before_it_was_known_is_left_out_and_who_was_open_is_not() -> None:
    gone = [Exposed(outcome, gone=True) for outcome in (N, I, O, L, C)]
    assert season_rates(gone).left == 2


def test_twins_count_as_calves() -> None:
    rates = season_rates([Exposed(C, calves=(Calf(), Calf()))])
    assert rates.calving.percent == 200
    assert rates.twins_above_all
    assert not season_rates(spa_herd()).twins_above_all


def test_of_nobody_there_is_no_percentage() -> None:
    rates = season_rates([])
    assert rates.pregnancy.percent is rates.weaning.percent is rates.deaths_of_born.percent is None


def test_mean_weight_is_of_those_weighed_only() -> None:
    calves = (Calf(weaned=True, weaned_kg=200.0),), (Calf(weaned=True),)
    rates = season_rates([Exposed(C, calves=c) for c in calves])
    assert (rates.weighed, rates.weaned_kg, rates.kg_per_exposed) == (1, 200.0, 200.0)


# ---------------------------------------------------------------- days


@pytest.mark.parametrize(("before", "calved", "days"), seasons.INTERVALS)
def test_days_from_calving_to_calving(before: str, calved: str, days: int) -> None:
    """Open for so many days less a gestation: at 365 days and 283 that is 82."""
    assert (day(calved) - day(before)).days == days
    assert days_open(day(before), day(calved), 283) == days - 283


def test_days_open_are_never_below_none() -> None:
    assert days_open(date(2025, 1, 1), date(2025, 9, 20), 283) == 0
    assert days_open(date(2025, 3, 15), date(2026, 3, 15), 283) == 82


def test_days_summed() -> None:
    found = days_summed([360, 366, 398])
    assert found is not None
    assert (found.n, round(found.mean, 2), found.least, found.most) == (3, 374.67, 360, 398)
    assert days_summed([]) is None
