"""When a female may have conceived: held against the other laws of the house and against figures by hand."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.calvingspread import Exposed, SpreadRules, WithBull, calving_spread
from herdbook.husbandry.conceiving import (
    RULES,
    Awaited,
    Bred,
    Company,
    ConceivingRules,
    Stretch,
    conceptions,
)
from herdbook.husbandry.paternity import EVERY_CYCLE, Ran, Served, conception_by_day, conception_law
from herdbook.husbandry.settling import settled

IN, OUT = date(2026, 6, 1), date(2026, 8, 2)
DAY = timedelta(days=1)
EXACT = ConceivingRules(returns=EVERY_CYCLE, irregular=0.0)


def law(female: Awaited, rules: ConceivingRules = RULES) -> tuple[dict[date, float], float]:
    """Return one female's chances by day, scaled to 1 together with that of none."""
    found = conceptions([female], rules)
    whole = found.chance.sum() + found.none[0]
    begin = int(found.start[0])
    days = {date.fromordinal(begin + row): c / whole for row, c in enumerate(found.chance[:, 0]) if c > 0}
    return days, float(found.none[0] / whole)


def test_a_service_settles_with_its_chance() -> None:
    # 60-65 % to one service, Kansas State University in the trade press.
    days, none = law(Awaited(services=(Bred(IN),)))
    assert days == pytest.approx({IN: 0.65})
    assert none == pytest.approx(0.35)
    assert law(Awaited(services=(Bred(IN, embryo=True),)))[0] == pytest.approx({IN: 0.55})


def test_a_run_is_the_law_of_sires_by_dates() -> None:
    rules = ConceivingRules(returns=EVERY_CYCLE, cycling=1.0)
    days, _ = law(Awaited(runs=(Company(IN, OUT),)), rules)
    expected = conception_by_day(IN, OUT, rules.per_heat)
    assert [days[IN + row * DAY] for row in range(len(expected))] == pytest.approx(expected.tolist())


def test_a_service_and_a_bull_after_it_are_the_law_of_sires_by_dates() -> None:
    ours, _ = law(Awaited(services=(Bred(IN),), runs=(Company(IN + 14 * DAY, OUT),)))
    theirs = conception_law([Served("AI", IN), Ran(("bull",), IN + 14 * DAY, OUT)])
    assert ours == pytest.approx({day: chance for (day, _), chance in theirs.items()})


@given(st.lists(st.tuples(st.integers(0, 90), st.integers(0, 40)), min_size=1, max_size=4))
def test_as_many_settle_as_the_season_expects(spans: list[tuple[int, int]]) -> None:
    runs = tuple(Company(IN + first * DAY, IN + (first + length) * DAY) for first, length in spans)
    _, none = law(Awaited(runs=runs), EXACT)
    company = [(run.first, run.last) for run in runs]
    assert 1.0 - none == pytest.approx(settled(company, IN + 200 * DAY))


@pytest.mark.parametrize("before", [-10, 0, 25, 45, 70])
def test_after_a_calving_as_the_season_expects(before: int) -> None:
    calved = IN - before * DAY
    days, none = law(Awaited(runs=(Company(IN, OUT),), calved=calved), EXACT)
    spread = calving_spread([Exposed((WithBull(IN, OUT, 283),), calved)], SpreadRules(gestation_sd=0.05))
    assert none == pytest.approx(spread.open)
    expected = {day - 283 * DAY: chance for day, chance in spread.by_day.items() if chance > 1e-12}
    assert days == pytest.approx(expected)


def test_after_a_first_calf_the_first_heat_is_later() -> None:
    # 80-100 days against 50-60: Wiltbank 1970, as cited in PMC7200576.
    calved = IN - 40 * DAY
    run = (Company(IN, OUT),)
    cow, _ = law(Awaited(runs=run, calved=calved))
    first, none = law(Awaited(runs=run, calved=calved, calvings=1))
    assert min(first) == calved + 50 * DAY
    assert min(cow) < min(first)
    assert none > law(Awaited(runs=run, calved=calved))[1]


def test_a_return_lowers_the_service_and_never_removes_it() -> None:
    rules = ConceivingRules(per_heat=0.6, irregular=0.0)
    days, none = law(Awaited(services=(Bred(IN), Bred(IN + 21 * DAY))), rules)
    # In calf and in heat all the same: 0.6 x 0.05; not in calf: 0.4, and of those 0.6 hold now.
    whole = 0.6 * 0.05 + 0.4
    assert days == pytest.approx({IN: 0.03 / whole, IN + 21 * DAY: 0.24 / whole})
    assert none == pytest.approx(0.16 / whole)
    seen, _ = law(Awaited(services=(Bred(IN),), heats=(IN + 21 * DAY,)), rules)
    assert seen == pytest.approx({IN: 0.03 / whole}), "a heat with no bull there"


def test_a_heat_at_no_time_for_one_still_leaves_something() -> None:
    days, none = law(Awaited(services=(Bred(IN),), heats=(IN + 10 * DAY,)))
    assert 0.0 < days[IN] < 0.65
    assert none > 0.35


def test_two_inseminations_of_one_heat_are_one_chance() -> None:
    days, _ = law(Awaited(services=(Bred(IN), Bred(IN + DAY))))
    assert days == pytest.approx({IN: 0.65})


def test_a_heat_seen_in_a_run_puts_the_others_on_their_days() -> None:
    run = (Company(IN, OUT),)
    days, _ = law(Awaited(runs=run, heats=(IN + 30 * DAY,)))
    assert max(days, key=days.__getitem__) == IN + 30 * DAY
    assert days[IN + 51 * DAY] > days[IN + 49 * DAY] > 0.0
    assert IN + 45 * DAY not in days
    assert 0.0 < days[IN + 9 * DAY] < law(Awaited(runs=run))[0][IN + 9 * DAY]


def test_what_a_seller_said_is_spread_over_its_days() -> None:
    days, none = law(Awaited(stretches=(Stretch(IN, IN + 9 * DAY, 0.9),)))
    assert days == pytest.approx({IN + n * DAY: 0.09 for n in range(10)})
    assert none == pytest.approx(0.1)
    soft, _ = law(Awaited(stretches=(Stretch(IN, IN + 9 * DAY, 0.9, soft=5.0),)))
    assert sum(soft.values()) == pytest.approx(0.9)
    assert min(soft) == IN - 15 * DAY


def test_many_at_once_are_as_each_alone() -> None:
    many = [
        Awaited(services=(Bred(IN),)),
        Awaited(runs=(Company(IN, OUT),), calved=IN - 30 * DAY),
        Awaited(
            services=(Bred(IN + 5 * DAY), Bred(IN + 26 * DAY, 281)),
            runs=(Company(IN + 30 * DAY, OUT, 289),),
            heats=(OUT + 10 * DAY,),
        ),
    ]
    together = conceptions(many)
    for column, female in enumerate(many):
        alone = conceptions([female])
        days = len(alone.chance)
        assert together.start[column] == alone.start[0]
        assert np.allclose(together.chance[:days, column], alone.chance[:, 0], atol=1e-15)
        assert np.allclose(together.mean[:days, column], alone.mean[:, 0])
        assert not together.chance[days:, column].any()
        assert together.none[column] == pytest.approx(alone.none[0])


def test_nothing_to_conceive_of_is_refused() -> None:
    with pytest.raises(ValueError, match="nothing"):
        conceptions([Awaited()])
    with pytest.raises(ValueError, match="between 0 and 1"):
        ConceivingRules(per_heat=1.2)
