"""The forecast: published rows, keepers' situations, and cows played by other code (full counts in bench)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.calvingforecast import BAND, Forecast, ForecastRules, forecast
from herdbook.husbandry.conceiving import Awaited, Bred, Company, Stretch
from herdbook.husbandry.duedates import due_date
from herdbook.husbandry.gestation import Check
from tests.husbandry.cows_played import BULL_IN, BULL_OUT, KINDS, TRUE, Kind, bull_run, one_service
from tests.husbandry.forecasts_judged import bands, weeks
from tests.published.trade import DUE_BY_DAYS, SERVICE_TO_DUE

DAY = timedelta(days=1)
RUN = (Company(BULL_IN, BULL_OUT),)


def one(female: Awaited, on: date) -> Forecast:
    (told,) = forecast([female], on)
    return told


def served(day: date, **more: object) -> Awaited:
    return Awaited(services=(Bred(day),), **more)  # type: ignore[arg-type]


# -- the plain table --


@pytest.mark.parametrize(("service", "due"), SERVICE_TO_DUE)
def test_one_service_is_likeliest_on_the_plain_day(service: str, due: str) -> None:
    day = date.fromisoformat(service)
    told = one(served(day), day + 100 * DAY)
    assert told.likeliest == date.fromisoformat(due) == due_date(day)
    assert told.band is not None
    assert told.band[0] <= told.likeliest <= told.band[1]


@pytest.mark.parametrize(("days", "due"), DUE_BY_DAYS)
def test_and_by_breed(days: int, due: str) -> None:
    day = date(2025, 6, 15)
    assert one(Awaited(services=(Bred(day, days),)), day).likeliest == date.fromisoformat(due)


# -- situations that keepers meet --


def test_an_embryo_counts_from_its_age() -> None:
    """Day-7 embryo on 2026-06-10: due 2027-03-13, the transfer and 276 days (a breed society's page)."""
    told = one(Awaited(services=(Bred(date(2026, 6, 3), embryo=True),)), date(2026, 9, 1))
    assert told.likeliest == date(2027, 3, 13)


def test_twins_are_sooner_and_less_sure() -> None:
    """276.1 against 283.1 days: USDA research herd."""
    plain = one(served(BULL_IN), date(2026, 9, 2))
    twins = one(served(BULL_IN, checks=(Check(date(2026, 9, 1), "multiple"),)), date(2026, 9, 2))
    assert plain.likeliest is not None
    assert twins.likeliest == plain.likeliest - 7 * DAY
    assert twins.band is not None
    assert plain.band is not None
    assert twins.band[1] - twins.band[0] > plain.band[1] - plain.band[0]


def test_75_days_in_calf_is_a_window() -> None:
    """75 d on 2026-09-01: conceived 18 June, due 2027-03-28, more or less what grows with the stage."""
    told = one(Awaited(runs=RUN, checks=(Check(date(2026, 9, 1), "pregnant", 75),)), date(2026, 9, 2))
    assert told.likeliest == date(2027, 3, 28)
    late = Check(BULL_IN + 17 * DAY + 200 * DAY, "pregnant", 200)
    wide = one(Awaited(runs=RUN, checks=(late,)), date(2027, 1, 20))
    assert told.band is not None
    assert wide.band is not None
    assert wide.band[1] - wide.band[0] > told.band[1] - told.band[0]


def test_a_bull_that_got_in_for_three_days() -> None:
    """10-12 April 2026: births 29 December to 5 February, centre 18-20 January; few hold. Common practice."""
    told = one(Awaited(runs=(Company(date(2026, 4, 10), date(2026, 4, 12)),)), date(2026, 6, 1))
    assert told.likeliest is not None
    assert date(2027, 1, 18) <= told.likeliest <= date(2027, 1, 20)
    assert told.first is not None
    assert told.last is not None
    assert date(2026, 12, 29) <= told.first < told.last <= date(2027, 2, 5)
    assert 0.85 < told.not_in_calf < 0.95


def test_long_past_her_day_is_no_finding() -> None:
    """AI 2026-05-20, no calf on 2027-03-10: 294 days, normal for about 4 %; never called open."""
    told = one(served(date(2026, 5, 20)), date(2027, 3, 10))
    assert told.first == told.likeliest == date(2027, 3, 10), "what is past is past"
    assert 0.9 < told.not_in_calf < 1.0
    # Found in calf, the same day speaks for a calf to come.
    scan = Check(date(2026, 7, 20), "pregnant", method="scan")
    found = one(served(date(2026, 5, 20), checks=(scan,)), date(2027, 3, 10))
    assert found.not_in_calf < 0.6
    # With a bull after it, a cycle later is what is likely.
    later = one(
        Awaited(services=(Bred(date(2026, 5, 20)),), runs=(Company(date(2026, 6, 3), date(2026, 7, 20)),)),
        date(2027, 3, 10),
    )
    assert later.likeliest is not None
    assert abs((later.likeliest - date(2027, 3, 20)).days) <= 3
    assert later.not_in_calf < 0.2


def test_two_services_a_cycle_apart() -> None:
    """A return to heat is evidence that the first failed, and leaves it possible."""
    told = one(Awaited(services=(Bred(BULL_IN), Bred(BULL_IN + 21 * DAY))), BULL_IN + 60 * DAY)
    assert told.likeliest == due_date(BULL_IN + 21 * DAY)
    on_the_first = told.daily[(due_date(BULL_IN) - told.begins).days]  # type: ignore[operator]
    assert 0.01 < on_the_first / told.daily.max() < 0.3


def test_a_gap_between_bulls_covers_nobody() -> None:
    """Hurt on 5 July, the next in on 9 July: none of the calves is conceived between."""
    runs = (Company(BULL_IN, date(2026, 7, 5)), Company(date(2026, 7, 9), BULL_OUT))
    sharp = [replace(Awaited(runs=each), sd=0.1) for each in (runs, RUN)]
    gap, whole = forecast(sharp, date(2026, 9, 1))
    days = [(due_date(date(2026, 7, 6) + n * DAY) - gap.begins).days for n in range(3)]  # type: ignore[operator]
    assert gap.daily[days].max() < 1e-6
    assert whole.daily[days].min() > 0.001


def test_open_leaves_what_was_too_young_to_be_found() -> None:
    check = Check(date(2026, 8, 10), "open", method="scan")
    told = one(Awaited(runs=RUN, checks=(check,)), date(2026, 8, 11))
    assert told.band is not None
    assert told.band[1] > due_date(check.day - 25 * DAY)
    after = one(
        Awaited(runs=RUN, checks=(Check(date(2026, 10, 1), "open", method="scan"),)), date(2026, 10, 2)
    )
    assert told.not_in_calf < after.not_in_calf < 1.0
    # By hand a calf is found later: the same answer tells less.
    by_hand = one(Awaited(runs=RUN, checks=(replace(check, method="hand"),)), date(2026, 8, 11))
    assert by_hand.not_in_calf < told.not_in_calf


def test_a_check_that_fits_nothing_on_record_speaks_for_a_bull_unrecorded() -> None:
    """Found 150 days in calf after a bull that came 92 days ago."""
    check = Check(date(2026, 9, 1), "pregnant", 150, method="hand")
    told = one(Awaited(runs=RUN, checks=(check,)), date(2026, 9, 2))
    assert told.likeliest is not None
    assert abs((told.likeliest - due_date(date(2026, 4, 4))).days) <= 15
    alone = one(Awaited(checks=(check,)), date(2026, 9, 2))
    assert alone.likeliest is not None
    assert abs((alone.likeliest - due_date(date(2026, 4, 4))).days) <= 2


def test_a_seller_s_word_alone() -> None:
    told = one(Awaited(stretches=(Stretch(BULL_IN, BULL_IN + 30 * DAY, 0.9),)), date(2026, 10, 1))
    assert told.not_in_calf == pytest.approx(0.1 + 0.9 * 0.02)
    assert told.likeliest is not None
    assert due_date(BULL_IN) <= told.likeliest <= due_date(BULL_IN + 30 * DAY)


def test_a_bull_calf_is_carried_longer_and_a_first_calver_shorter() -> None:
    def middle(**more: object) -> float:
        told = one(served(BULL_IN, **more), BULL_IN)
        return (
            float(np.average(np.arange(len(told.daily)), weights=told.daily)) + (told.begins - BULL_IN).days
        )  # type: ignore[operator]

    assert middle(calf_sex="M") - middle(calf_sex="F") == pytest.approx(1.5, abs=0.01)
    assert middle() - middle(calvings=0) == pytest.approx(2.0, abs=0.01)


# -- what always holds --


def test_a_run_that_goes_on_is_judged_as_of_today() -> None:
    early, late = (one(Awaited(runs=RUN), day) for day in (BULL_IN + 5 * DAY, BULL_OUT))
    assert early.not_in_calf > 0.8
    assert early.band == late.band
    assert late.not_in_calf < 0.08


def test_nothing_left_is_told_as_nothing() -> None:
    told = one(served(BULL_IN), BULL_IN + 400 * DAY)
    assert told.band is None
    assert told.likeliest is None
    assert told.within_14 == 0.0
    with pytest.raises(ValueError, match="nothing"):
        forecast([Awaited()], BULL_IN)


@st.composite
def awaited(draw: st.DrawFn) -> Awaited:
    days = st.integers(0, 80).map(lambda n: BULL_IN + n * DAY)
    services = tuple(
        Bred(day, draw(st.sampled_from([281.0, 283.4]))) for day in draw(st.lists(days, max_size=3))
    )
    run = draw(days)
    checks = tuple(
        Check(day + 60 * DAY, *told)
        for day in draw(st.lists(days, max_size=2))
        for told in [
            draw(st.sampled_from([("pregnant", 50), ("pregnant", None), ("open", None), ("multiple", None)]))
        ]
    )
    return Awaited(
        services=services,
        runs=(Company(run, run + draw(st.integers(0, 60)) * DAY, 289.0),),
        heats=tuple(draw(st.lists(days, max_size=2))),
        checks=checks,
        calved=draw(st.none() | days.map(lambda day: day - 70 * DAY)),
        calvings=draw(st.integers(0, 3)),
    )  # fmt: skip


@given(st.lists(awaited(), min_size=1, max_size=5), st.integers(0, 330))
def test_chances_add_up_and_the_band_is_the_shortest(females: list[Awaited], after: int) -> None:
    on = BULL_IN + after * DAY
    for told, female in zip(forecast(females, on), females, strict=True):
        alone = one(female, on)
        assert alone.band == told.band
        assert alone.within_14 == pytest.approx(told.within_14, abs=1e-9)
        assert alone.not_in_calf == pytest.approx(told.not_in_calf, abs=1e-9)
        assert 0.0 <= told.within_1 <= told.within_7 <= told.within_14 <= 1.0
        assert told.not_in_calf + told.within_14 <= 1.0 + 1e-9
        if told.band is None:
            continue
        assert told.begins is not None
        assert told.begins >= on
        share = told.daily / told.daily.sum()
        days = (told.band[1] - told.band[0]).days + 1
        assert told.band_mass >= BAND - 1e-9
        shorter = np.convolve(share, np.ones(days - 1), "full") if days > 1 else np.zeros(1)
        assert shorter.max() < BAND + 1e-6
        assert told.first <= told.likeliest <= told.last  # type: ignore[operator]


# -- honest? --


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_bands_hold_what_they_say(kind: Kind, count: Callable[[int, int], int]) -> None:
    """Of cows played by other code. Four standard errors beside the one point that is wanted."""
    cows = count(1500, 6000)
    found = bands(kind, cows, TRUE, seed=3)
    assert abs(found.held - found.said) < 0.01 + 4 * (0.16 / cows) ** 0.5
    assert BAND <= found.said < BAND + 0.05


@pytest.mark.parametrize("on", [date(2027, 2, 25), date(2027, 3, 12), date(2027, 4, 5)])
def test_bands_of_those_not_calved_by_then(on: date, count: Callable[[int, int], int]) -> None:
    cows = count(1500, 6000)
    found = bands(bull_run, cows, TRUE, 6, on=lambda _: on)
    assert abs(found.held - found.said) < 0.01 + 4 * (0.16 / cows) ** 0.5


@pytest.mark.parametrize("kind", [one_service, bull_run])
def test_chances_of_the_next_week_are_as_the_calves_come(
    kind: Kind, count: Callable[[int, int], int]
) -> None:
    """Chi-square of the weeks; 40 is less likely than 1 in 1,000 with 16 of them."""
    told = weeks(kind, count(600, 3000), TRUE, 2, date(2027, 2, 1), 16)
    assert told.chi_square < 40
    assert sum(told.said) == pytest.approx(sum(told.came), rel=0.1)


def test_a_cow_thought_to_hold_at_every_heat_is_judged_wrong() -> None:
    """The judge can fail: of a herd that settles less, bands of a law that settles all hold too few."""
    sure = ForecastRules(conceiving=replace(ForecastRules().conceiving, per_heat=0.95))
    found = bands(bull_run, 1500, TRUE, 3, rules=sure)
    assert found.held < found.said - 0.06
