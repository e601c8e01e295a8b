"""Keeping and accepting a sort: the plan, and the bull runs and group moves that follow from it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select

from herdbook.services.book import Work
from herdbook.services.commands.animals import into_group
from herdbook.services.commands.running import TurnIn, turn_in
from herdbook.services.registry import handles
from herdbook.store import tables as t
from herdbook.store.happenings import utc_now


@dataclass(frozen=True)
class Placed:
    """A female's place: with a bull, not bred, to the finishing group or to sell."""

    animal: int
    place: str
    bull: int | None = None
    inbreeding: float | None = None
    code: str | None = None
    by_hand: bool = False
    reason: str | None = None


@dataclass(frozen=True)
class PlannedBull:
    """A bull of the plan with what he may have."""

    animal: int
    capacity: int
    fit_for_heifers: bool


@dataclass(frozen=True)
class AcceptSort:
    """Keep a sort as a plan, accept it, and write the bull runs and group moves that it means."""

    name: str
    bull_in: date
    bull_out: date
    limit: float
    bulls: tuple[PlannedBull, ...]
    places: tuple[Placed, ...]
    accepted: date


def _keep_plan(work: Work, command: AcceptSort) -> int:
    session = work.session
    latest = session.scalar(select(func.max(t.SeasonPlan.version)).where(t.SeasonPlan.name == command.name))
    plan = t.SeasonPlan(
        name=command.name,
        version=(latest or 0) + 1,
        made=utc_now(),
        bull_in=command.bull_in,
        bull_out=command.bull_out,
        limit_inbreeding=command.limit,
        accepted=command.accepted,
    )
    session.add(plan)
    session.flush()
    session.add_all(
        t.PlanBull(
            plan_id=plan.id, animal_id=b.animal, capacity=b.capacity, fit_for_heifers=b.fit_for_heifers
        )
        for b in command.bulls
    )
    session.add_all(
        t.PlanPlace(
            plan_id=plan.id,
            animal_id=p.animal,
            place=p.place,
            bull_id=p.bull,
            inbreeding=p.inbreeding,
            code=p.code,
            by_hand=p.by_hand,
            reason=p.reason,
        )
        for p in command.places
    )
    return plan.id


def _group_for(work: Work, purpose: str, name: str) -> int:
    """Return the standing group of that purpose, made on first need."""
    session = work.session
    found = session.scalar(
        select(t.Group.id)
        .where(t.Group.purpose == purpose, t.Group.ended.is_(None))
        .order_by(t.Group.id)
        .limit(1)
    )
    if found is None:
        group = t.Group(name=name, purpose=purpose)
        session.add(group)
        session.flush()
        found = group.id
    return found


@handles(AcceptSort)
def _accept(work: Work, command: AcceptSort) -> int:
    plan = _keep_plan(work, command)
    groups: dict[int, list[int]] = defaultdict(list)
    for placed in command.places:
        if placed.place == "bull" and placed.bull is not None:
            groups[placed.bull].append(placed.animal)
    for bull, females in groups.items():
        tag = work.session.scalar(select(t.Animal.tag).where(t.Animal.id == bull))
        run = TurnIn(
            bulls=(bull,),
            females=tuple(females),
            day=command.bull_in,
            out=command.bull_out,
            name=f"{command.name} {tag}",
            plan=plan,
        )
        turn_in(work, run)
    for place, purpose in (("finishing", "finishing"), ("sell", "sale")):
        moved = tuple(p.animal for p in command.places if p.place == place)
        if moved:
            into_group(work.session, moved, _group_for(work, purpose, purpose), command.accepted)
    return plan
