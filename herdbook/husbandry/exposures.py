"""What came of each time that a female was with a bull: the record that percentages and culling rest on.

Percentages belong to the group that was exposed, never to a calendar year: a cow found open in the spring and
moved to the autumn bulls was exposed twice, and failed once. The rule for the share is that of Standardized
Performance Analysis (University of Nebraska Extension): all that were exposed, less those that left for other
reasons before anything was known; a cow found open and then sold stays in.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from herdbook.husbandry.breeds import DEFAULT_DAYS
from herdbook.husbandry.duedates import RULES, DueRules
from herdbook.husbandry.gestation import Check

SHORTEST, LONGEST = 240, 330
"""No birth outside these days after conception: 255-305 days span an open data set of 24,732 calvings, and a
margin is left on both sides."""


class Outcome(StrEnum):
    """What came of it, as far as it is known."""

    CALVED = "calved"
    IN_CALF = "in calf"
    OPEN = "open"
    LOST = "lost"
    NOT_KNOWN = "not known"


@dataclass(frozen=True)
class Exposure:
    """A time with bulls, all that followed closely on each other, and what came of it.

    `last` is None while a bull is still with her; `told` is the day that told what came of it.
    """

    first: date
    last: date | None
    outcome: Outcome
    told: date | None


Span = tuple[date, date | None]


def exposures(
    spans: Iterable[Span],
    on: date,
    checks: Sequence[Check] = (),
    calvings: Sequence[date] = (),
    losses: Sequence[date] = (),
    rules: DueRules = RULES,
) -> tuple[Exposure, ...]:
    """Return each time that a female was with a bull, oldest first, and what came of it by a day.

    Days apart by no more than `rules.season_gap_days` are one time, unless a calving, a loss or a check that
    found her open lies between. She calved from it if the birth fits its days, and those of no other time
    better. She is open from it only by a check late enough to have found any calf of its last day
    (`rules.find_days`): nobody is called open by the calendar.

    Parameters
    ----------
    spans : iterable of (date, date or None)
        Her days with bulls, and the days of services as ``(day, day)``.
    on : date
        The day asked about; what came after it is passed over.
    checks, calvings, losses : sequences
        What happened to her, in any order.
    """
    ends = sorted([*calvings, *losses, *(check.day for check in checks if check.result == "open")])
    times = _times([span for span in spans if span[0] <= on], ends, rules)
    born = {_nearest(times, day): day for day in sorted(calvings, reverse=True) if day <= on}
    found = []
    for place, (first, last) in enumerate(times):
        until = times[place + 1][0] if place + 1 < len(times) else on
        if place in born:
            found.append(Exposure(first, last, Outcome.CALVED, born[place]))
            continue
        lost = [day for day in losses if first < day <= until]
        outcome, told = (Outcome.LOST, lost[0]) if lost else _checked(checks, (first, last), until, rules)
        found.append(Exposure(first, last, outcome, told))
    return tuple(found)


def _times(spans: Sequence[Span], ends: Sequence[date], rules: DueRules) -> list[Span]:
    """Return the days in as few times as they make."""
    times: list[tuple[date, date]] = []
    for first, last in sorted((first, last or date.max) for first, last in spans):
        if times:
            begun, until = times[-1]
            close = first <= until or (first - until).days <= rules.season_gap_days
            if close and not any(until < day <= first for day in ends):
                times[-1] = (begun, max(until, last))
                continue
        times.append((first, last))
    return [(first, None if last == date.max else last) for first, last in times]


def _nearest(times: Sequence[Span], born: date) -> int | None:
    """Return the place of the time that a birth fits best; None where it fits none."""
    conceived = born - timedelta(days=DEFAULT_DAYS)
    fitting = []
    for place, (first, last) in enumerate(times):
        ends = min(last or born, born)
        if first + timedelta(days=SHORTEST) <= born <= ends + timedelta(days=LONGEST):
            off = max((first - conceived).days, (conceived - ends).days, 0)
            fitting.append((off, -place))
    return -min(fitting)[1] if fitting else None


def _checked(
    checks: Sequence[Check], span: Span, until: date, rules: DueRules
) -> tuple[Outcome, date | None]:
    """Return what the last check before the next time says."""
    first, last = span
    told = [c for c in checks if first < c.day <= until and c.result != "unknown"]
    if not told:
        return Outcome.NOT_KNOWN, None
    check = max(told, key=lambda c: c.day)
    if check.result != "open":
        return Outcome.IN_CALF, check.day
    if last is not None and check.day >= last + timedelta(days=rules.find_days):
        return Outcome.OPEN, check.day
    return Outcome.NOT_KNOWN, None


def found_open(times: Iterable[Exposure]) -> tuple[date, ...]:
    """Return the days of the checks that found her open after a time with a bull."""
    return tuple(time.told for time in times if time.outcome is Outcome.OPEN and time.told is not None)


def rolled(times: Sequence[Exposure]) -> int:
    """Return how often she was found open and then put to a bull again."""
    return sum(time.outcome is Outcome.OPEN for time in times[:-1])
