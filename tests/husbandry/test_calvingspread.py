"""The calvings to be expected of a season's plan, held to printed shares and to the program's other laws."""

from __future__ import annotations

import math
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.calvingspread import (
    CalvingSpread,
    Exposed,
    Period,
    SpreadRules,
    WithBull,
    calving_spread,
)
from herdbook.husbandry.paternity import conception_by_day
from herdbook.husbandry.settling import settled

IN, OUT = date(2025, 6, 1), date(2025, 8, 2)
"""63 days, first and last counted: three whole cycles."""
NO_SPREAD = SpreadRules(gestation_sd=0.05, cycling=1.0)
"""Each calf on its very day, and everyone cycling: what is left is the law of conception."""


def cycling(n: int = 1, first: date = IN, last: date = OUT, gestation: int = 283) -> list[Exposed]:
    return [Exposed((WithBull(first, last, gestation),))] * n


def by_day(spread: CalvingSpread) -> dict[date, float]:
    return dict(spread.by_day)


@pytest.mark.parametrize(
    ("chance", "cycles", "share"),
    [
        (0.60, 1, 0.600), (0.60, 2, 0.840), (0.60, 3, 0.936),
        (0.65, 1, 0.650), (0.65, 2, 0.878), (0.65, 3, 0.957),
    ],
)  # fmt: skip
def test_whole_cycles(chance: float, cycles: int, share: float) -> None:
    """1 - (1 - p)^k of cycling cows after k whole cycles: plain arithmetic, from no source."""
    last = IN + timedelta(days=21 * cycles - 1)
    spread = calving_spread(cycling(100, last=last), SpreadRules(per_heat=chance, cycling=1.0))
    assert spread.calving == pytest.approx(100 * share, abs=0.06)
    assert spread.open == pytest.approx(100 * (1 - chance) ** cycles)


def test_the_goals_of_an_extension_specialist() -> None:
    """62 % settled one cycle after bull in, 87 % after two: North Dakota State University, see `settling`."""
    for cycles, share in ((1, 0.62), (2, 0.87)):
        last = IN + timedelta(days=21 * cycles - 1)
        assert calving_spread(cycling(last=last)).calving == pytest.approx(share, abs=0.005)


def test_the_published_shares_of_the_21_day_periods_lie_about_it() -> None:
    """65 % in the first 21 days, 20 % and 10 % in the next, 5 % open: Kansas State, in the trade press.

    The law gives 62, 25, 9 and 5 of 100, if each calf comes on its very day; the periods begin 283 days after
    bull in (University of Missouri Extension).
    """
    spread = calving_spread(cycling(100), SpreadRules(gestation_sd=0.05))
    periods = spread.periods(IN + timedelta(days=283), 21)
    assert [period.first for period in periods] == [date(2026, 3, 11), date(2026, 4, 1), date(2026, 4, 22)]
    shares = [*(period.expected for period in periods), spread.open]
    assert [round(share) for share in shares] == [62, 25, 9, 5]
    assert all(abs(ours - theirs) < 6 for ours, theirs in zip(shares, (65, 20, 10, 5), strict=True))


def test_the_same_law_as_whose_calf_it_is() -> None:
    """A cycling female conceives as `paternity.conception_by_day` says, day by day."""
    spread = by_day(calving_spread(cycling(), NO_SPREAD))
    law = conception_by_day(IN, OUT, NO_SPREAD.per_heat)
    ours = [spread.get(IN + timedelta(days=283 + n), 0.0) for n in range(len(law))]
    assert np.allclose(ours, law, atol=1e-12)


@given(gap=st.integers(1, 70), first=st.integers(1, 50), second=st.integers(1, 50))
def test_two_bulls_with_days_between_them_settle_as_the_other_law_says(
    gap: int, first: int, second: int
) -> None:
    """Days with no bull settle nobody: held to `settling.settled`, which goes through the 21 phases."""
    one = WithBull(IN, IN + timedelta(days=first - 1), 283)
    begins = one.last + timedelta(days=gap + 1)
    two = WithBull(begins, begins + timedelta(days=second - 1), 283)
    share = settled([(b.first, b.last) for b in (one, two)], two.last + timedelta(days=1))
    assert calving_spread([Exposed((one, two))]).calving == pytest.approx(share)


def test_she_is_in_heat_20_to_60_days_after_calving() -> None:
    """Merck/MSD Veterinary Manual: calved on 1 June she has no heat before 21 June and one by 31 July."""
    spread = by_day(calving_spread([Exposed((WithBull(IN, OUT, 283),), IN)], NO_SPREAD))
    conceived = {day - timedelta(days=283): chance for day, chance in spread.items() if chance > 1e-12}
    assert min(conceived) == date(2025, 6, 21)
    first_cycle = [conceived[date(2025, 6, 21) + timedelta(days=n)] for n in range(21)]
    assert first_cycle == pytest.approx([0.65 / 41] * 21)
    assert conceived[date(2025, 7, 12)] == pytest.approx(0.65 / 41 * 1.35), "her first heat, or a return"


def test_a_calving_long_past_is_a_cycling_cow_and_one_too_late_gives_nothing() -> None:
    """60 days before the bull every cow has been in heat; 20 days before he leaves none has."""
    bull = (WithBull(IN, OUT, 283),)
    long_past = calving_spread([Exposed(bull, IN - timedelta(days=61))])
    assert by_day(long_past) == pytest.approx(by_day(calving_spread(cycling())))
    late = calving_spread([Exposed(bull, OUT - timedelta(days=19))])
    assert (late.calving, late.open) == (0.0, 1.0)
    between = calving_spread([Exposed(bull, IN)])
    assert 0 < between.calving < long_past.calving


def test_bulls_together_share_a_heat_and_its_gestation() -> None:
    """Two bulls settle no more than one; half the calves are carried for the days of each."""
    both = (WithBull(IN, OUT, 280), WithBull(IN, OUT, 290))
    spread = calving_spread([Exposed(both)], NO_SPREAD)
    assert spread.calving == pytest.approx(calving_spread(cycling(), NO_SPREAD).calving)
    days = by_day(spread)
    assert days[IN + timedelta(days=280)] == pytest.approx(days[IN + timedelta(days=281)])
    early = sum(c for d, c in days.items() if d < IN + timedelta(days=290))
    assert early < spread.calving / 2
    assert sum((d - IN).days * c for d, c in days.items()) / spread.calving == pytest.approx(
        285 + float(np.average(np.arange(63), weights=conception_by_day(IN, OUT, NO_SPREAD.per_heat)))
    )


def test_gestation_spreads_about_its_mean() -> None:
    """One day with the bull: the calves come about day 283 with a standard deviation of 6 days."""
    spread = calving_spread(cycling(1, last=IN))
    days = [(day - IN).days for day in spread.by_day]
    shares = [chance / spread.calving for chance in spread.by_day.values()]
    mean = sum(d * s for d, s in zip(days, shares, strict=True))
    variance = sum((d - mean) ** 2 * s for d, s in zip(days, shares, strict=True))
    assert mean == pytest.approx(283)
    assert math.sqrt(variance) == pytest.approx(6.0, abs=0.02)
    assert (min(days), max(days)) == (259, 307)
    assert spread.day_by(0.5) == IN + timedelta(days=283)


@given(
    st.lists(
        st.tuples(st.integers(0, 80), st.integers(1, 90), st.one_of(st.none(), st.integers(-150, 120))),
        max_size=6,
    ),
    st.integers(-40, 40),
    st.integers(1, 30),
    st.floats(0, 1),
)
def test_everyone_is_accounted_for(
    asked: list[tuple[int, int, int | None]], begins: int, length: int, least: float
) -> None:
    """Calvings and open ones make up the females; periods leave out nothing and follow on each other."""
    females = [
        Exposed(
            (WithBull(IN + timedelta(days=at), IN + timedelta(days=at + n), 280 + n % 7),),
            None if calved is None else IN + timedelta(days=calved),
        )
        for at, n, calved in asked
    ]
    spread = calving_spread(females)
    assert spread.females == len(females)
    assert spread.calving + spread.open == pytest.approx(len(females))
    assert all(chance >= 0 for chance in spread.by_day.values())
    assert list(spread.by_day) == sorted(spread.by_day)
    periods = spread.periods(IN + timedelta(days=283 + begins), length, least)
    assert math.fsum(period.expected for period in periods) == pytest.approx(spread.calving)
    assert all(b.first == a.last + timedelta(days=1) for a, b in pairwise(periods))
    assert len(periods) <= 1 or min(periods[0].expected, periods[-1].expected) >= least


def test_small_ends_are_joined_to_the_next_period() -> None:
    """A tenth of a calf in a week is no week to plan for."""
    first = date(2026, 3, 2)
    spread = CalvingSpread(4, 0.6, {first: 0.1, date(2026, 3, 10): 3.0, date(2026, 3, 20): 0.3})
    assert spread.periods(first, 7, 0.2) == (
        Period(first, date(2026, 3, 15), 3.1),
        Period(date(2026, 3, 16), date(2026, 3, 22), 0.3),
    )
    assert spread.periods(date(2026, 3, 9), 7)[0] == Period(first, date(2026, 3, 15), 3.1)


def test_nobody_and_what_cannot_be() -> None:
    nobody = calving_spread([])
    assert (nobody.females, nobody.calving, nobody.open, nobody.day_by(0.5)) == (0, 0.0, 0.0, None)
    assert nobody.periods(IN, 7) == ()
    with pytest.raises(ValueError, match="last day"):
        WithBull(OUT, IN, 283)
    with pytest.raises(ValueError, match="has a bull"):
        Exposed(())
    with pytest.raises(ValueError, match="at least one day"):
        nobody.periods(IN, 0)
    for wrong in (
        {"per_heat": 1.1},
        {"cycling": -0.1},
        {"cycle": 0},
        {"first_heat": (60, 20)},
        {"gestation_sd": 0.0},
    ):
        with pytest.raises(ValueError, match=r"chance|cycle|spread"):
            SpreadRules(**wrong)  # type: ignore[arg-type]
