"""What came of each bull run, female by female: the counts behind percentages, and who was rolled over."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from herdbook.husbandry.exposures import Exposure, Outcome, exposures, found_open, rolled
from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import AnimalFacts, load_herd
from herdbook.services.queries.runs import InRun, RunRow, runs
from herdbook.services.queries.settling import Settling, settling
from herdbook.words import say

Percent = tuple[int, int]
"""So many of so many: a count stands beside every percentage."""


def times_with_bulls(facts: AnimalFacts, on: date) -> tuple[Exposure, ...]:
    """Return each time that a female was with a bull or served, oldest first, and what came of it."""
    spans = [(run.first, run.last) for run in facts.runs] + [(s.day, s.day) for s in facts.services]
    return exposures(spans, on, facts.checks, [calved.day for calved in facts.calvings], facts.losses)


def open_after(facts: AnimalFacts, on: date) -> tuple[date, ...]:
    """Return the days of the checks that found a female open after a time with a bull."""
    if not any(check.result == "open" for check in facts.checks):
        return ()  # of most females nothing need be worked out
    return found_open(times_with_bulls(facts, on))


def rolled_over(facts: AnimalFacts, on: date) -> Reason | None:
    """Return that a female was found open and put to a bull again, None where she never was."""
    if not any(check.result == "open" for check in facts.checks):
        return None
    times = times_with_bulls(facts, on)
    n = rolled(times)
    if not n:
        return None
    last = [time.told for time in times[:-1] if time.outcome is Outcome.OPEN][-1]
    template = (
        "Rolled once: found open on {day} and put to a bull again."
        if n == 1
        else "Rolled {n} times: last found open on {day} and put to a bull again."
    )
    return Reason("rolled", template, {"n": n, "day": last})


@dataclass(frozen=True)
class RunOutcome:
    """What came of a bull run for the females that were exposed in it.

    `left` of them left before anything was known; all others are the whole of which shares are taken.
    `shared` were with another run's bulls in the same time, so that its outcome is not this bull's alone.
    """

    run: RunRow
    exposed: int
    calved: int
    in_calf: int
    lost: int
    open: int
    not_known: int
    left: int
    shared: int
    rolled_in: tuple[InRun, ...]

    @property
    def whole(self) -> int:
        """The females of which shares are taken: exposed, less those that left for other reasons."""
        return self.exposed - self.left

    @property
    def held(self) -> Percent:
        """Those that held: found in calf, calved, or lost it since."""
        return self.calved + self.in_calf + self.lost, self.whole

    @property
    def born(self) -> Percent:
        """Those that calved."""
        return self.calved, self.whole

    @property
    def found_open(self) -> Percent:
        """Those that a check found open."""
        return self.open, self.whole


def run_outcomes(conn: Connection, on: date, first: date | None = None) -> list[RunOutcome]:
    """Return what came of each run that had begun by a day and touches the days from `first`, in order.

    A female that was found open and moved to another run counts in both: as open in the first, and as
    exposed in the second.
    """
    begun = runs(conn, first=first, last=on)
    females = {female.animal for run in begun for female in run.females}
    herd = load_herd(conn, on, sorted(females), measured=False)
    times = {facts.id: times_with_bulls(facts, on) for facts in herd.values()}
    company: dict[int, list[tuple[RunRow, date]]] = defaultdict(list)
    for run in begun:
        for female in run.females:
            company[female.animal].append((run, max(female.from_day, run.first)))
    return [_outcome(run, herd, times, company) for run in begun]


def _outcome(
    run: RunRow,
    herd: dict[int, AnimalFacts],
    times: dict[int, tuple[Exposure, ...]],
    company: dict[int, list[tuple[RunRow, date]]],
) -> RunOutcome:
    counts: Counter[Outcome] = Counter()
    left = shared = 0
    again: list[InRun] = []
    females = {female.animal: female for female in run.females}
    for animal, female in females.items():
        place = _time_of(times.get(animal, ()), max(female.from_day, run.first))
        if place is None:
            left += 1
            continue
        time = times[animal][place]
        gone = herd[animal].here_since is None and time.outcome is Outcome.NOT_KNOWN
        left += gone
        counts[time.outcome] += not gone
        again += [female] if place and times[animal][place - 1].outcome is Outcome.OPEN else []
        shared += any(
            other.id != run.id and _time_of(times[animal], day) == place for other, day in company[animal]
        )
    return RunOutcome(
        run=run,
        exposed=len(females),
        calved=counts[Outcome.CALVED],
        in_calf=counts[Outcome.IN_CALF],
        lost=counts[Outcome.LOST],
        open=counts[Outcome.OPEN],
        not_known=counts[Outcome.NOT_KNOWN],
        left=left,
        shared=shared,
        rolled_in=tuple(again),
    )


def _time_of(times: tuple[Exposure, ...], day: date) -> int | None:
    """Return the place of the time in which a day lies; None where none holds it."""
    return next((n for n, time in enumerate(times) if time.first <= day <= (time.last or date.max)), None)


def share_words(share: Percent) -> str:
    """Return a share as a count and a percentage; of nobody there is no share."""
    n, whole = share
    return say("{n} of {whole}, {share:.0%}", n=n, whole=whole, share=n / whole) if whole else say("of none")


@dataclass(frozen=True)
class RunReview:
    """A run with what came of it so far, and how it settles its females."""

    outcome: RunOutcome
    settling: Settling

    @property
    def run(self) -> RunRow:
        """The run itself."""
        return self.outcome.run

    @property
    def many_heats(self) -> bool:
        """Whether too many of its females were in heat after two cycles with a bull."""
        return any(heats.many for heats in self.settling.heats)


def review_of_runs(conn: Connection, on: date, first: date | None = None) -> list[RunReview]:
    """Return every run that had begun by a day and touches the days from `first`, the latest first."""
    told = run_outcomes(conn, on, first)
    settled = settling(conn, on, [row.run for row in told])
    return [RunReview(*both) for both in zip(reversed(told), reversed(settled), strict=True)]
