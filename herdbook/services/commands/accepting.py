"""Accepting a season's plan: the bull runs and the moves that follow from it, and taking that back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import delete, exists, func, or_, select, update

from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Work
from herdbook.services.commands.moving import into_group, standing_group, take_moves_back
from herdbook.services.commands.season import Season, keep, plan_row
from herdbook.services.facts import load_herd, present
from herdbook.services.registry import Refused, handles
from herdbook.store import tables as t
from herdbook.words import say


@dataclass(frozen=True)
class AcceptPlan:
    """Accept a plan, kept before (its id) or as it stands on the page; write what follows from it.

    `day` is the day of accepting: who goes to finish or to be sold moves on it, and who has left by then is
    passed over. With `instead` it takes the place of the plans accepted before for days that it shares; else
    it is refused beside them.
    """

    plan: int | Season
    day: date
    instead: bool = False


@dataclass(frozen=True)
class WithdrawPlan:
    """Make an accepted plan a draft again: its runs and the moves from `day` on go, if none has begun."""

    plan: int
    day: date


@handles(AcceptPlan)
def _accept(work: Work, command: AcceptPlan) -> int:
    plan = command.plan if isinstance(command.plan, int) else keep(work, command.plan)
    row = plan_row(work, plan)
    if row.accepted is not None and row.replaced is None:
        values = {"name": row.name, "day": row.accepted}
        raise Refused(Reason("plan_accepted", "{name} was accepted already, on {day}", values))
    _bulls_can(work, row, command.day)
    for other in _overlapping(work, row):
        if not command.instead:
            template = (
                "{name} was accepted on {day} for days that this plan shares: accept this one in its place, "
                "take that one back, or choose other days"
            )
            raise Refused(Reason("accepted_before", template, {"name": other.name, "day": other.accepted}))
        _take_back(work, other, command.day)
        other.replaced = command.day
    row.accepted, row.replaced = command.day, None
    _write_runs(work, row, command.day)
    _write_moves(work, row, command.day)
    return plan


@handles(WithdrawPlan)
def _withdraw(work: Work, command: WithdrawPlan) -> None:
    row = plan_row(work, command.plan)
    if row.accepted is None or row.replaced is not None:
        raise Refused(Reason("not_accepted", "{name} is not an accepted plan", {"name": row.name}))
    _take_back(work, row, command.day)
    row.accepted = None


def _bulls_can(work: Work, plan: t.SeasonPlan, day: date) -> None:
    """Refuse a plan one of whose bulls has left since it was kept, or is castrated.

    A bull that was not here then, as one to be hired, may come yet.
    """
    b, g, s = t.PlanBull, t.PlanGroup, t.Stay
    bulls = list(
        work.session.scalars(
            select(b.animal_id).where(b.plan_group_id.in_(select(g.id).where(g.plan_id == plan.id)))
        )
    )
    gone = set(
        work.session.scalars(
            select(s.animal_id).where(
                s.animal_id.in_(bulls),
                s.to_day.between(plan.made.date(), day),
                s.animal_id.not_in(present(day)),
            )
        )
    )
    for facts in load_herd(work.conn, day, bulls, measured=False).values():
        if facts.id in gone:
            template = "{tag} is not here any more: open the plan, take him out and sort again"
            raise Refused(Reason("bull_left", template, {"tag": facts.tag}))
        if facts.castrated is not None and not facts.entire_again:
            template = "{tag} is castrated: open the plan, which then does without him, and sort again"
            raise Refused(Reason("not_a_bull", template, {"tag": facts.tag}))


def _overlapping(work: Work, plan: t.SeasonPlan) -> list[t.SeasonPlan]:
    """Return the accepted plans that share a day with this one, by the season or by the days of a bull."""
    p, g, b = t.SeasonPlan, t.PlanGroup, t.PlanBull
    bulls = select(func.min(b.from_day), func.max(b.to_day)).where(
        b.plan_group_id.in_(select(g.id).where(g.plan_id == plan.id))
    )
    first, last = work.session.execute(bulls).one()
    first, last = min(first or plan.bull_in, plan.bull_in), max(last or plan.bull_out, plan.bull_out)
    theirs = exists().where(g.plan_id == p.id, b.plan_group_id == g.id, b.from_day <= last, b.to_day >= first)
    query = select(p).where(
        p.accepted.is_not(None),
        p.replaced.is_(None),
        p.id != plan.id,
        or_((p.bull_in <= last) & (p.bull_out >= first), theirs),
    )
    return list(work.session.scalars(query.order_by(p.id)))


def _take_back(work: Work, plan: t.SeasonPlan, day: date) -> None:
    """Take the runs and coming moves of an accepted plan out of the book; refuses once a run has begun."""
    session = work.session
    runs = select(t.BullRun.id).where(t.BullRun.plan_id == plan.id)
    b = t.BullRunBull
    begun = session.execute(
        select(t.Animal.tag, b.from_day)
        .where(t.Animal.id == b.animal_id, b.run_id.in_(runs), b.from_day <= day)
        .order_by(b.from_day, b.id)
        .limit(1)
    ).first()
    if begun is not None:
        template = (
            "{name} has begun: {tag} went in on {day}. Nothing was changed. Take single animals out of his "
            "run or put others in, end it, or plan from a day after it"
        )
        values = {"name": plan.name, "tag": begun.tag, "day": begun.from_day}
        raise Refused(Reason("plan_begun", template, values))
    for side in (t.BullRunFemale, t.BullRunBull):
        session.execute(delete(side).where(side.run_id.in_(runs)))
    session.execute(delete(t.BullRun).where(t.BullRun.plan_id == plan.id))
    take_moves_back(session, plan.id, day)
    m = t.Membership  # moves made before `day` stand, but hang on no plan any more
    session.execute(update(m).where(m.plan_id == plan.id).values(plan_id=None))


@dataclass(frozen=True)
class _InGroup:
    """A group of the plan that has females: its bulls with tags and days, and the females."""

    bulls: tuple[tuple[int, str, date, date], ...]
    females: tuple[int, ...]

    @property
    def words(self) -> str:
        return " + ".join(tag for _, tag, _, _ in self.bulls)

    @property
    def first(self) -> date:
        return min(first for _, _, first, _ in self.bulls)

    @property
    def last(self) -> date:
        return max(last for _, _, _, last in self.bulls)


def _groups(work: Work, plan: int, day: date) -> Iterable[_InGroup]:
    """Yield the groups of a plan that have females who are here on a day."""
    b, g, f, a = t.PlanBull, t.PlanGroup, t.PlanPlace, t.Animal
    females: Mapping[int | None, list[int]] = defaultdict(list)
    bulls: Mapping[int, list[tuple[int, str, date, date]]] = defaultdict(list)
    placed = select(f.plan_group_id, f.animal_id).where(f.plan_id == plan, f.place == "bull")
    placed = placed.where(f.animal_id.in_(present(day))).order_by(f.id)
    for group, animal in work.session.execute(placed):
        females[group].append(animal)
    with_days = (
        select(b.plan_group_id, b.animal_id, a.tag, b.from_day, b.to_day)
        .where(a.id == b.animal_id, g.id == b.plan_group_id, g.plan_id == plan)
        .order_by(g.position, b.id)
    )
    for group, bull, tag, first, last in work.session.execute(with_days):
        bulls[group].append((bull, tag, first, last))
    for group, those in bulls.items():
        if females[group]:
            yield _InGroup(tuple(those), tuple(females[group]))


def _write_runs(work: Work, plan: t.SeasonPlan, day: date) -> None:
    """Write a run for each group: the females through all its days, each bull on his own."""
    session = work.session
    for group in _groups(work, plan.id, day):
        name = say("With {bulls}", bulls=group.words)
        kept = standing_group(session, "breeding", name, so_called=True)
        run = t.BullRun(name=f"{plan.name} {group.words}", group_id=kept, plan_id=plan.id)
        session.add(run)
        session.flush()
        session.add_all(
            t.BullRunBull(run_id=run.id, animal_id=bull, from_day=first, to_day=last)
            for bull, _, first, last in group.bulls
        )
        session.add_all(
            t.BullRunFemale(run_id=run.id, animal_id=female, from_day=group.first, to_day=group.last)
            for female in group.females
        )
        into_group(session, group.females, kept, group.first, plan=plan.id)
        for bull, _, first, last in group.bulls:
            into_group(session, (bull,), kept, first, until=last + timedelta(days=1), plan=plan.id)


def _write_moves(work: Work, plan: t.SeasonPlan, day: date) -> None:
    """Move who is to be finished or sold, each to the standing group of that purpose."""
    for place, purpose, name in (
        ("finishing", "finishing", say("Finishing")),
        ("sell", "sale", say("To sell")),
    ):
        f = t.PlanPlace
        query = select(f.animal_id).where(f.plan_id == plan.id, f.place == place)
        query = query.where(f.animal_id.in_(present(day))).order_by(f.id)
        moved = work.session.scalars(query).all()
        if moved:
            group = standing_group(work.session, purpose, name)
            into_group(work.session, moved, group, day, plan=plan.id)
