"""The share of females settled by a day of a bull run, and when heats speak against the bull."""

from __future__ import annotations

import math
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.settling import RULES, SettlingRules, settled, still_in_heat, too_many_heats

IN = date(2026, 6, 6)


def _after(days: int) -> date:
    return IN + timedelta(days=days)


# Goals of an extension beef specialist, North Dakota State University, in a column of the cattle press: bull
# in 6 June, 62 % settled by 27 June (one cycle), 87 % by 18 July (two).
@pytest.mark.parametrize(("by", "share"), [(date(2026, 6, 27), 62), (date(2026, 7, 18), 87)])
def test_the_published_goals(by: date, share: int) -> None:
    assert round(100 * settled([(IN, None)], by)) == share


def test_what_is_left_after_two_and_three_cycles() -> None:
    """About 10 of 100 still in heat after 42 days (same column); 5 % open after 63 (Kansas State)."""
    assert 0.10 <= still_in_heat() <= 0.14
    assert settled([(IN, None)], _after(63)) == pytest.approx(0.95, abs=0.01)


def test_within_a_cycle_it_rises_evenly() -> None:
    """Derived: in 3 of 21 days 3 of 21 of those that cycle are in heat, and 65 % of these hold."""
    assert settled([(IN, None)], IN) == 0.0
    assert settled([(IN, _after(2))], _after(60)) == pytest.approx(3 / 21 * 0.95 * 0.65)
    assert settled([(IN, None)], _after(7)) == pytest.approx(7 / 21 * 0.95 * 0.65)


def test_days_with_no_bull_settle_nobody() -> None:
    """Derived: all cycling, one heat a cycle; three days of gap lose 3 of 21 of the second heats."""
    rules = SettlingRules(cycling=1.0, per_heat=0.5)
    whole = settled([(IN, None)], _after(42), rules)
    with_gap = settled([(IN, _after(23)), (_after(27), None)], _after(42), rules)
    assert whole == pytest.approx(0.75)
    assert with_gap == pytest.approx(0.75 - 3 / 21 * 0.25)
    assert settled([(_after(27), None), (IN, _after(23))], _after(42), rules) == with_gap


@given(
    st.lists(st.tuples(st.integers(0, 90), st.integers(0, 40)), min_size=1, max_size=4), st.integers(0, 130)
)
def test_it_never_falls_and_more_days_never_settle_fewer(spans: list[tuple[int, int]], by: int) -> None:
    company = [(_after(first), _after(first + length)) for first, length in spans]
    here = settled(company, _after(by))
    assert 0.0 <= here <= settled(company, _after(by + 1)) <= 1.0
    begins = min(first for first, _ in company)
    assert here <= settled([(begins, None)], _after(by)) + 1e-12


def test_simulated_females_agree() -> None:
    """Every first heat and every outcome, counted: the law is this and nothing else."""
    company, by = [(IN, _after(29)), (_after(34), _after(70))], _after(60)
    total = 0.0
    for phase in range(42):
        share = (RULES.cycling if phase < 21 else 1 - RULES.cycling) / 21
        open_ = 1.0
        for day in range(phase, 60, 21):
            if any(first <= _after(day) <= last for first, last in company):
                open_ *= 1 - RULES.per_heat
        total += share * (1 - open_)
    assert settled(company, by) == pytest.approx(total)


@pytest.mark.parametrize(("females", "alarm"), [(1, None), (2, 2), (12, 4), (30, 7), (100, 19)])
def test_the_least_number_in_heat_that_raises_the_alarm(females: int, alarm: int | None) -> None:
    """Derived from our own choice: fewer than one herd in ten would show so many if all were well."""
    raised = [seen for seen in range(females + 1) if too_many_heats(females, seen)]
    assert (raised[0] if raised else None) == alarm
    assert raised == list(range(alarm, females + 1) if alarm else [])


def test_the_alarm_is_the_tail_of_the_counts() -> None:
    share, n = still_in_heat(), 12
    for seen in range(2, n + 1):
        tail = sum(math.comb(n, k) * share**k * (1 - share) ** (n - k) for k in range(seen, n + 1))
        assert too_many_heats(n, seen) is (tail < RULES.alarm_chance)


def test_a_large_herd_can_be_asked_about() -> None:
    assert not too_many_heats(20_000, 2_581)
    assert too_many_heats(20_000, 3_000)


def test_figures_set_to_their_ends() -> None:
    assert too_many_heats(12, 2, SettlingRules(cycling=1.0, per_heat=1.0))
    assert not too_many_heats(12, 12, SettlingRules(per_heat=0.0))
    assert settled([(IN, None)], _after(21), SettlingRules(cycling=1.0, per_heat=1.0)) == 1.0
    assert settled([(IN, None)], _after(21), SettlingRules(cycling=0.0)) == 0.0


@pytest.mark.parametrize(("females", "seen"), [(3, 4), (3, -1)])
def test_numbers_that_cannot_be(females: int, seen: int) -> None:
    with pytest.raises(ValueError, match="heat"):
        too_many_heats(females, seen)
