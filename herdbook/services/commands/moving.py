"""Moves between groups: an animal is in one group at a time; a move fits in between those already written."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from sqlalchemy import select, update
from sqlalchemy.orm import Session

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
        after = [row.from_day for row in written[animal] if row.from_day > day]
        ends = min((end for end in (*after, *(row.to_day for row in before)) if end), default=None)
        stays = min((end for end in (ends, until) if end), default=None)
        session.add(m(animal_id=animal, group_id=group, from_day=day, to_day=stays, plan_id=plan))
        if before and stays is not None and stays != ends:
            back = before[-1].group_id
            session.add(m(animal_id=animal, group_id=back, from_day=stays, to_day=ends, plan_id=plan))
        left += [row.id for row in before]
    session.execute(update(m).where(m.id.in_(left)).values(to_day=day))


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
