"""Bull runs: turning bulls in with females, adding to a run, taking out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select, update

from herdbook.husbandry.reasons import Reason
from herdbook.services.asking import asks
from herdbook.services.book import Work
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


@handles(EndRun)
def _end_run(work: Work, command: EndRun) -> None:
    for side in (t.BullRunBull, t.BullRunFemale):
        still_in = (side.run_id == command.run, side.to_day.is_(None) | (side.to_day > command.day))
        work.session.execute(
            update(side).where(*still_in, side.from_day <= command.day).values(to_day=command.day)
        )


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
