"""How a season's calvings are spread, in a book: one farm's sheet under each of the three published rules.

Counts of the sheet by the third calf: 1 before the start, then 11, 2, 33, 28, 9, 5, 1 and 2 in periods of 21
days; rules and the advice to choose one and keep to it: University of Missouri Extension, "Evaluate your
calving distribution", and University of Nebraska Extension, "Calving distribution". The days within each
period, the heifers and the bull's day are ours.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from herdbook.husbandry.seasonmeasures import Starts
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.season_measures import SeasonOfGroup, season_measures
from tests.published.seasons import SHEET
from tests.services.conftest import Herd

THIRD = date(2026, 3, 11)
BULL_IN = THIRD - timedelta(days=283)
ON = date(2026, 12, 1)


@pytest.fixture
def sheet(herd: Herd) -> Herd:
    """Return the farm: one cow calves before the third one's day, the rest by the sheet; two heifers."""
    herd.add("Cheviot", "M", date(2020, 3, 1))
    days = [THIRD - timedelta(days=2)]
    for n, calved in enumerate(SHEET):
        days += [THIRD + timedelta(days=21 * n + 20 * k // max(calved, 2)) for k in range(calved)]
    days[2] = THIRD  # as the second does, so that the third of all calves on the first day
    cows = [f"C{n}" for n in range(len(days))]
    for cow in cows:
        herd.add(cow, "F", date(2019, 3, 1), calved_before=True)
    for heifer in ("H1", "H2"):
        herd.add(heifer, "F", date(2024, 3, 1))
    everyone = tuple(herd.id[tag] for tag in (*cows, "H1", "H2"))
    herd.do(TurnIn((herd.id["Cheviot"],), everyone, BULL_IN, BULL_IN + timedelta(days=170)))
    for cow, day in zip(cows, days, strict=True):
        herd.calve(cow, day, f"26/{cow}", fate="stillborn" if cow == "C5" else "alive")
    for heifer, day in (("H1", THIRD - timedelta(days=9)), ("H2", THIRD + timedelta(days=30))):
        herd.calve(heifer, day, f"26/{heifer}")
    return herd


def _season(herd: Herd, rule: Starts) -> SeasonOfGroup:
    with herd.book.read() as conn:
        (found,) = season_measures(conn, ON, rule)
    return found


@pytest.mark.parametrize("rule", [Starts.THIRD_COW, Starts.AFTER_283])
def test_the_sheet_comes_back(sheet: Herd, rule: Starts) -> None:
    """Early calves join the first period, a calf born dead at term counts, heifers stand apart."""
    found = _season(sheet, rule)
    assert found.starts == THIRD
    assert [period.calved for period in found.cows] == [12, *SHEET[1:]]
    assert {period.of for period in found.cows} == {92}
    assert [(period.calved, period.of) for period in found.first_calvers] == [(1, 2), (1, 2)]


def test_another_rule_another_spread(sheet: Herd) -> None:
    """285 days after bull in the first period begins two days later, and each takes in other calvings."""
    found = _season(sheet, Starts.AFTER_285)
    assert found.starts == THIRD + timedelta(days=2)
    assert [period.calved for period in found.cows] != [12, *SHEET[1:]]
    assert sum(period.calved for period in found.cows) == 92


def test_it_belongs_to_the_group_not_to_the_year(herd: Herd) -> None:
    """A season whose calves come about New Year is one season."""
    herd.add("Cheviot", "M", date(2020, 3, 1))
    for cow in ("Eden", "Lune"):
        herd.add(cow, "F", date(2019, 3, 1), calved_before=True)
    cows = (herd.id["Eden"], herd.id["Lune"])
    herd.do(TurnIn((herd.id["Cheviot"],), cows, date(2025, 3, 10), date(2025, 5, 10)))
    herd.calve("Eden", date(2025, 12, 28), "25/1")
    herd.calve("Lune", date(2026, 1, 3), "26/1")
    found = _season(herd, Starts.AFTER_283)
    assert [(period.first, period.calved) for period in found.cows] == [(date(2025, 12, 18), 2)]
