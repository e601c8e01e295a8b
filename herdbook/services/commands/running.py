"""Bull runs: bulls turned in with females, added to, taken out, changed, and a bull that got in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import Connection, select, update

from herdbook.husbandry.days import earliest
from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.season import RULES
from herdbook.services.asking import asks
from herdbook.services.book import Work
from herdbook.services.commands.moving import follow_run
from herdbook.services.facts import load_herd
from herdbook.services.registry import Refused, handles
from herdbook.store import tables as t


@dataclass(frozen=True)
class TurnIn:
    """Turn one or more bulls in with females; first and last day both count, an open end is an open run."""

    bulls: tuple[int, ...] = asks("Bulls", "animals")
    females: tuple[int, ...] = asks("Females", "animals")
    day: date = asks("Bull in", "date")
    out: date | None = asks("Bull out", "date", optional=True, hint="the last day counts")
    name: str | None = asks("Name of the run", "text", optional=True)
    note: str | None = asks("Note", "note", optional=True)
    group: int | None = None
    plan: int | None = None


@dataclass(frozen=True)
class JoinRun:
    """Put more females or bulls into a run that stands."""

    run: int
    animals: tuple[int, ...] = asks("Animals", "animals")
    day: date = asks("In", "date")
    out: date | None = asks("Out", "date", optional=True)


@dataclass(frozen=True)
class EndRun:
    """Take the bulls out: the run's last day, counted."""

    run: int
    day: date = asks("Bull out", "date")


@dataclass(frozen=True)
class LeaveRun:
    """Take single animals out of a run: their last day, counted."""

    run: int
    animals: tuple[int, ...] = asks("Animals", "animals")
    day: date = asks("Out", "date")


@dataclass(frozen=True)
class ChangeBull:
    """Take a bull out of the runs he is in, and put another in his place if there is one.

    His last day counts, and so does the first of the next; the days between cover nobody. The next bull stays
    as long as the females were to, unless his own last day is told.
    """

    bull: int = asks("Bull", "male")
    day: date = asks("Out", "date", hint="his last day with them; it counts")
    next_bull: int | None = asks("Next bull", "male", optional=True, hint="empty: nobody takes his place yet")
    next_day: date | None = asks(
        "Next bull in", "date", optional=True, hint="days between the two bulls cover nobody"
    )
    next_out: date | None = asks(
        "Next bull out", "date", optional=True, hint="empty: the day that was set for the females"
    )


@dataclass(frozen=True)
class BullGotIn:
    """A bull was with females for some days without anybody's wish; first and last day both count.

    Where no females are named, all count that could have conceived: those of the group on any of these days,
    or of the whole herd, that were not found in calf and were not too young to come on heat.
    """

    bull: int = asks("Bull", "male")
    day: date = asks("From", "date", hint="the first day on which he may have been with them")
    out: date = asks("To", "date", hint="the last one; it counts")
    group: int | None = asks("With the group", "group", optional=True, hint="empty: the whole herd")
    females: tuple[int, ...] | None = asks(
        "Females", "animals", optional=True, hint="empty: all of them that were not found in calf"
    )
    note: str | None = asks("Note", "note", optional=True)


def _order(day: date, out: date | None) -> None:
    if out is not None and out < day:
        raise Refused(
            Reason("out_before_in", "Bull out ({out}) is before bull in ({day})", {"out": out, "day": day})
        )


def _join(work: Work, run: int, animals: tuple[int, ...], day: date, out: date | None) -> None:
    sexes = dict(
        work.session.execute(select(t.Animal.id, t.Animal.sex).where(t.Animal.id.in_(animals))).all()
    )
    for animal in animals:
        kind = t.BullRunBull if sexes[animal] == "M" else t.BullRunFemale
        work.session.add(kind(run_id=run, animal_id=animal, from_day=day, to_day=out))


@handles(TurnIn)
def turn_in(work: Work, command: TurnIn) -> int:
    """Write the run; return its id."""
    _order(command.day, command.out)
    if not command.bulls:
        raise Refused(Reason("no_bull", "A bull run needs a bull", {}))
    session = work.session
    run = t.BullRun(name=command.name, group_id=command.group, plan_id=command.plan, note=command.note)
    session.add(run)
    session.flush()
    session.add_all(
        t.BullRunBull(run_id=run.id, animal_id=bull, from_day=command.day, to_day=command.out)
        for bull in command.bulls
    )
    session.add_all(
        t.BullRunFemale(run_id=run.id, animal_id=female, from_day=command.day, to_day=command.out)
        for female in command.females
    )
    return run.id


@handles(JoinRun)
def _join_run(work: Work, command: JoinRun) -> None:
    _order(command.day, command.out)
    _join(work, command.run, command.animals, command.day, command.out)
    follow_run(work.session, command.run)


@handles(EndRun)
def _end_run(work: Work, command: EndRun) -> None:
    for side in (t.BullRunBull, t.BullRunFemale):
        still_in = (side.run_id == command.run, side.to_day.is_(None) | (side.to_day > command.day))
        work.session.execute(
            update(side).where(*still_in, side.from_day <= command.day).values(to_day=command.day)
        )
    follow_run(work.session, command.run)


@handles(LeaveRun)
def _leave_run(work: Work, command: LeaveRun) -> None:
    for side in (t.BullRunBull, t.BullRunFemale):
        work.session.execute(
            update(side)
            .where(
                side.run_id == command.run,
                side.animal_id.in_(command.animals),
                side.from_day <= command.day,
                side.to_day.is_(None) | (side.to_day > command.day),
            )
            .values(to_day=command.day)
        )
    follow_run(work.session, command.run)


@handles(ChangeBull)
def _change(work: Work, command: ChangeBull) -> None:
    if command.next_bull is not None and command.next_day is None:
        raise Refused(Reason("next_day", "When did the next bull go in? The days between cover nobody."))
    session, part = work.session, t.BullRunBull
    his = session.scalars(
        select(part).where(
            part.animal_id == command.bull,
            part.from_day <= command.day,
            part.to_day.is_(None) | (part.to_day >= command.day),
        )
    ).all()
    if not his:
        template = "This bull is with nobody on {day} by the book: look at the days of his run"
        raise Refused(Reason("not_in_run", template, {"day": command.day}))
    for each in his:
        until = _until(work, each.run_id, command.day)
        each.to_day = command.day
        if command.next_bull is not None and command.next_day is not None:
            last = command.next_out or until
            _order(command.next_day, last)
            _join(work, each.run_id, (command.next_bull,), command.next_day, last)
            _stay_on(work, each.run_id, until, command.next_out)
        follow_run(session, each.run_id)


def _until(work: Work, run: int, day: date) -> date | None:
    """Return until when the females of a run are in it; None while no day is set."""
    f = t.BullRunFemale
    here = (f.run_id == run, f.from_day <= day, f.to_day.is_(None) | (f.to_day >= day))
    days = work.session.scalars(select(f.to_day).where(*here)).all()
    return None if None in days else max((d for d in days if d is not None), default=None)


def _stay_on(work: Work, run: int, until: date | None, last: date | None) -> None:
    """Let the females that were in a run to its end stay as long as the bull that was put in."""
    if until is not None and last is not None and last > until:
        f = t.BullRunFemale
        work.session.execute(update(f).where(f.run_id == run, f.to_day == until).values(to_day=last))


@handles(BullGotIn)
def _got_in(work: Work, command: BullGotIn) -> int:
    females = met(work.session.connection(), command)
    if not females:
        template = "No female there could have conceived: all were found in calf or are under {n} months old"
        raise Refused(Reason("nobody_met", template, {"n": RULES.female_alert_months}))
    run = TurnIn((command.bull,), females, command.day, command.out, note=command.note, group=command.group)
    made: int = turn_in(work, run)
    return made


def met(conn: Connection, command: BullGotIn) -> tuple[int, ...]:
    """Return the females that a bull who got in can have served: those named, else all that may have held.

    Found in calf counts as it was known on the first day. Too young is whoever was surely under 6 months on
    the last (`season.Rules`); a female whose age is not known counts.
    """
    if command.females:
        return command.females
    herd = load_herd(conn, command.day, measured=False)
    inside = _members(conn, command)
    young = command.out - timedelta(days=-(-RULES.female_alert_months * 365 // 12))
    return tuple(
        facts.id
        for facts in herd.values()
        if facts.sex == "F" and not facts.in_calf and (inside is None or facts.id in inside)
        if facts.born is None or (earliest(facts.born, facts.born_precision) or facts.born) <= young
    )


def _members(conn: Connection, command: BullGotIn) -> set[int] | None:
    """Return who was in the group on any of the days, calves at foot with their dams; None for the herd."""
    if command.group is None:
        return None
    m, a = t.columns(t.Membership), t.columns(t.Animal)
    inside = select(m.animal_id).where(
        m.group_id == command.group,
        m.from_day <= command.out,
        m.to_day.is_(None) | (m.to_day > command.day),
    )
    members = set(conn.scalars(inside))
    anywhere = select(m.animal_id).where(
        m.from_day <= command.out, m.to_day.is_(None) | (m.to_day > command.day)
    )
    at_foot = select(a.id).where(a.dam_id.in_(members), a.id.not_in(anywhere))
    return members | set(conn.scalars(at_foot))
