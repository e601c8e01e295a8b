"""Ready day, clear of medicine, 30-month point, fitness to travel, carcass."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.finishing import (
    Clear,
    Dose,
    Span,
    carcass,
    clear_of_medicine,
    ready_date,
    thirty_months,
    travel_reasons,
)
from herdbook.husbandry.units import from_kg, to_kg
from tests.published import trade
from tests.published.trade import day

ANY_DAY = st.dates(date(1990, 1, 1), date(2090, 12, 31))


def codes(clear: Clear) -> list[str]:
    return [reason.code for reason in clear.reasons]


# ---------------------------------------------------------------- ready


def test_the_ready_day() -> None:
    # Derived: 780 to 1,050 lb at 1.6 lb a day is 168.75, so 169 days.
    ready = ready_date(to_kg(780, "lb"), day("2025-04-15"), to_kg(1050, "lb"), to_kg(1.6, "lb"))
    assert ready == day("2025-10-01")


def test_no_ready_day_without_gain() -> None:
    on = day("2025-04-15")
    assert ready_date(400, on, 500, 0) is None
    assert ready_date(400, on, 500, 1e-9) is None
    assert ready_date(500, on, 500, 0) == on


@given(ANY_DAY, st.floats(100, 700), st.floats(100, 700), st.floats(0.1, 2), st.floats(0.1, 2))
def test_more_gain_is_ready_no_later(on: date, now: float, target: float, slow: float, more: float) -> None:
    first, second = ready_date(now, on, target, slow + more), ready_date(now, on, target, slow)
    assert first is not None
    assert second is not None
    assert on <= first <= second


# ---------------------------------------------------------------- medicine


def test_clear_the_day_after_the_last_dose_and_the_labels_days() -> None:
    # Common practice: 2025-03-01 + 28 days ends on 03-29, the first slaughter day is the next.
    clear = clear_of_medicine([Dose(day("2025-03-01"), 28)])
    assert (clear.day, clear.known, clear.running_to) == (day("2025-03-30"), True, day("2025-03-29"))
    # 14 days from a last dose on 1 August: withdrawn through the 15th.
    assert clear_of_medicine([Dose(day("2026-08-01"), 14)]).day == day("2026-08-16")


def test_a_repeated_dose_restarts_and_of_two_products_the_later_counts() -> None:
    doses = [Dose(day("2026-08-01"), 14, product="A"), Dose(day("2026-08-05"), 14, product="A")]
    assert clear_of_medicine(doses).day == day("2026-08-20")
    doses.append(Dose(day("2026-07-20"), 35, product="B"))
    assert clear_of_medicine(doses).day == day("2026-08-25")
    assert clear_of_medicine(reversed(doses)).day == day("2026-08-25")
    assert codes(clear_of_medicine(doses)) == ["period"] * 3


@pytest.mark.parametrize(("hours", "clear"), [(24, "2026-08-03"), (36, "2026-08-04"), (48, "2026-08-04")])
def test_hours_on_the_label_are_rounded_up_to_days(hours: float, clear: str) -> None:
    assert clear_of_medicine([Dose(day("2026-08-01"), meat_hours=hours)]).day == day(clear)


def test_part_days_are_rounded_up_and_the_longer_period_counts() -> None:
    assert clear_of_medicine([Dose(day("2026-08-01"), 1.5)]).day == day("2026-08-04")
    assert clear_of_medicine([Dose(day("2026-08-01"), 2, 96)]).day == day("2026-08-06")


def test_an_unknown_period_is_never_clear() -> None:
    clear = clear_of_medicine([Dose(day("2026-08-01"), 14), Dose(day("2020-01-01"), product="drench")])
    assert clear.day is None
    assert not clear.known
    assert codes(clear) == ["period", "period_unknown"]
    assert clear.on(day("2026-08-10")) is False  # the known one still runs
    assert clear.on(day("2030-01-01")) is None
    assert "ask" in str(clear.reasons[1])


def test_an_unknown_history_is_never_clear() -> None:
    clear = clear_of_medicine([], history_known=False)
    assert (clear.day, clear.known, codes(clear)) == (None, False, ["history_unknown"])
    assert clear.on(day("2026-08-10")) is None


def test_nought_counts_where_it_was_typed_and_nothing_given_is_clear() -> None:
    assert clear_of_medicine([Dose(day("2026-08-01"), 0)]).day == day("2026-08-02")
    nothing = clear_of_medicine([])
    assert (nothing.day, nothing.known) == (None, True)
    assert nothing.on(day("2026-08-01")) is True


@pytest.mark.parametrize(
    "dose", [Dose(date(2026, 8, 1), -1), Dose(date(2026, 8, 1), 3, -2), Dose(date(2026, 8, 1), 1e400)]
)
def test_a_period_below_nothing_is_refused(dose: Dose) -> None:
    with pytest.raises(ValueError, match="meat period"):
        clear_of_medicine([dose])


DOSES = st.lists(
    st.builds(Dose, ANY_DAY, st.none() | st.floats(0, 90), st.none() | st.floats(0, 500)), max_size=6
)


@given(DOSES, st.booleans())
def test_clear_comes_after_every_period_and_only_if_all_are_known(doses: list[Dose], history: bool) -> None:
    clear = clear_of_medicine(doses, history_known=history)
    unknown = any(dose.meat_days is None and dose.meat_hours is None for dose in doses)
    assert clear.known == (history and not unknown)
    assert (clear.day is not None) == (clear.known and bool(doses))
    if clear.day is None:
        return
    for dose in doses:
        assert clear.day > dose.last
        assert clear.day - dose.last > timedelta(days=dose.meat_days or 0)
        assert clear.day - dose.last > timedelta(hours=dose.meat_hours or 0)
    assert clear.on(clear.day) is True
    assert clear.on(clear.day - timedelta(days=1)) is False


@given(DOSES, ANY_DAY, st.floats(0, 90))
def test_another_dose_never_clears_sooner(doses: list[Dose], last: date, period: float) -> None:
    before, after = clear_of_medicine(doses), clear_of_medicine([*doses, Dose(last, period)])
    assert before.known == after.known
    assert before.day is None or (after.day is not None and after.day >= before.day)


# ---------------------------------------------------------------- age and travel


@pytest.mark.parametrize(("born", "months", "reached"), trade.AGE_POINTS)
def test_age_points(born: str, months: int, reached: str) -> None:
    # Derived: calendar months, a month's end clamped.
    assert thirty_months(day(born), months=months) == day(reached)


def test_the_thirty_month_point_takes_the_oldest_age() -> None:
    assert thirty_months(day("2024-01-01"), "year") == day("2026-07-01")
    assert thirty_months(day("2024-05-01"), "month") == day("2026-11-01")
    assert thirty_months(day("2024-05-01"), "before") is None


def test_fit_to_travel() -> None:
    # SOURCE: Council Regulation (EC) 1/2005: from 90 % of gestation, and the week after calving.
    served = day("2025-06-01")
    assert travel_reasons(day("2026-02-10"), conceived_first=served) == ()
    assert [r.code for r in travel_reasons(day("2026-02-11"), conceived_first=served)] == ["late_in_calf"]
    calved = day("2026-03-11")
    assert [r.code for r in travel_reasons(day("2026-03-18"), calved=calved)] == ["just_calved"]
    assert travel_reasons(day("2026-03-19"), calved=calved) == ()
    assert travel_reasons(day("2026-03-10"), calved=calved) == ()
    assert [r.code for r in travel_reasons(calved, lame=True)] == ["lame"]
    assert travel_reasons(calved) == ()


# ---------------------------------------------------------------- carcass


def test_hanging_and_take_home() -> None:
    # Derived from 53 % and 65 % (both common practice): 1,050 lb live; 350.9 lb after 3 % of shrink.
    meat = carcass(to_kg(1050, "lb"))
    assert from_kg(meat.hanging_kg.usual, "lb") == pytest.approx(556.5)
    assert from_kg(meat.take_home_kg.usual, "lb") == pytest.approx(361.7, abs=0.05)
    chilled = carcass(to_kg(1050, "lb"), shrink=0.03)
    assert from_kg(chilled.take_home_kg.usual, "lb") == pytest.approx(350.9, abs=0.05)
    assert chilled.hanging_kg == meat.hanging_kg


def test_published_dressing() -> None:
    # SOURCE: Mississippi State University P3489: 1,200 lb live, 756 hot, 63 %. Cornell: 708 hot, 59 %.
    assert carcass(1200, Span(0.63, 0.63, 0.63)).hanging_kg.usual == pytest.approx(756)
    by_59 = carcass(1200, Span(0.59, 0.59, 0.59), Span(0.6, 0.6, 0.6))
    assert by_59.hanging_kg.usual == pytest.approx(708)
    assert by_59.take_home_kg.usual == pytest.approx(424.8)


def test_a_carcass_needs_a_weight() -> None:
    with pytest.raises(ValueError, match="more than nothing"):
        carcass(0)


@given(st.floats(50, 1200), st.floats(0, 0.05))
def test_ranges_are_in_order(live: float, shrink: float) -> None:
    meat = carcass(live, shrink=shrink)
    for span in (meat.hanging_kg, meat.take_home_kg):
        assert 0 < span.low < span.usual < span.high < live
