"""Putting a written happening right, or taking it back; the journal keeps what stood there before."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Work
from herdbook.services.commands.happenings import KINDS, Happened, column_values
from herdbook.services.registry import Refused, handles
from herdbook.store import tables as t

_BY_KIND = {kind.kind: kind for kind in KINDS}


@dataclass(frozen=True)
class Correct:
    """Replace what one happening says; `row` is its id and `now` says it anew."""

    row: int
    now: Happened


@dataclass(frozen=True)
class TakeBack:
    """Take one happening out of the book, because it never happened."""

    kind: str
    row: int


@handles(Correct)
def _correct(work: Work, command: Correct) -> None:
    row = work.session.get_one(command.now.table, command.row)
    if follow := _FOLLOW.get(command.now.kind):
        follow(work.session, row, command.now)
    for column, value in column_values(command.now).items():
        setattr(row, column, value)


def _leave_on(session: Session, row: Any, now: Any) -> None:
    """End on the right day what the departure ended on the wrong one: stay, group, bull run."""
    stay = session.scalars(
        select(t.Stay).where(t.Stay.animal_id == row.animal_id, t.Stay.to_day == row.day)
    ).first()
    if stay is not None and stay.from_day > now.day:
        raise Refused(
            Reason("left_before_came", "It came on {came}; it cannot leave before", {"came": stay.from_day})
        )
    for table in (t.Stay, t.Membership, t.BullRunFemale, t.BullRunBull):
        ended = (table.animal_id == row.animal_id, table.to_day == row.day, table.from_day <= now.day)
        session.execute(update(table).where(*ended).values(to_day=now.day))


def _arrive_on(session: Session, row: Any, now: Any) -> None:
    """Begin the stay on the right day."""
    stay = session.scalars(
        select(t.Stay).where(t.Stay.animal_id == row.animal_id, t.Stay.from_day == row.day)
    ).first()
    if stay is None:
        return
    if stay.to_day is not None and stay.to_day < now.day:
        raise Refused(
            Reason("came_after_left", "It left on {left}; it cannot come after", {"left": stay.to_day})
        )
    stay.from_day = now.day


def _reared(session: Session, row: Any) -> tuple[t.Rearing | None, t.Rearing | None]:
    """Return the rearing that a fostering began, and the one that it ended."""
    r = t.Rearing
    mine = select(r).where(r.animal_id == row.animal_id)
    began = session.scalars(mine.where(r.from_day == row.day, r.by_id.is_not_distinct_from(row.by_id)))
    ended = session.scalars(mine.where(r.to_day == row.day).order_by(r.id.desc()))
    return began.first(), ended.first()


def _foster_on(session: Session, row: Any, now: Any) -> None:
    """Let the right female rear it from the right day."""
    began, ended = _reared(session, row)
    if began is not None:
        began.from_day, began.by_id = now.day, now.by
    if ended is not None:
        ended.to_day = now.day


_FOLLOW: dict[str, Callable[[Session, Any, Any], None]] = {
    "departure": _leave_on,
    "arrival": _arrive_on,
    "fostering": _foster_on,
}
"""What hangs on a happening's day and must be put right with it."""


@handles(TakeBack)
def _take_back(work: Work, command: TakeBack) -> None:
    session = work.session
    if command.kind == "calving":
        raise Refused(
            Reason(
                "take_back_calving",
                "A calving holds its calves. Undo the birth or correct the calf; nothing was changed.",
                {},
            )
        )
    if command.kind in ("departure", "arrival"):
        raise Refused(
            Reason("take_back_stay", "Undo it in the history instead: where the animal was hangs on it.", {})
        )
    table = _BY_KIND[command.kind].table
    if command.kind == "fostering":
        began, ended = _reared(session, session.get_one(table, command.row))
        if began is not None:
            session.delete(began)
        if ended is not None:
            ended.to_day = None
    session.execute(delete(table).where(table.id == command.row))
