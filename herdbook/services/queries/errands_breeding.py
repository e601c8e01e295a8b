"""Errands of the breeding season on Today: bulls in and out, heats, checks, the sort."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from sqlalchemy import Connection, select

from herdbook.husbandry.classes import AnimalClass
from herdbook.husbandry.days import age_days
from herdbook.husbandry.settling import RULES
from herdbook.services.facts import AnimalFacts
from herdbook.services.queries.errands import SOON, Day, Errand, about
from herdbook.services.queries.runs import RunRow, without_bull
from herdbook.services.queries.settling import Settling, settling
from herdbook.services.saying import day_words, days_words, listed
from herdbook.store import tables as t
from herdbook.words import say

BULL_AHEAD = 30
"""Days ahead. Common practice, no source."""
CYCLE_TOLD_FOR = 7
"""Days for which it is told how many should be settled after a cycle. Common practice, no source."""
CHECK_AFTER = 35
"""Found by scan from day 28 in skilled hands (trade article by a vet), and a week is left after that."""


def bulls(day: Day) -> Iterator[Errand]:
    """Yield the bulls to put in and to take out; those that follow one another each on his days."""
    for run in day.runs:
        n, parts = len({female.animal for female in run.females}), run.by_days()
        for (first, last), those in parts.items():
            words, animals = listed([bull.words for bull in those]), tuple(bull.animal for bull in those)
            if 0 <= (first - day.on).days <= BULL_AHEAD:
                text = say(
                    "Bull in {when}: {bulls} with {n}", when=day_words(first, day.on), bulls=words, n=n
                )
                urgency = "soon" if (first - day.on).days <= SOON else "look"
                task = f"bull_in:{run.id}:{first}"
                yield Errand("bull_in", urgency, text, "sort", animals, first, (task,))
            if last is not None and first <= day.on and 0 <= (last - day.on).days <= SOON:
                text = say(
                    "Bull out {when}: {bulls}; the day counts", when=day_words(last, day.on), bulls=words
                )
                task = f"bull_out:{run.id}:{last}"
                yield Errand("bull_out", "soon", text, "register", animals, last, (task,))
        yield from _left_in(run, day)


def _left_in(run: RunRow, day: Day) -> Iterator[Errand]:
    """Ask about a run that has no last day and is longer than a season."""
    began = age_days(run.first, day.on) + 1
    if run.last is None and began > day.settings.season_days:
        text = say(
            "{bulls} in for {days}, usual {usual}: take out, or write when he came out",
            bulls=run.bull_words, days=days_words(began), usual=day.settings.season_days,
        )  # fmt: skip
        animals = tuple(bull.animal for bull in run.bulls)
        yield Errand("run_open", "act", text, "register", animals, run.first, (f"run_open:{run.id}",))


def no_bull(conn: Connection, day: Day) -> Iterator[Errand]:
    """Yield the females of a run that goes on without a bull, because he died or left or was taken out."""
    for (run, name), parts in without_bull(conn, day.on).items():
        here = [part for part in parts if part.animal in day.herd]
        if not here:
            continue
        first = min(part.from_day for part in here)
        who = name or listed([part.tag for part in here])
        text = say("{run}: {n} females have no bull; turn another in with them", run=who, n=len(here))
        if first > day.on:
            text = say(
                "{run}: {n} females have no bull for {when}; turn another in with them",
                run=who, n=len(here), when=day_words(first, day.on),
            )  # fmt: skip
        animals, task = tuple(part.animal for part in here), f"no_bull:{run}:{first}"
        yield Errand("no_bull", "act", text, "calving", animals, max(first, day.on), (task,))


def settle(conn: Connection, day: Day) -> Iterator[Errand]:
    """Yield how many should be settled after one cycle and after two, and the alarm about a bull.

    What should be settled is said in the week after the cycle has passed. In it only a heat that was seen
    and written down can tell whether it is so.
    """
    for told in settling(conn, day.on, day.lately, day.settings):
        run, bulls = told.run, tuple(bull.animal for bull in told.run.bulls)
        passed = (day.on - run.first).days - told.cycles * RULES.cycle
        if told.cycles in (1, 2) and passed < CYCLE_TOLD_FOR and told.females:
            text = say(
                "{bulls} in for {days}: about {n} of {whole} ({share:.0%}) should be settled; "
                "write down the heats you see",
                bulls=run.bull_words, days=days_words((day.on - run.first).days),
                n=round(told.settled), whole=told.females, share=told.share,
            )  # fmt: skip
            yield Errand(
                "settled", "look", text, "calving", bulls, run.first, (f"settled:{run.id}:{told.cycles}",)
            )
        yield from _many_heats(told, day)


def _many_heats(told: Settling, day: Day) -> Iterator[Errand]:
    for heats in told.heats:
        seen = [day.herd[female] for female in heats.seen if female in day.herd]
        if not heats.many:
            continue
        text = say(
            "Many heats after two cycles with {bulls}: {seen} of {n} ({tags}), where about {usual:.0f} would "
            "be usual. Have the bull examined: ask your vet.",
            bulls=heats.bull_words, seen=len(heats.seen), n=heats.females, usual=heats.usual,
            tags=listed([facts.tag for facts in seen]),
        )  # fmt: skip
        task = f"many_heats:{told.run.id}:{heats.bulls[0].animal}:{len(heats.seen)}"
        animals = (*(bull.animal for bull in heats.bulls), *heats.seen)
        yield Errand("many_heats", "act", text, "register", animals, day.on, (task,))


def checks(day: Day) -> Iterator[Errand]:
    unconfirmed = {row.animal for row in day.due if not row.confirmed and row.days_to_expected > SOON}
    to_check = [f for f in day.herd.values() if f.id in unconfirmed and _check_due(f, day.on)]

    def stamp(facts: AnimalFacts) -> date | None:  # next year's check is another
        return _last_exposure(facts, day.on)

    to_check = day.open_tasks("check", to_check, stamp)
    if to_check:
        tags = listed([facts.words for facts in to_check])
        text = say("{n} to be checked for pregnancy: {tags}", n=len(to_check), tags=tags)
        yield about("check", "soon", text, "calving", to_check, None, stamp)


def _last_exposure(facts: AnimalFacts, on: date) -> date | None:
    """Return the last day on which she was served or with a bull."""
    lasts = [run.last or on for run in (*facts.runs, *facts.planned)] + [s.day for s in facts.services]
    return max(lasts, default=None)


def _check_due(facts: AnimalFacts, on: date) -> bool:
    """Whether the bull is out, the last service is far enough back, and nobody has looked since."""
    last = _last_exposure(facts, on)
    if last is None or on < last + timedelta(days=CHECK_AFTER):
        return False
    return not any(check.result != "unknown" and check.day > last for check in facts.checks)


def sort(conn: Connection, day: Day) -> Iterator[Errand]:
    bull_in = next_day_of_year(day.settings.usual_bull_in, day.on)
    if bull_in is None or (bull_in - day.on).days > BULL_AHEAD or not _breeders(day):
        return
    p = t.columns(t.SeasonPlan)
    near = (bull_in - timedelta(days=90), bull_in + timedelta(days=90))
    accepted = conn.scalar(select(p.id).where(p.accepted.is_not(None), p.bull_in.between(*near)).limit(1))
    if accepted is None and not any(near[0] <= run.first <= near[1] for run in day.runs):
        text = say("Sort the females to the bulls: bull in is {when}", when=day_words(bull_in, day.on))
        yield Errand("sort", "soon", text, "sort", (), bull_in, (f"sort:{bull_in}",))


def _breeders(day: Day) -> bool:
    classes = {facts.class_on(day.on) for facts in day.herd.values()}
    return bool(classes & {AnimalClass.COW, AnimalClass.HEIFER, AnimalClass.IN_CALF_HEIFER})


def next_day_of_year(month_day: str, on: date) -> date | None:
    """Return the next day, `on` or later, with that month and day; None where the text is none."""
    for year in (on.year, on.year + 1, on.year + 2, on.year + 3, on.year + 4):
        try:
            day = date.fromisoformat(f"{year}-{month_day}")
        except ValueError:
            continue
        if day >= on:
            return day
    return None
