"""Moves between groups: an animal is in one group at a time; a move fits in between those already written."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from herdbook.store.breeding import BullRun, BullRunBull
from herdbook.store.places import Group, Membership


def into_group(
    session: Session,
    animals: Sequence[int],
    group: int,
    day: date,
    *,
    until: date | None = None,
    plan: int | None = None,
) -> None:
    """Write that animals are in a group from `day` on, up to the next move that is written of each.

    Parameters
    ----------
    session : Session
    animals : sequence of int
    group : int
    day : date
        The first day there; the group before is left on it.
    until : date, optional
        The day on which they go back to where they were; they stay, when not given.
    plan : int, optional
        The accepted season plan that means the move.
    """
    session.flush()
    m = Membership
    query = select(m).where(m.animal_id.in_(animals), m.to_day.is_(None) | (m.to_day > day))
    written: dict[int, list[Membership]] = defaultdict(list)
    for row in session.scalars(query.order_by(m.from_day, m.id)):
        written[row.animal_id].append(row)
    left: list[int] = []
    for animal in animals:
        before = [row for row in written[animal] if row.from_day <= day]
        after = [row for row in written[animal] if row.from_day > day]
        if plan is None:
            after = _without_return(session, before, after)
            _back_to(session, after, group)
        # A row of no plan that ends with no other after it ends because the animal left the herd.
        ends = _first(*(row.from_day for row in after), *(row.to_day for row in before if not row.plan_id))
        stays = _first(ends, until)
        session.add(m(animal_id=animal, group_id=group, from_day=day, to_day=stays, plan_id=plan))
        if before and stays is not None and stays != ends:
            back = before[-1].group_id
            session.add(m(animal_id=animal, group_id=back, from_day=stays, to_day=ends, plan_id=plan))
        left += [row.id for row in before]
    session.execute(update(m).where(m.id.in_(left)).values(to_day=day))


def _first(*days: date | None) -> date | None:
    return min((day for day in days if day is not None), default=None)


def _without_return(
    session: Session, before: Sequence[Membership], after: Sequence[Membership]
) -> list[Membership]:
    """Take a plan's way back off, and return the other moves to come: moved by hand, none goes back by it."""
    back = [
        row
        for row in after
        if row.plan_id is not None
        and any(one.plan_id == row.plan_id and one.to_day == row.from_day for one in before)
    ]
    for row in back:
        session.delete(row)
    return [row for row in after if row not in back]


def _back_to(session: Session, after: Sequence[Membership], group: int) -> None:
    """Let a plan's move that comes next lead back to the group of a move by hand, if it leads back."""
    coming = after[0] if after else None
    if coming is None or coming.plan_id is None or coming.to_day is None:
        return
    back = next((row for row in after if row.from_day == coming.to_day and row is not coming), None)
    if back is None:
        whose = {"animal_id": coming.animal_id, "plan_id": coming.plan_id}
        ends = _first(*(row.from_day for row in after if row.from_day > coming.to_day))
        session.add(Membership(group_id=group, from_day=coming.to_day, to_day=ends, **whose))
    elif back.plan_id == coming.plan_id:
        back.group_id = group


def take_moves_back(session: Session, plan: int, day: date) -> None:
    """Take back the moves of a plan that begin on `day` or later: the group before goes on in their place."""
    session.flush()
    m = Membership
    moved = select(m.animal_id).where(m.plan_id == plan, m.from_day >= day)
    written: dict[int, list[Membership]] = defaultdict(list)
    query = select(m).where(m.animal_id.in_(moved)).order_by(m.from_day.desc(), m.id.desc())
    for row in session.scalars(query):
        written[row.animal_id].append(row)
    for rows in written.values():
        for move in [row for row in rows if row.plan_id == plan and row.from_day >= day]:
            rows.remove(move)
            before = next((row for row in rows if row.to_day == move.from_day), None)
            if before is not None:
                before.to_day = move.to_day
            session.delete(move)
    session.flush()


def follow_run(session: Session, run: int) -> None:
    """Let the bulls of an accepted plan's run be in its group as long as they are in the run by now.

    One that goes out sooner goes back sooner to where he was; one that was put in goes into the group.
    Females stay where they are until they are moved.
    """
    session.flush()
    plan, group = session.execute(select(BullRun.plan_id, BullRun.group_id).where(BullRun.id == run)).one()
    if plan is None or group is None:
        return
    m = Membership
    for bull in session.scalars(select(BullRunBull).where(BullRunBull.run_id == run)).all():
        his = select(m).where(m.animal_id == bull.animal_id)
        mine = his.where(m.group_id == group, m.plan_id == plan, m.from_day == bull.from_day)
        until = bull.to_day and bull.to_day + timedelta(days=1)
        row = session.scalars(mine.order_by(m.id.desc())).first()
        if row is None:
            into_group(session, (bull.animal_id,), group, bull.from_day, until=until, plan=plan)
        elif until is not None and (row.to_day is None or row.to_day > until):
            before = session.scalars(his.where(m.to_day == row.from_day).order_by(m.id.desc())).first()
            after = session.scalars(his.where(m.plan_id == plan, m.from_day == row.to_day)).first()
            if after is not None:
                after.from_day = until
            elif row.to_day is None and before is not None:
                session.add(
                    m(animal_id=row.animal_id, group_id=before.group_id, from_day=until, plan_id=plan)
                )
            row.to_day = until


def standing_group(session: Session, purpose: str, name: str, *, so_called: bool = False) -> int:
    """Return the standing group of a purpose, made on first need; with `so_called` only one of that name."""
    query = select(Group.id).where(Group.purpose == purpose, Group.ended.is_(None))
    if so_called:
        query = query.where(Group.name == name)
    found = session.scalar(query.order_by(Group.id).limit(1))
    if found is None:
        group = Group(name=name, purpose=purpose)
        session.add(group)
        session.flush()
        found = group.id
    return found
