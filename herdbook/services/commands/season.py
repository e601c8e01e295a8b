"""Planning a season: keeping what a sort gave as a version of a plan, naming it, throwing a draft away."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import delete, func, select

from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Work
from herdbook.services.registry import Refused, handles
from herdbook.services.settings import load_settings
from herdbook.store import tables as t
from herdbook.store.happenings import utc_now


@dataclass(frozen=True)
class PlannedBull:
    """A bull of a plan on his own days, first and last counted; `by_hand` where his number was typed."""

    animal: int
    capacity: int
    fit_for_heifers: bool
    bull_in: date
    bull_out: date
    by_hand: bool = False


@dataclass(frozen=True)
class PlannedGroup:
    """Bulls that share a group of females; the first is the group's key."""

    bulls: tuple[PlannedBull, ...]
    capacity: int
    by_hand: bool = False
    paddock: int | None = None


@dataclass(frozen=True)
class Placed:
    """A female's place: with a group of bulls, not bred, to the finishing group or to sell.

    `bull` is the group's key, `inbreeding` her calf's figure with it, `known` False where that is a nil that
    rests on nothing, and `affected` the greatest chance of a calf with a heritable condition, None where
    nothing marks the mating.
    """

    animal: int
    place: str
    bull: int | None = None
    inbreeding: float | None = None
    code: str | None = None
    by_hand: bool = False
    reason: str | None = None
    affected: float | None = None
    known: bool = True


@dataclass(frozen=True)
class Chosen:
    """A choice made by hand: ``must`` and ``must_not`` with the group `bull`, ``place`` with a place."""

    animal: int
    kind: str
    bull: int | None = None
    place: str | None = None
    reason: str | None = None


@dataclass(frozen=True)
class Season:
    """All that a version of a season's plan holds.

    `asked` is what else the sort was asked, as JSON; `gap` by how much the answer might be too dear. `held`
    is the figure held against the limit where a sire is doubtful, as the book says when not given.
    """

    name: str
    bull_in: date
    bull_out: date
    limit: float
    groups: tuple[PlannedGroup, ...]
    places: tuple[Placed, ...]
    choices: tuple[Chosen, ...] = ()
    asked: str | None = None
    proven: bool = True
    gap: float = 0.0
    note: str | None = None
    held: str | None = None


@dataclass(frozen=True)
class KeepPlan:
    """Keep a sort as a draft: the next version of the plans of its name."""

    plan: Season


@dataclass(frozen=True)
class ChangePlan:
    """Give a plan another name or note; under a new name it becomes the next version of that name."""

    plan: int
    name: str
    note: str | None = None


@dataclass(frozen=True)
class DropPlan:
    """Throw a draft away; a plan that was accepted stays."""

    plan: int


@handles(KeepPlan)
def _keep(work: Work, command: KeepPlan) -> int:
    return keep(work, command.plan)


def keep(work: Work, season: Season) -> int:
    """Write a plan as the next version of its name; return its id."""
    name = _named(season.name)
    if season.bull_out < season.bull_in:
        values = {"out": season.bull_out, "day": season.bull_in}
        raise Refused(Reason("out_before_in", "Bull out ({out}) is before bull in ({day})", values))
    session = work.session
    plan = t.SeasonPlan(
        name=name,
        version=_next_version(work, name),
        made=utc_now(),
        bull_in=season.bull_in,
        bull_out=season.bull_out,
        limit_inbreeding=season.limit,
        held=season.held or load_settings(work.conn).inbreeding_held,
        asked=season.asked,
        proven=season.proven,
        gap=season.gap,
        note=season.note,
    )
    session.add(plan)
    session.flush()
    groups = _keep_groups(work, plan.id, season.groups)
    session.add_all(_places(plan.id, season.places, groups))
    session.add_all(_choices(plan.id, season.choices, groups))
    session.flush()
    return plan.id


def _named(name: str) -> str:
    if not name.strip():
        raise Refused(Reason("no_name", "The plan needs a name", {}))
    return name.strip()


def _next_version(work: Work, name: str) -> int:
    latest = work.session.scalar(select(func.max(t.SeasonPlan.version)).where(t.SeasonPlan.name == name))
    return (latest or 0) + 1


def _keep_groups(work: Work, plan: int, groups: Iterable[PlannedGroup]) -> dict[int, int]:
    """Write the groups with their bulls; return each group's id by its key."""
    keys: dict[int, int] = {}
    for position, group in enumerate(groups):
        row = t.PlanGroup(
            plan_id=plan,
            position=position,
            capacity=group.capacity,
            capacity_by_hand=group.by_hand,
            paddock=group.paddock,
        )
        work.session.add(row)
        work.session.flush()
        keys[group.bulls[0].animal] = row.id
        work.session.add_all(
            t.PlanBull(
                plan_group_id=row.id,
                animal_id=bull.animal,
                from_day=bull.bull_in,
                to_day=bull.bull_out,
                capacity=bull.capacity,
                capacity_by_hand=bull.by_hand,
                fit_for_heifers=bull.fit_for_heifers,
            )
            for bull in group.bulls
        )
    return keys


def _places(plan: int, places: Iterable[Placed], groups: Mapping[int, int]) -> Iterable[t.PlanPlace]:
    for placed in places:
        yield t.PlanPlace(
            plan_id=plan,
            animal_id=placed.animal,
            place=placed.place,
            plan_group_id=None if placed.bull is None else groups[placed.bull],
            inbreeding=placed.inbreeding,
            known=placed.known,
            affected=placed.affected,
            code=placed.code,
            by_hand=placed.by_hand,
            reason=placed.reason,
        )


def _choices(plan: int, choices: Iterable[Chosen], groups: Mapping[int, int]) -> Iterable[t.PlanChoice]:
    for chosen in choices:
        yield t.PlanChoice(
            plan_id=plan,
            animal_id=chosen.animal,
            kind=chosen.kind,
            plan_group_id=None if chosen.bull is None else groups[chosen.bull],
            place=chosen.place,
            reason=chosen.reason,
        )


def plan_row(work: Work, plan: int) -> t.SeasonPlan:
    """Return a plan's row; refuses where there is none."""
    row = work.session.get(t.SeasonPlan, plan)
    if row is None:
        raise Refused(Reason("no_plan", "There is no such plan in the book any more", {}))
    return row


@handles(ChangePlan)
def _change(work: Work, command: ChangePlan) -> None:
    row, name = plan_row(work, command.plan), _named(command.name)
    if name != row.name:
        row.version = _next_version(work, name)
        row.name = name
    row.note = command.note


@handles(DropPlan)
def _drop(work: Work, command: DropPlan) -> None:
    row = plan_row(work, command.plan)
    if row.accepted is not None:
        template = "{name} was accepted on {day} and stays in the book; take the acceptance back first"
        raise Refused(Reason("plan_accepted", template, {"name": row.name, "day": row.accepted}))
    session = work.session
    session.execute(delete(t.PlanChoice).where(t.PlanChoice.plan_id == row.id))
    session.execute(delete(t.PlanPlace).where(t.PlanPlace.plan_id == row.id))
    groups = select(t.PlanGroup.id).where(t.PlanGroup.plan_id == row.id)
    session.execute(delete(t.PlanBull).where(t.PlanBull.plan_group_id.in_(groups)))
    session.execute(delete(t.PlanGroup).where(t.PlanGroup.plan_id == row.id))
    session.delete(row)
