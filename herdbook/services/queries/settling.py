"""How each bull run settles its females: how many should be by now, and heats that speak against a bull."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import Connection, select

from herdbook.husbandry.settling import (
    RULES,
    Days,
    SettlingRules,
    settled,
    still_in_heat,
    too_many_heats,
)
from herdbook.services.queries.runs import InRun, RunRow, runs
from herdbook.services.saying import listed
from herdbook.services.settings import BookSettings, load_settings
from herdbook.store import tables as t

LOOK_BACK = RULES.cycle
"""Heats so many days after a bull came out still tell of him: he had not settled her."""


@dataclass(frozen=True)
class Heats:
    """What was seen in heat after two cycles with the bulls of a run that shared their days.

    `females` have been with them so long; `seen` of them were in heat or served after that, where about
    `usual` would be if the bulls settled as they should. `many` says that it is too many to be chance.
    """

    bulls: tuple[InRun, ...]
    females: int
    seen: tuple[int, ...]
    usual: float
    many: bool

    @property
    def bull_words(self) -> str:
        """The bulls by tag and name."""
        return listed([bull.words for bull in self.bulls])


@dataclass(frozen=True)
class Settling:
    """A bull run with the number of its females that should be settled when a day begins.

    `cycles` is how many whole cycles of 21 days have passed since the first bull went in.
    """

    run: RunRow
    females: int
    settled: float
    cycles: int
    heats: tuple[Heats, ...]

    @property
    def share(self) -> float:
        """The share that should be settled; 0 where the run has no females."""
        return self.settled / self.females if self.females else 0.0


def settling(
    conn: Connection, on: date, of: Sequence[RunRow] | None = None, settings: BookSettings | None = None
) -> list[Settling]:
    """Return every bull run that has begun and was not over long ago, or those of `of` that have begun."""
    rules = _rules(settings or load_settings(conn))
    given = runs(conn, first=on - timedelta(days=LOOK_BACK), last=on) if of is None else of
    begun = [run for run in given if run.first <= on]
    heats = _heats_seen(conn, [run for run in begun if (on - run.first).days >= RULES.alarm_after], on)
    return [_settling(run, heats, on, rules) for run in begun]


def _rules(settings: BookSettings) -> SettlingRules:
    return SettlingRules(cycling=settings.cycling_share, per_heat=settings.settled_share)


def _settling(run: RunRow, heats: dict[int, list[date]], on: date, rules: SettlingRules) -> Settling:
    hers = _in_run(run)
    expected = sum(len(those) * settled(_company(run.bulls, days), on, rules) for days, those in hers.items())
    cycles = (on - run.first).days // RULES.cycle
    told = tuple(_heats(run, hers, heats, on, rules))
    return Settling(run, sum(map(len, hers.values())), expected, cycles, told)


def _in_run(run: RunRow) -> dict[tuple[Days, ...], list[int]]:
    """Return the females of a run by their days in it, which most of them share."""
    days: dict[int, tuple[Days, ...]] = {}
    for female in run.females:
        days[female.animal] = (*days.get(female.animal, ()), (female.from_day, female.to_day))
    found: dict[tuple[Days, ...], list[int]] = defaultdict(list)
    for animal, each in days.items():
        found[each].append(animal)
    return found


def _company(bulls: Sequence[InRun], hers: Sequence[Days]) -> list[tuple[date, date]]:
    """Return a female's days with bulls, in order."""
    shared = [
        (max(bull.from_day, first), min(bull.to_day or date.max, last or date.max))
        for bull in bulls
        for first, last in hers
    ]
    return sorted((first, last) for first, last in shared if first <= last)


def _heats(
    run: RunRow,
    hers: dict[tuple[Days, ...], list[int]],
    heats: dict[int, list[date]],
    on: date,
    rules: SettlingRules,
) -> Iterator[Heats]:
    """Yield the heats of a run after two cycles, apart for bulls with days of their own."""
    for bulls in run.by_days().values():
        females, seen = 0, []
        for days, those in hers.items():
            company = _company(bulls, days)
            if not company:
                continue
            first, last = company[0][0] + timedelta(days=RULES.alarm_after), min(company[-1][1], on)
            if first > last + timedelta(days=1) or first > on:
                continue
            females += len(those)
            until = last + timedelta(days=LOOK_BACK)
            seen += [one for one in those if any(first <= heat <= until for heat in heats.get(one, ()))]
        if females:
            many = too_many_heats(females, len(seen), rules)
            yield Heats(tuple(bulls), females, tuple(sorted(seen)), females * still_in_heat(rules), many)


def _heats_seen(conn: Connection, begun: Sequence[RunRow], on: date) -> dict[int, list[date]]:
    """Return the days on which the females of these runs were in heat, seen so or served, up to a day."""
    found: dict[int, list[date]] = defaultdict(list)
    if begun:
        first = min(run.first for run in begun) + timedelta(days=RULES.alarm_after)
        females = {female.animal for run in begun for female in run.females}
        for table in (t.Heat, t.Service):
            c = t.columns(table)
            query = select(c.animal_id, c.day).where(c.day >= first, c.day <= on)
            if table is t.Service:
                query = query.where(c.how != "embryo")  # a recipient is not in heat on the day of transfer
            for female, day in conn.execute(query):
                if female in females:
                    found[female].append(day)
    return found
