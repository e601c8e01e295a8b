"""The reasons that the records of the females give for culling them; never an order, a rank or a score."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from sqlalchemy import Connection

from herdbook.husbandry.culling import CullRules, FemaleRecord, LostCalf, cull_reasons
from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import AnimalFacts, Herd
from herdbook.services.queries.exposures import open_after
from herdbook.services.queries.growth import ratios_by_dam
from herdbook.services.settings import BookSettings

SEASON_GAP = 90
"""Days without a calving that part one calving season from the next. Common practice, no source."""


def reasons_to_cull(
    conn: Connection, herd: Herd, expected: Mapping[int, date], on: date, settings: BookSettings
) -> dict[int, tuple[Reason, ...]]:
    """Return the reasons to cull of each female that ever was to breed, where there is one.

    Parameters
    ----------
    expected : mapping of animal to date
        When each that may be in calf is due.
    """
    ratios = ratios_by_dam(conn, on)
    starts = _season_starts(herd, expected)
    rules = CullRules(age_years=settings.cull_age_years)
    found = {}
    for facts in herd.values():
        if facts.sex != "F" or not (facts.has_calved or facts.services or facts.runs or facts.checks):
            continue
        record = _record(facts, expected.get(facts.id), ratios.get(facts.id, ()), starts, on)
        if reasons := cull_reasons(record, on, rules):
            found[facts.id] = reasons
    return found


def _season_starts(herd: Herd, expected: Mapping[int, date]) -> list[date]:
    """Return the first day of each calving season, past and expected: one begins after a gap of 90 days."""
    calved = {calved.day for facts in herd.values() for calved in facts.calvings}
    starts: list[date] = []
    before = None
    for day in sorted(calved | set(expected.values())):
        if before is None or day - before > timedelta(days=SEASON_GAP):
            starts.append(day)
        before = day
    return starts


def _start_before(starts: Sequence[date], day: date | None) -> date | None:
    at = 0 if day is None else bisect_right(starts, day)
    return starts[at - 1] if at else None


def _record(
    facts: AnimalFacts, expected: date | None, ratios: tuple[float, ...], starts: Sequence[date], on: date
) -> FemaleRecord:
    calved = facts.calvings[-1].day if facts.calvings else None
    lost = [LostCalf(day, "aborted") for day in facts.losses[-1:] if calved is None or day > calved]
    if facts.calvings:
        lost += [
            LostCalf(facts.calvings[-1].day, fate)
            for _, _, fate in facts.calvings[-1].calves
            if fate != "alive"
        ]
    return FemaleRecord(
        born=facts.born,
        precision=facts.born_precision,
        open_on=facts.found_open if expected is None else None,
        calved_on=calved,
        season_start=_start_before(starts, calved) or calved,
        expected=expected,
        next_start=_start_before(starts, expected),
        lost=tuple(lost),
        scores=tuple(facts.scores),
        calf_ratios=ratios,
        open_after=open_after(facts, on),
    )
