"""What is odd about a birth before it is saved, with the likely explanations; asked about, never refused."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from sqlalchemy import Connection, select

from herdbook.husbandry.days import age_days, age_months, earliest
from herdbook.husbandry.duedates import RULES
from herdbook.husbandry.reasons import Reason
from herdbook.services.commands.births import ONE_BIRTH_DAYS, RecordBirth
from herdbook.services.facts import AnimalFacts, present
from herdbook.services.pedigree import EARLIEST_BIRTH, LATEST_BIRTH
from herdbook.services.saying import called
from herdbook.store import tables as t

LEAST_GESTATION = 263
"""The 1st percentile of 24,732 AI-dated calvings in an open data set, mostly dairy breeds."""

LEAST_DAYS_BETWEEN_CALVINGS = LEAST_GESTATION + RULES.wait_days
"""Below it a second calving is asked about: a first heat 20 days after calving at the earliest (Merck
Veterinary Manual), and the least gestation."""

TWINS_APART_DAYS = 14
"""Up to here a second calf is more likely a twin with a wrong day than a new calving. Common practice."""

YOUNGEST_DAM_MONTHS = 15
"""Six months to a first heat (the age from which heifers are kept from entire males) and nine to calve."""

WANT_A_REASON = frozenset(
    {"calved_lately", "twins_apart", "not_here", "gone_before", "found_open", "not_exposed", "too_early",
     "dam_too_young"}
)  # fmt: skip
"""Questions after which a birth is saved only with a word about why."""


def birth_doubts(conn: Connection, dam: AnimalFacts, command: RecordBirth) -> Iterator[Reason]:
    """Yield what is odd about the dam and the day of a birth; her facts are those of the day asked about."""
    if dam.sex == "M":
        yield Reason("male_dam", "{animal} is a male", {"animal": dam.words})
    yield from _here(conn, dam, command.day)
    yield from _age(dam, command.day)
    yield from _calved_before(dam, command.day)
    yield from _exposed(dam, command.day)
    yield from _embryo(conn, dam, command)


def _here(conn: Connection, dam: AnimalFacts, day: date) -> Iterator[Reason]:
    s = t.Stay
    if conn.scalar(present(day).where(s.animal_id == dam.id).limit(1)):
        return
    values: dict[str, object] = {"animal": dam.words, "day": day}
    left = conn.scalar(
        select(s.to_day).where(s.animal_id == dam.id, s.to_day <= day).order_by(s.to_day.desc()).limit(1)
    )
    if left is None:
        yield Reason("not_here", "{animal} was not here on {day}: a wrong day, or another dam?", values)
    else:
        template = "{animal} left on {left}: a wrong day, another dam, or one of the two days put wrong?"
        yield Reason("gone_before", template, {**values, "left": left})


def _age(dam: AnimalFacts, day: date) -> Iterator[Reason]:
    born = None if dam.born is None else earliest(dam.born, dam.born_precision)
    if born is not None and age_months(born, day) < YOUNGEST_DAM_MONTHS:
        values = {"animal": dam.words, "n": age_months(born, day)}
        yield Reason(
            "dam_too_young", "{animal} was only {n} months old: another dam, or a wrong year?", values
        )


def _calved_before(dam: AnimalFacts, day: date) -> Iterator[Reason]:
    for calved in dam.calvings:
        days = abs(age_days(calved.day, day))
        values = {"animal": dam.words, "day": calved.day, "n": days}
        if days <= ONE_BIRTH_DAYS:
            yield Reason(
                "twin_of", "{animal} calved on {day}: this is written as a twin of that calf", values
            )
        elif days <= TWINS_APART_DAYS:
            template = (
                "{animal} calved on {day}, {n} days apart: twins come within hours. One of the days may be "
                "wrong, or the calf is of another dam"
            )
            yield Reason("twins_apart", template, values)
        elif days < LEAST_DAYS_BETWEEN_CALVINGS:
            template = (
                "{animal} calved on {day}, {n} days apart: too few for another calf. Another dam, a calf put "
                "to her, or a wrong day?"
            )
            yield Reason("calved_lately", template, values)


def _spans(dam: AnimalFacts, day: date) -> list[tuple[date, date]]:
    """Return the days on which she may have conceived, by services, bulls, checks and a seller's word."""
    spans = [(s.conceived, s.conceived) for s in dam.services]
    spans += [(run.first, run.last or day) for run in (*dam.runs, *dam.planned)]
    for check in dam.checks:
        if check.days_in_calf is not None and check.result in ("pregnant", "multiple"):
            error = timedelta(days=RULES.check_error(check.days_in_calf))
            middle = check.day - timedelta(days=check.days_in_calf)
            spans.append((middle - error, middle + error))
    if dam.statement is not None:
        first, last = dam.statement
        spans.append((first - timedelta(days=LATEST_BIRTH), last - timedelta(days=EARLIEST_BIRTH)))
    return spans


def _exposed(dam: AnimalFacts, day: date) -> Iterator[Reason]:
    """Ask where no bull, service, check or seller's word fits a birth on that day."""
    first, last = day - timedelta(days=LATEST_BIRTH), day - timedelta(days=EARLIEST_BIRTH)
    spans = _spans(dam, day)
    values: dict[str, object] = {"animal": dam.words, "first": first, "last": last}
    if not any(begin <= last and end >= first for begin, end in spans):
        since = min((begin for begin, _ in spans if last < begin <= day), default=None)
        if since is not None:
            template = (
                "{animal} is written as with a bull or served only from {since}, {n} days before: a lost "
                "calf (Lost it), a bull that nobody wrote down, or another dam?"
            )
            yield Reason("too_early", template, {**values, "since": since, "n": age_days(since, day)})
        else:
            template = (
                "{animal} is not written as with a bull or served from {first} to {last}: a bull that nobody "
                "wrote down, a neighbour's, or another dam?"
            )
            yield Reason("not_exposed", template, values)
    told = [check for check in dam.checks if check.result != "unknown" and last < check.day <= day]
    if told and told[-1].result == "open":
        template = (
            "{animal} was found not in calf on {day}: too early a check, one that missed her, or another dam?"
        )
        yield Reason("found_open", template, {"animal": dam.words, "day": told[-1].day})


# ---------------------------------------------------------------- embryos


def donor_of(conn: Connection, dam: int, day: date) -> tuple[int, str, date] | None:
    """Return the donor of an embryo of which a calf born on a day may come: id, tag and name, day put in."""
    s, a = t.Service, t.Animal
    first, last = day - timedelta(days=LATEST_BIRTH), day - timedelta(days=EARLIEST_BIRTH)
    query = (
        select(s.donor_id, a.tag, a.name, s.day, s.embryo_days)
        .join(a, a.id == s.donor_id)
        .where(s.animal_id == dam, s.how == "embryo", s.day <= day)
        .order_by(s.day.desc())
    )
    for donor, tag, name, put_in, age in conn.execute(query):
        if donor is not None and first <= put_in - timedelta(days=age or 0) <= last:
            return donor, called(tag, name), put_in
    return None


def _embryo(conn: Connection, dam: AnimalFacts, command: RecordBirth) -> Iterator[Reason]:
    """Ask whose the calf is where an embryo was put in and nothing is said of its dam."""
    if command.genetic_dam is not None:
        return
    found = donor_of(conn, dam.id, command.day)
    if found is not None:
        template = (
            "an embryo of {donor} was put into {animal} on {day}: if the calf is hers, name {donor} as its "
            "dam by blood"
        )
        values = {"animal": dam.words, "donor": found[1], "day": found[2]}
        yield Reason("embryo", template, values)
