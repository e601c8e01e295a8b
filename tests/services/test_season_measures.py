"""What each season gave, read from a book that was filled through the commands."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from herdbook.husbandry.seasonmeasures import Share, Starts
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.happenings import CheckPregnancy, Leave, Lose, Serve, Wean, Weigh
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.season_measures import SeasonOfGroup, season_measures
from tests.services.conftest import Herd

IN, OUT = date(2025, 6, 1), date(2025, 8, 2)
CHECKED = date(2025, 9, 10)
LATER = date(2026, 12, 1)


@pytest.fixture
def season(empty: Herd) -> Herd:
    """Return a herd of five cows and two heifers with one bull, each with a fate of her own.

    Eden calved and reared hers, Lune lost hers before weaning, Kent had twins of which one was born dead, Wye
    was open and sold, Tamar was sold in calf, Nith (heifer) calved late and has hers at foot, Esk (heifer)
    aborted.
    """
    h = empty
    h.do(ChangeSetting("gestation_days", 283))
    h.add("B1", "M", date(2021, 3, 1), name="Cheviot")
    for tag in ("Eden", "Lune", "Kent", "Wye", "Tamar"):
        h.add(tag, "F", date(2019, 3, 1), calved_before=True)
    for tag in ("Nith", "Esk"):
        h.add(tag, "F", date(2024, 3, 1))
    for tag, day in (("Eden", date(2025, 3, 10)), ("Lune", date(2025, 4, 1))):
        h.calve(tag, day, f"25/{tag}")
    females = tuple(h.id[tag] for tag in ("Eden", "Lune", "Kent", "Wye", "Tamar", "Nith", "Esk"))
    h.do(TurnIn((h.id["B1"],), females, IN, OUT, name="Season 2025"))
    for tag in ("Eden", "Lune", "Kent", "Tamar", "Nith", "Esk"):
        h.do(CheckPregnancy(h.id[tag], CHECKED, result="pregnant", method="scan"))
    h.do(CheckPregnancy(h.id["Wye"], CHECKED, result="open", method="scan"))
    h.do(Leave(h.id["Wye"], date(2025, 10, 1), departure_kind="sold"))
    h.do(Leave(h.id["Tamar"], date(2025, 11, 1), departure_kind="sold"))
    h.do(Lose(h.id["Esk"], date(2025, 12, 1)))
    h.calve("Eden", date(2026, 3, 5), "26/1")
    h.calve("Lune", date(2026, 3, 20), "26/2")
    twins = (NewCalf("F", "26/3", 30.0), NewCalf("M", "26/4", fate="stillborn"))
    h.id["26/3"], h.id["26/4"] = h.do(RecordBirth(h.id["Kent"], date(2026, 4, 2), twins))
    h.calve("Nith", date(2026, 5, 20), "26/5")
    h.do(Leave(h.id["26/2"], date(2026, 4, 15), departure_kind="died"))
    for tag, kg in (("26/1", 240.0), ("26/3", 200.0)):
        h.do(Weigh(h.id[tag], date(2026, 10, 1), kg=kg))
        h.do(Wean(h.id[tag], date(2026, 10, 1)))
    return h


def measured(h: Herd, on: date = LATER, **named: Any) -> list[SeasonOfGroup]:
    """Return every season."""
    found: list[SeasonOfGroup] = h.ask(season_measures, on=on, **named)
    return found


def test_each_fate_counts_where_it_belongs(season: Herd) -> None:
    (found,) = measured(season)
    rates = found.rates
    assert (rates.exposed, rates.left, rates.whole) == (7, 1, 6)
    assert rates.pregnancy == Share(5, 6)
    assert rates.loss == Share(1, 5)
    assert rates.calving == Share(5, 6)
    assert rates.live == Share(4, 6)
    assert rates.deaths_of_born == Share(2, 5)
    assert rates.deaths == Share(2, 6)
    assert rates.weaning == Share(2, 6)
    assert (rates.in_calf, rates.not_known, rates.at_foot) == (0, 0, 1)
    assert (rates.weighed, rates.weaned_kg) == (2, 220.0)
    assert rates.kg_per_exposed == pytest.approx(220.0 * 2 / 6)


def test_calvings_by_period_with_first_calvers_apart(season: Herd) -> None:
    """From 11 March 2026, 283 days after bull in: the calf of the 5th joins the first period."""
    (found,) = measured(season)
    assert found.starts == date(2026, 3, 11)
    assert [(p.calved, p.of) for p in found.cows] == [(2, 3), (1, 3)]
    assert [p.calved for p in found.first_calvers] == [0, 0, 0, 1]
    assert found.first_age is not None
    assert (found.first_age.n, found.first_age.mean) == (1, (date(2026, 5, 20) - date(2024, 3, 1)).days)


def test_the_rule_is_a_setting_and_can_be_asked_for(season: Herd) -> None:
    assert measured(season, rule=Starts.AFTER_285)[0].starts == date(2026, 3, 13)
    season.do(ChangeSetting("calving_starts", "third"))
    assert measured(season)[0].starts == date(2026, 4, 2)
    # Until the third mature cow has calved nothing is told of periods.
    (early,) = measured(season, on=date(2026, 3, 25))
    assert (early.starts, early.cows) == (None, ())


def test_days_between_calvings(season: Herd) -> None:
    """Eden 360 days, Lune 353; Kent's earlier calvings are not in the book."""
    (found,) = measured(season)
    assert found.interval is not None
    assert (found.interval.n, found.interval.least, found.interval.most) == (2, 353, 360)
    assert found.open_days is not None
    assert (found.open_days.least, found.open_days.most) == (353 - 283, 360 - 283)


def test_what_was_not_known_on_a_day_is_not_told_of_it(season: Herd) -> None:
    (early,) = measured(season, on=date(2025, 9, 20))
    rates = early.rates
    assert (rates.whole, rates.pregnancy, rates.in_calf) == (7, Share(6, 7), 6)
    assert (rates.calving.n, rates.loss.n, rates.weaning.n) == (0, 0, 0)
    assert measured(season, on=date(2025, 5, 1)) == []


def test_a_cow_found_open_and_put_to_a_bull_again_counts_in_both(season: Herd) -> None:
    """She is open in the one and rolled into the other; her long interval is left out and told."""
    h = season
    h.add("Bora", "F", date(2018, 3, 1))
    h.calve("Bora", date(2025, 3, 1), "25/B")
    h.do(TurnIn((h.id["B1"],), (h.id["Bora"],), date(2025, 6, 2), date(2025, 8, 1), name="Second"))
    h.do(CheckPregnancy(h.id["Bora"], CHECKED, result="open", method="scan"))
    h.do(TurnIn((h.id["B1"],), (h.id["Bora"],), date(2025, 11, 1), date(2025, 12, 20), name="Autumn"))
    h.calve("Bora", date(2026, 8, 20), "26/B")
    by_name = {row.run.name: row for row in measured(h) if row.run}
    second, autumn = by_name["Second"], by_name["Autumn"]
    assert (second.rates.pregnancy, second.rolled_in) == (Share(0, 1), 0)
    assert (autumn.rates.pregnancy, autumn.rolled_in) == (Share(1, 1), 1)
    assert (autumn.interval, autumn.open_years, autumn.shared) == (None, 1, 0)


def test_a_cow_with_two_runs_in_one_time_counts_in_both_and_that_is_told(empty: Herd) -> None:
    h = empty
    for bull in ("B1", "B2"):
        h.add(bull, "M", date(2021, 3, 1))
    for cow in ("Eden", "Lune"):
        h.add(cow, "F", date(2019, 3, 1), calved_before=True)
    h.do(TurnIn((h.id["B1"],), (h.id["Eden"], h.id["Lune"]), IN, date(2025, 6, 30)))
    h.do(TurnIn((h.id["B2"],), (h.id["Eden"],), date(2025, 7, 1), OUT))
    h.calve("Eden", date(2026, 3, 20), "26/1")
    second, first = measured(h)
    assert (first.rates.exposed, first.shared, first.starts) == (2, 1, IN + timedelta(days=283))
    assert (second.rates.exposed, second.shared) == (1, 1)
    assert second.starts == date(2025, 7, 1) + timedelta(days=283)
    assert first.rates.calving.n == second.rates.calving.n == 1
    assert not first.first_calvers  # the keeper said that she had calved before


def test_females_served_without_a_run_are_a_group(empty: Herd) -> None:
    """And one that was served before the bull went in begins his season by her service."""
    h = empty
    h.add("B1", "M", date(2021, 3, 1))
    for cow in ("Eden", "Lune", "Kent"):
        h.add(cow, "F", date(2019, 3, 1), calved_before=True)
    h.do(Serve(h.id["Eden"], date(2024, 6, 1)))
    h.do(Serve(h.id["Lune"], date(2024, 6, 20)))
    h.do(CheckPregnancy(h.id["Lune"], date(2024, 9, 1), result="open"))
    h.calve("Eden", date(2025, 3, 10), "25/1")
    h.do(Serve(h.id["Eden"], date(2025, 5, 20), how="ai"))
    h.do(TurnIn((h.id["B1"],), (h.id["Eden"], h.id["Kent"]), date(2025, 6, 3), OUT))
    with_bull, served = measured(h, on=date(2025, 9, 1))
    assert (served.run, served.first, served.last) == (None, date(2024, 6, 1), date(2024, 6, 20))
    assert (served.rates.exposed, served.rates.calving) == (2, Share(1, 2))
    assert (with_bull.first, with_bull.rates.exposed) == (date(2025, 5, 20), 2)
    assert with_bull.starts == date(2025, 5, 20) + timedelta(days=283)
