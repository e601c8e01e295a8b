"""What each breeding season gave: calvings by 21 days, percentages with their counts, days between calvings.

A season is a group that was exposed together: a bull run, or the females served near in time without one. A
female that was with the bulls of two runs in one time counts in both, and it is told how many did.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from herdbook.husbandry.duedates import RULES
from herdbook.husbandry.exposures import Exposure, Outcome
from herdbook.husbandry.seasonmeasures import (
    BornOn,
    Calf,
    Days,
    Exposed,
    PeriodCount,
    SeasonRates,
    Starts,
    calvings_by_period,
    days_open,
    days_summed,
    is_grown,
    season_rates,
    starts_on,
)
from herdbook.services.breeds import days_for
from herdbook.services.facts import AnimalFacts, Calved, Herd, load_herd
from herdbook.services.queries.exposures import times_with_bulls
from herdbook.services.queries.runs import RunRow, runs
from herdbook.services.settings import load_settings
from herdbook.store import tables as t

DEAD = ("died", "destroyed", "lost")
"""Departures that are a calf's death; a calf that was sold or went to the butcher did not die."""


@dataclass(frozen=True)
class SeasonOfGroup:
    """What a season gave for one group.

    Parameters
    ----------
    run : RunRow or None
        None of females that were served without a run.
    first, last : date
        The first day with a bull; the last, None while he is in.
    rates : SeasonRates
    shared : int
        Females that were with another run's bulls in the same time.
    rolled_in : int
        Females that had been found open after the time before.
    starts : date or None
        First day of the first 21 days; None where the rule cannot tell it yet.
    cows, first_calvers : tuple of PeriodCount
        Calvings by 21 days from `starts`, each of their own whole.
    interval : Days or None
        From the calving before to this one; of the cows that were found open in between, none.
    open_years : int
        The cows so left out.
    open_days : Days or None
        From the calving before to conception, reckoned back from this calving by gestation.
    first_age : Days or None
        Age in days of the first-calvers whose birth is known to the day.
    """

    run: RunRow | None
    first: date
    last: date | None
    rates: SeasonRates
    shared: int
    rolled_in: int
    starts: date | None
    cows: tuple[PeriodCount, ...]
    first_calvers: tuple[PeriodCount, ...]
    interval: Days | None
    open_years: int
    open_days: Days | None
    first_age: Days | None


@dataclass(frozen=True)
class _Part:
    """A female's time in a group."""

    facts: AnimalFacts
    place: int
    times: tuple[Exposure, ...]

    @property
    def time(self) -> Exposure:
        return self.times[self.place]

    @property
    def calving(self) -> Calved | None:
        """The calving that came of it."""
        if self.time.outcome is not Outcome.CALVED:
            return None
        return next((c for c in self.facts.calvings if c.day == self.time.told), None)

    @property
    def before(self) -> date | None:
        """The calving before that one."""
        return max((c.day for c in self.facts.calvings if c.day < (self.time.told or date.min)), default=None)

    @property
    def first_calver(self) -> bool:
        return self.before is None and not self.facts.calved_before

    @property
    def open_between(self) -> bool:
        """Whether a check found her open since the calving before."""
        since = self.before or date.min
        return any(x.outcome is Outcome.OPEN and x.first > since for x in self.times[: self.place])


def season_measures(conn: Connection, on: date, rule: Starts | None = None) -> list[SeasonOfGroup]:
    """Return what each season that had begun by a day gave, the latest first.

    Parameters
    ----------
    conn : Connection
    on : date
        What came after it is passed over.
    rule : Starts, optional
        When the first 21 days begin; the book's setting if None.
    """
    settings = load_settings(conn)
    rule = rule or Starts(settings.calving_starts)
    begun = runs(conn, last=on)
    herd = load_herd(conn, on, _exposed(conn, begun, on), measured=False)
    times = {facts.id: times_with_bulls(facts, on) for facts in herd.values()}
    groups: list[tuple[RunRow | None, list[_Part]]] = [
        (run, list(_parts_of_run(run, herd, times))) for run in begun
    ]
    in_runs = {(part.facts.id, part.place) for _, parts in groups for part in parts}
    loose = [
        _Part(facts, place, times[facts.id])
        for facts in herd.values()
        for place in range(len(times[facts.id]))
        if (facts.id, place) not in in_runs
    ]
    groups += [(None, parts) for parts in _near_in_time(loose)]
    calves = _fates(conn, (part for _, parts in groups for part in parts), on)
    count: dict[tuple[int, int], int] = defaultdict(int)
    for _, parts in groups:
        for part in parts:
            count[part.facts.id, part.place] += 1
    found = []
    for run, parts in groups:
        alone = [part for part in parts if count[part.facts.id, part.place] == 1]
        missing = len({f.animal for f in run.females} - {p.facts.id for p in parts}) if run else 0
        # A female served before the bull went in began then; one that was with other bulls before did not.
        first = min([part.time.first for part in alone] + ([run.first] if run else []))
        season = _season(run, first, parts, missing, rule, calves, settings.gestation_days)
        found.append(replace(season, shared=len(parts) - len(alone)))
    return sorted(
        (season for season in found if season.rates.exposed), key=lambda season: season.first, reverse=True
    )


def _exposed(conn: Connection, begun: Iterable[RunRow], on: date) -> list[int]:
    """Return every female that was in a run or served."""
    s = t.columns(t.Service)
    served = conn.scalars(select(s.animal_id).where(s.day <= on).distinct())
    return sorted({female.animal for run in begun for female in run.females} | set(served))


def _parts_of_run(run: RunRow, herd: Herd, times: dict[int, tuple[Exposure, ...]]) -> Iterable[_Part]:
    """Yield the time of each of a run's females that it is part of."""
    entered: dict[int, date] = {}
    for female in run.females:
        day = max(female.from_day, run.first)
        entered[female.animal] = min(day, entered.get(female.animal, day))
    for animal, day in entered.items():
        for place, time in enumerate(times.get(animal, ())):
            if time.first <= day <= (time.last or date.max):
                yield _Part(herd[animal], place, times[animal])
                break


def _near_in_time(loose: list[_Part]) -> list[list[_Part]]:
    """Return females served without a run in groups, begun within a season's gap of its first service."""
    groups: list[list[_Part]] = []
    for part in sorted(loose, key=lambda part: (part.time.first, part.facts.tag_key)):
        if groups and (part.time.first - groups[-1][0].time.first).days <= RULES.season_gap_days:
            groups[-1].append(part)
        else:
            groups.append([part])
    return groups


def _season(
    run: RunRow | None,
    first: date,
    parts: Sequence[_Part],
    missing: int,
    rule: Starts,
    calves: dict[int, Calf],
    gestation: int | None,
) -> SeasonOfGroup:
    """Return one group's season; `missing` of its females left before they were ever with its bull."""
    calved = [(part, calving) for part in parts if (calving := part.calving) is not None]
    born = [BornOn(c.day, p.first_calver, is_grown(p.facts.born, c.day, p.first_calver)) for p, c in calved]
    starts = starts_on(rule, first, born)
    again = [(p, before, c.day) for p, c in calved if (before := p.before) is not None]
    yearly = [(p, before, day) for p, before, day in again if not p.open_between]
    apart = [days_open(b, day, days_for(p.facts.breed, None, gestation)) for p, b, day in yearly]
    ages = [
        (c.day - p.facts.born).days
        for p, c in calved
        if p.first_calver and p.facts.born is not None and p.facts.born_precision == "day"
    ]
    never = [Exposed(Outcome.NOT_KNOWN, gone=True)] * missing
    return SeasonOfGroup(
        run=run,
        first=first,
        last=run.last if run else max((p.time.last or p.time.first for p in parts), default=None),
        rates=season_rates([*never, *(_exposed_female(part, calves) for part in parts)]),
        shared=0,
        rolled_in=sum(
            part.place > 0 and part.times[part.place - 1].outcome is Outcome.OPEN for part in parts
        ),
        starts=starts,
        cows=calvings_by_period([b.day for b in born if not b.first], starts) if starts else (),
        first_calvers=calvings_by_period([b.day for b in born if b.first], starts) if starts else (),
        interval=days_summed([(day - before).days for _, before, day in yearly]),
        open_years=len(again) - len(yearly),
        open_days=days_summed(apart),
        first_age=days_summed(ages),
    )


def _exposed_female(part: _Part, calves: dict[int, Calf]) -> Exposed:
    facts, time = part.facts, part.time
    until = part.times[part.place + 1].first if part.place + 1 < len(part.times) else date.max
    found = any(
        check.result in ("pregnant", "multiple") and time.first < check.day < until for check in facts.checks
    )
    calving = part.calving
    born = (
        tuple(calves.get(key, Calf(born_dead=fate == "stillborn")) for key, _, fate in calving.calves)
        if (calving)
        else ()
    )
    return Exposed(time.outcome, found, facts.here_since is None, born)


def _fates(conn: Connection, parts: Iterable[_Part], on: date) -> dict[int, Calf]:
    """Return what became by a day of the calves born of these times."""
    fates = {key: fate for part in parts if (calving := part.calving) for key, _, fate in calving.calves}
    weaned: dict[int, date] = {}
    kg: dict[int, float] = {}
    w, x, d = t.columns(t.Weaning), t.columns(t.Weighing), t.columns(t.Departure)
    keys: Any = list(fates)
    for calf, day in conn.execute(select(w.animal_id, w.day).where(w.animal_id.in_(keys), w.day <= on)):
        weaned[calf] = min(day, weaned.get(calf, day))
    query = select(x.animal_id, x.day, x.kg, x.stage).where(x.animal_id.in_(keys), x.day <= on)
    for calf, day, weight, stage in conn.execute(query.order_by(x.day, x.id)):
        if stage == "weaning":
            weaned.setdefault(calf, day)
        if stage == "weaning" or weaned.get(calf) == day:
            kg[calf] = weight
    departed = select(d.animal_id, d.day).where(d.animal_id.in_(keys), d.day <= on, d.kind.in_(DEAD))
    dead = {calf for calf, day in conn.execute(departed) if day <= weaned.get(calf, date.max)}
    return {
        calf: Calf(
            born_dead=fate == "stillborn",
            died=fate != "stillborn" and (calf in dead or fate == "died"),
            weaned=calf in weaned and calf not in dead,
            weaned_kg=kg.get(calf),
        )
        for calf, fate in fates.items()
    }
