"""When a female is due: what her services, bull runs, checks and calvings leave possible.

The plain dates and the breeds' table stand in `duedates` and `breeds`; their names can be had from here too.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from functools import lru_cache

from herdbook.husbandry.breeds import BREED_DAYS, DEFAULT_DAYS, BreedDays, gestation_days
from herdbook.husbandry.briefrun import BriefRun, brief_run
from herdbook.husbandry.duedates import (
    RULES,
    DueRules,
    Stage,
    due_date,
    next_heat,
    run_last_day,
    run_window,
    stage,
    unfit_to_travel_from,
)
from herdbook.husbandry.reasons import Reason

__all__ = [
    "BREED_DAYS",
    "DEFAULT_DAYS",
    "RULES",
    "Basis",
    "BreedDays",
    "Check",
    "DueRules",
    "Evidence",
    "Expected",
    "Run",
    "Service",
    "Stage",
    "due_date",
    "expect",
    "gestation_days",
    "next_heat",
    "run_last_day",
    "run_window",
    "stage",
    "unfit_to_travel_from",
]


class Basis(StrEnum):
    """What an expected day rests on."""

    SERVICE = "service"
    SERVICES = "services"
    RUN = "run"
    SERVICE_AND_RUN = "service_and_run"
    CHECK = "check"
    STATEMENT = "statement"


@dataclass(frozen=True, slots=True)
class Service:
    """A service on a day. `days` is this calf's gestation where the sire makes it differ from her other
    ones."""

    day: date
    sire: Hashable = None
    kind: str = "seen"
    embryo_age: int | None = None
    days: int | None = None

    @property
    def conceived(self) -> date:
        """The day from which gestation counts: for an embryo, its age before the transfer."""
        return self.day - timedelta(days=self.embryo_age or 0) if self.kind == "embryo" else self.day


@dataclass(frozen=True, slots=True)
class Run:
    """Her days with one or more bulls, first and last both counted; `last` None while they still run."""

    sires: tuple[Hashable, ...]
    first: date
    last: date | None = None
    days: int | None = None


@dataclass(frozen=True, slots=True)
class Check:
    """A pregnancy check: "pregnant", "multiple", "open" or "unknown", and how many days in calf, if told."""

    day: date
    result: str
    days_in_calf: int | None = None
    error_days: int | None = None
    method: str | None = None


@dataclass(frozen=True, slots=True)
class Evidence:
    """All that bears on whether and when one female is due.

    `ended` is her latest calving or loss, `ended_by` "calving" or "loss" (only after a calving must she rest
    before she can conceive). `bought_due` is the window that a seller stated for a female bought in calf."""

    services: tuple[Service, ...] = ()
    runs: tuple[Run, ...] = ()
    checks: tuple[Check, ...] = ()
    ended: date | None = None
    ended_by: str = "calving"
    bought_due: tuple[date, date] | None = None


@dataclass(frozen=True)
class Expected:
    """When she is due, and why.

    `services` and `runs` are those not ruled out, the runs cut to the days that can count. `confirmed` says
    that a check found her in calf. `rests_on` is the answer's basis in a sentence, `notes` what else to know.
    The `watch` is from the first to the last due day; after days with a bull that were fewer than a cycle
    (`brief`) it is wider, by what gestations differ.
    """

    basis: Basis
    first_due: date
    expected: date
    last_due: date
    conceived_first: date
    conceived_last: date
    stage: Stage
    days: int
    confirmed: bool
    multiple: bool
    services: tuple[Service, ...]
    runs: tuple[Run, ...]
    rests_on: Reason
    watch: tuple[date, date]
    notes: tuple[Reason, ...] = ()
    brief: BriefRun | None = None

    @property
    def hardly(self) -> bool:
        """Whether nothing but a few days with a bull speaks for a calf: most females do not hold in them."""
        if self.brief is None or self.confirmed or self.services:
            return False
        return all(run.last is not None and self.brief.holds(run.first, run.last) for run in self.runs)


@dataclass(frozen=True)
class _Span:
    """Days on which she may have conceived, and of what: a service, a run, or (None) before a seller's
    statement."""

    first: date
    last: date
    days: int
    of: Service | Run | None

    @property
    def due(self) -> tuple[date, date]:
        return due_date(self.first, self.days), due_date(self.last, self.days)

    def within(self, first: date, last: date) -> _Span | None:
        low, high = max(self.first, first), min(self.last, last)
        return _Span(low, high, self.days, self.of) if low <= high else None


@dataclass(frozen=True)
class _Found:
    """What the checks leave: conceptions from `first` to `last`."""

    first: date
    last: date
    pregnant: Check | None = None  # the latest check that found her in calf and still stands
    dated: Check | None = None  # of those, the one that tells her days most exactly
    multiple: bool = False
    notes: tuple[Reason, ...] = ()


def expect(
    evidence: Evidence, on: date, days: int = DEFAULT_DAYS, rules: DueRules = RULES
) -> Expected | None:
    """Return when a female is due, from all that is on record by a day; None when nothing says that she may
    be.

    Only what followed her latest calving or loss counts. A check that finds her open rules out every
    conception that it could have found; one that finds her in calf keeps those that it could have found, or
    those that fit the days it tells. Of several services not ruled out the last is expected (with a dated
    check, the one nearest to it), and the window spans them all. A bull run gives its own first and last due
    day, and expects the median of: first heat on any of the 21 days after turning in, `rules.conception_rate`
    at each heat, next heat 21 days later. A run that still goes on counts until `on`, one that is still to
    come by its planned days. What she carries is judged before what a later season's run may give, until the
    earlier can no longer be.

    Parameters
    ----------
    evidence : Evidence
        As known on `on`; services and checks after that day are passed over.
    on : date
        The day it is taken to be.
    days : int
        Her gestation; a service or run may carry its own.
    rules : DueRules
        The settings.
    """
    spans = _spans(evidence, on, days)
    found = _read_checks(evidence, spans, on, rules)
    left = [cut for span in spans if (cut := span.within(found.first, found.last)) is not None]
    left = _one_pregnancy(left, on, rules)
    if left:
        return _answer(evidence, left, found, on, rules)
    return None if found.pregnant is None else _from_check_alone(found, found.pregnant, on, days, rules)


def _rested(evidence: Evidence, rules: DueRules) -> date:
    """Return the first day on which she can conceive again."""
    if evidence.ended is None:
        return date.min
    return evidence.ended + timedelta(days=rules.wait_days if evidence.ended_by == "calving" else 1)


def _spans(evidence: Evidence, on: date, days: int) -> list[_Span]:
    """Return every conception on record, ruled out or not."""
    spans = [_Span(s.conceived, s.conceived, s.days or days, s) for s in evidence.services if s.day <= on]
    for run in evidence.runs:
        spans.append(_Span(run.first, run.last or max(on, run.first), run.days or days, run))
    if evidence.bought_due is not None:
        first, last = (day - timedelta(days=days) for day in evidence.bought_due)
        spans.append(_Span(first, last, days, None))
    return spans


def _read_checks(evidence: Evidence, spans: Sequence[_Span], on: date, rules: DueRules) -> _Found:
    """Go through the checks in order; a check that contradicts all before it is believed, with a note."""
    start = _rested(evidence, rules)
    found = _Found(start, date.max)
    for check in sorted(evidence.checks, key=lambda check: check.day):
        if check.day > on or (evidence.ended is not None and check.day <= evidence.ended):
            continue
        unfindable = check.day - timedelta(days=rules.find_days)
        if check.result == "open":
            found = _Found(max(found.first, unfindable), date.max)
        elif check.result in ("pregnant", "multiple"):
            found = _in_calf(found, check, start, spans, unfindable, rules)
    return found


def _in_calf(
    found: _Found, check: Check, start: date, spans: Sequence[_Span], unfindable: date, rules: DueRules
) -> _Found:
    """Return what is left after a check that found her in calf."""
    first, last = _band(check, rules) if check.days_in_calf is not None else (date.min, unfindable)
    tries = [
        (max(found.first, first), min(found.last, last)),  # in keeping with the earlier checks
        (max(start, first), last),  # an earlier "open" was wrong
    ]
    if check.days_in_calf is None:
        tries.append((start, check.day))  # found sooner than is usual
    notes = found.notes
    unrecorded = not spans or (
        found.pregnant is not None and not any(span.within(found.first, found.last) for span in spans)
    )
    for low, high in tries:
        if (unrecorded and low <= high) or any(span.within(low, high) for span in spans):
            break
    else:
        low, high = tries[1]
        if low > high:
            template = "The check of {day} cannot be right so soon after her calving or loss."
            return replace(found, notes=(*notes, Reason("check_too_soon", template, {"day": check.day})))
        template = "The check of {day} fits no service or bull on record: was another bull with her?"
        notes = (*notes, Reason("check_fits_nothing", template, {"day": check.day}))
    dated = found.dated if (low, high) == tries[0] else None
    if check.days_in_calf is not None and (dated is None or _error(check, rules) < _error(dated, rules)):
        dated = check
    return _Found(low, high, check, dated, found.multiple or check.result == "multiple", notes)


def _error(check: Check, rules: DueRules) -> int:
    return check.error_days if check.error_days is not None else rules.check_error(check.days_in_calf or 0)


def _centre(check: Check) -> date:
    return check.day - timedelta(days=check.days_in_calf or 0)


def _band(check: Check, rules: DueRules) -> tuple[date, date]:
    error = timedelta(days=_error(check, rules))
    return _centre(check) - error, min(_centre(check) + error, check.day)


def _one_pregnancy(spans: list[_Span], on: date, rules: DueRules) -> list[_Span]:
    """Keep the spans that speak of the pregnancy she may carry now, not of the one after it."""
    possible = [s for s in spans if (on - s.due[1]).days < rules.rolled_days]
    spans = possible or spans  # never opened by the calendar alone
    spans = [s for s in spans if s.first <= on] or spans
    if any(s.of is None for s in spans):
        spans = [
            s for s in spans if not isinstance(s.of, Run)
        ]  # sold as in calf: a bull with her tells nothing
    spans = sorted(spans, key=lambda s: (s.first, s.last))
    for place in range(1, len(spans)):
        gap = (spans[place].first - max(s.last for s in spans[:place])).days
        if gap > rules.season_gap_days and all(isinstance(s.of, Run) for s in spans[place:]):
            return spans[:place]
    return spans


def _answer(evidence: Evidence, spans: list[_Span], found: _Found, on: date, rules: DueRules) -> Expected:
    served = [s for s in spans if isinstance(s.of, Service)]
    runs = [s for s in spans if isinstance(s.of, Run)]
    if served:
        told = _centre(found.dated) if found.dated else date.max
        best = max(served, key=lambda s: (-abs((s.first - told).days), s.first))
        basis = Basis.SERVICE_AND_RUN if runs else Basis.SERVICES if len(served) > 1 else Basis.SERVICE
        conceived = best.first
    elif found.dated is not None:
        conceived = min(max(_centre(found.dated), spans[0].first), max(s.last for s in spans))
        basis = Basis.CHECK
    elif runs:
        conceived = _median_conception(evidence, runs, on, rules)
        basis = Basis.RUN
    else:
        conceived = _middle(spans[0].first, spans[-1].last)
        basis = Basis.STATEMENT
    if not served:
        best = min(spans, key=lambda s: max(s.first - conceived, conceived - s.last))
    slack = timedelta(days=rules.window)
    opens = min(s.due[0] - slack if isinstance(s.of, Service) else s.due[0] for s in spans)
    closes = max(s.due[1] + slack if isinstance(s.of, Service) else s.due[1] for s in spans)
    return _told(
        basis,
        best.days,
        conceived,
        (opens, closes),
        spans,
        found,
        on,
        rules,
        _rests_on(basis, best, spans, found),
    )


def _from_check_alone(found: _Found, check: Check, on: date, days: int, rules: DueRules) -> Expected:
    """She was found in calf and nothing on record accounts for it."""
    if found.dated is not None:
        span = _Span(found.first, found.last, days, None)
        conceived = min(max(_centre(found.dated), span.first), span.last)
        rests_on = _rests_on(Basis.CHECK, span, [span], found)
    else:
        first = max(found.first, check.day - timedelta(days=days))  # she had not calved by then
        span = _Span(min(first, found.last), found.last, days, None)
        conceived = _middle(span.first, span.last)
        template = "Found in calf on {day}; nothing on record tells since when."
        rests_on = Reason("check_undated", template, {"day": check.day})
    return _told(Basis.CHECK, days, conceived, span.due, [span], found, on, rules, rests_on)


def _told(
    basis: Basis,
    days: int,
    conceived: date,
    window: tuple[date, date],
    spans: list[_Span],
    found: _Found,
    on: date,
    rules: DueRules,
    rests_on: Reason,
) -> Expected:
    """Put the answer together; twins come earlier, and the window then reaches further forward."""
    sooner = timedelta(days=rules.twins_days_less if found.multiple else 0)
    expected, first_due = due_date(conceived, days) - sooner, window[0] - sooner
    last_expected = max(s.due[1] for s in spans)
    brief = brief_run([(s.of.first, s.of.last, s.days) for s in spans if isinstance(s.of, Run)], rules)
    opens, closes = brief.window if brief else (first_due, window[1])
    watch = min(first_due, opens - sooner), max(window[1], closes)
    near = stage(expected, last_expected, on, first_due=watch[0], rules=rules)
    return Expected(
        basis=basis,
        first_due=first_due,
        expected=expected,
        last_due=window[1],
        conceived_first=min(s.first for s in spans),
        conceived_last=max(s.last for s in spans),
        stage=near,
        days=days,
        confirmed=found.pregnant is not None,
        multiple=found.multiple,
        services=tuple(s.of for s in spans if isinstance(s.of, Service)),
        runs=tuple(replace(s.of, first=s.first, last=s.last) for s in spans if isinstance(s.of, Run)),
        rests_on=rests_on,
        watch=watch,
        notes=(
            *found.notes,
            *_notes(found, near, (on - last_expected).days, rules),
            *([brief.note()] if brief else []),
        ),
        brief=brief,
    )


def _middle(first: date, last: date) -> date:
    return first + (last - first) // 2


def _median_conception(evidence: Evidence, runs: list[_Span], on: date, rules: DueRules) -> date:
    """Return the day by which half of the chance of conceiving in these runs has passed."""
    start = _rested(evidence, rules)
    whole = [s.of for s in runs if isinstance(s.of, Run)]  # of which the checks left the spans
    exposed = [(max(run.first, start), run.last or max(on, run.first)) for run in whole]
    counted = [(s.first, s.last) for s in runs]
    return _half_way(tuple(exposed), tuple(counted), rules.conception_rate, rules.cycle)


@lru_cache(maxsize=1024)  # most females of a run have the same days
def _half_way(
    exposed: tuple[tuple[date, date], ...], counted: tuple[tuple[date, date], ...], rate: float, cycle: int
) -> date:
    """Return the day by which half of the chance has passed.

    Cycle by cycle from her first day with a bull, each day has ``(1 - p) ** cycles`` of the first one's
    chance; days that the checks rule out, those not counted, have none."""

    def days(spans: tuple[tuple[date, date], ...]) -> set[int]:
        return {day for first, last in spans for day in range(first.toordinal(), last.toordinal() + 1)}

    within = days(counted)
    chances = [
        (day, (1.0 - rate) ** (place // cycle))
        for place, day in enumerate(sorted(days(exposed) | within))
        if day in within
    ]
    half, passed = sum(chance for _, chance in chances) / 2, 0.0
    for day, chance in chances:
        passed += chance
        if passed >= half:
            return date.fromordinal(day)
    return date.fromordinal(chances[-1][0])


def _rests_on(basis: Basis, best: _Span, spans: list[_Span], found: _Found) -> Reason:
    """Say in a sentence what the expected day rests on, with the days that were added."""
    first, last = spans[0].first, max(s.last for s in spans)
    values: dict[str, object] = {"first": first, "last": last, "days": best.days, "n": len(spans)}
    if isinstance(best.of, Service):
        values |= {"day": best.of.day, "age": best.of.embryo_age or 0}
    runs = [s for s in spans if isinstance(s.of, Run)]
    match basis:
        case Basis.SERVICE if isinstance(best.of, Service) and best.of.kind == "embryo":
            template = "Embryo {age} days old put in on {day}; {days} days from its conception."
        case Basis.SERVICE if isinstance(best.of, Service) and best.of.kind == "ai":
            template = "AI on {day}; {days} days added."
        case Basis.SERVICE:
            template = "Served on {day}; {days} days added."
        case Basis.SERVICES:
            template = "{n} services from {first} to {last}; {days} days added to {day}."
        case Basis.SERVICE_AND_RUN:
            values |= {"first": runs[0].first, "last": max(s.last for s in runs)}
            template = (
                "Served on {day}, with a bull from {first} to {last}; {days} days added to the service."
            )
        case Basis.RUN:
            template = "With a bull from {first} to {last}; {days} days added."
        case Basis.CHECK if found.dated is not None:
            values |= {"day": found.dated.day, "in_calf": found.dated.days_in_calf}
            template = "Found {in_calf} days in calf on {day}; {days} days in all."
        case _:
            first_due, last_due = spans[0].due
            values |= {"first": first_due, "last": last_due}
            template = "Bought in calf, said to be due from {first} to {last}."
    return Reason(f"rests_on_{basis}", template, values)


def _notes(found: _Found, near: Stage, past: int, rules: DueRules) -> list[Reason]:
    notes = []
    if found.pregnant is not None:
        notes.append(Reason("found_in_calf", "Found in calf on {day}.", {"day": found.pregnant.day}))
    if found.multiple:
        template = "More than one calf was found: expected {less} days sooner; watch her closely."
        notes.append(Reason("twins", template, {"less": rules.twins_days_less}))
    if near is Stage.LATE:
        template = "{past} days past her day: was she served a cycle later?"
        notes.append(Reason("late", template, {"past": past}))
    if near is Stage.LONG_PAST:
        template = (
            "{past} days past her day: look at her again; she may have taken a cycle later. Ask the vet."
        )
        notes.append(Reason("look_again", template, {"past": past}))
    return notes
