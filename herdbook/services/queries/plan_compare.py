"""Plans side by side: what each gives by the figures kept with it, and the females they place otherwise."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, case, func, select

from herdbook.husbandry.duedates import run_window
from herdbook.husbandry.reasons import Reason
from herdbook.services.breeds import days_for
from herdbook.services.queries.plans import PlanRow, figures, plans
from herdbook.services.registry import Refused
from herdbook.services.settings import load_settings
from herdbook.store import tables as t

Due = tuple[date, date]


@dataclass(frozen=True)
class GroupOfPlan:
    """A group of bulls of a plan: its days, how many females of how many, and its calves' figures and days.

    `mean`, `worst`, `known_mean` and `not_known` are as in `PlanRow`.
    `due` is the first and the last day on which its calves are due; None where it has no females.
    """

    key: int
    words: str
    bull_in: date
    bull_out: date
    females: int
    capacity: int
    mean: float | None
    worst: float | None
    known_mean: float | None
    not_known: int
    due: Due | None


@dataclass(frozen=True)
class PlanSide:
    """A plan in a comparison; `at_risk` are matings with a marked chance of an affected calf."""

    row: PlanRow
    groups: tuple[GroupOfPlan, ...]
    over_limit: int
    at_risk: int
    by_hand: int
    due: Due | None


@dataclass(frozen=True)
class PlaceIn:
    """Where a female stands in one of the plans: a place, with whom, and her calf's figure there.

    `known` is False where that is nil and rests on nothing.
    """

    place: str
    bulls: str | None
    inbreeding: float | None
    known: bool = True


@dataclass(frozen=True)
class Differs:
    """A female whom the plans place otherwise; None for a plan that does not know her."""

    animal: int
    tag: str
    name: str | None
    places: tuple[PlaceIn | None, ...]


@dataclass(frozen=True)
class Comparison:
    """Plans side by side, in the order asked for."""

    plans: tuple[PlanSide, ...]
    differ: tuple[Differs, ...]


def compare(conn: Connection, ids: Sequence[int]) -> Comparison:
    """Return plans side by side.

    Raises
    ------
    Refused
        When one of them is not in the book.
    """
    rows = {row.id: row for row in plans(conn, ids)}
    if set(ids) - rows.keys():
        raise Refused(Reason("no_plan", "There is no such plan in the book any more"))
    ids = list(dict.fromkeys(ids))
    groups = _groups(conn, ids)
    counts = _counts(conn, ids)
    sides = tuple(PlanSide(rows[one], groups[one], *counts[one], _whole(groups[one])) for one in ids)
    return Comparison(sides, tuple(_differing(conn, ids)))


def _whole(groups: Iterable[GroupOfPlan]) -> Due | None:
    each = [group.due for group in groups if group.due]
    return (min(first for first, _ in each), max(last for _, last in each)) if each else None


def _counts(conn: Connection, ids: Sequence[int]) -> dict[int, tuple[int, int, int]]:
    """Return of each plan how many are over its limit, at genetic risk, and placed by hand."""
    p, f = t.columns(t.SeasonPlan), t.columns(t.PlanPlace)
    over = func.sum(case((f.inbreeding > p.limit_inbreeding, 1), else_=0))
    risk = func.sum(case((f.affected.is_not(None), 1), else_=0))
    query = (
        select(p.id, over, risk, func.sum(case((f.by_hand, 1), else_=0)))
        .where(f.plan_id == p.id, p.id.in_(ids))
        .group_by(p.id)
    )
    found = dict.fromkeys(ids, (0, 0, 0))
    for plan, over_limit, at_risk, by_hand in conn.execute(query):
        found[plan] = int(over_limit), int(at_risk), int(by_hand)
    return found


@dataclass(frozen=True)
class _Bull:
    animal: int
    tag: str
    breed: str | None
    first: date
    last: date


def _groups(conn: Connection, ids: Sequence[int]) -> dict[int, tuple[GroupOfPlan, ...]]:
    g, b, a, f = (t.columns(table) for table in (t.PlanGroup, t.PlanBull, t.Animal, t.PlanPlace))
    bulls: Mapping[int, list[_Bull]] = defaultdict(list)
    query = (
        select(b.plan_group_id, a.id, a.tag, a.breed, b.from_day, b.to_day)
        .where(a.id == b.animal_id, g.id == b.plan_group_id, g.plan_id.in_(ids))
        .order_by(b.id)
    )
    for group, animal, tag, breed, first, last in conn.execute(query):
        bulls[group].append(_Bull(animal, tag, breed, first, last))
    breeds: Mapping[int, set[str | None]] = defaultdict(set)
    carried = select(f.plan_group_id, a.breed).where(a.id == f.animal_id, f.plan_id.in_(ids)).distinct()
    for group, breed in conn.execute(carried.where(f.plan_group_id.is_not(None))):
        breeds[group].add(breed)
    gestation = load_settings(conn).gestation_days
    query = (
        select(g.plan_id, g.id, g.capacity, g.paddock, func.count(f.id), *figures())
        .select_from(t.PlanGroup.__table__.outerjoin(t.PlanPlace.__table__, f.plan_group_id == g.id))
        .where(g.plan_id.in_(ids))
        .group_by(g.plan_id, g.id, g.capacity, g.paddock, g.position)
        .order_by(g.plan_id, g.position)
    )
    found: dict[int, list[GroupOfPlan]] = {one: [] for one in ids}
    rows: Iterable[Any] = conn.execute(query)
    for plan, group, capacity, paddock, n, mean, worst, known, unknown in rows:
        his = bulls[group]
        found[plan].append(
            GroupOfPlan(
                his[0].animal,
                " + ".join(bull.tag for bull in his),
                min(bull.first for bull in his),
                max(bull.last for bull in his),
                n,
                capacity if paddock is None else min(capacity, paddock),
                mean,
                worst,
                known,
                unknown,
                _due(his, breeds[group], gestation),
            )
        )
    return {plan: tuple(each) for plan, each in found.items()}


def _due(bulls: Iterable[_Bull], breeds: Iterable[str | None], gestation: int | None) -> Due | None:
    """Return the first and last due day of a group, each female's days by the breeds of both."""
    windows = [
        run_window(bull.first, bull.last, days_for(breed, bull.breed, gestation))
        for bull in bulls
        for breed in breeds
    ]
    return (min(first for first, _ in windows), max(last for _, last in windows)) if windows else None


def _differing(conn: Connection, ids: Sequence[int]) -> Iterable[Differs]:
    """Yield the females that are not with the same bulls, or left out in the same way, in all the plans."""
    f, a, g, b = (t.columns(table) for table in (t.PlanPlace, t.Animal, t.PlanGroup, t.PlanBull))
    words: Mapping[int, list[str]] = defaultdict(list)
    named = select(b.plan_group_id, a.tag).where(
        a.id == b.animal_id, g.id == b.plan_group_id, g.plan_id.in_(ids)
    )
    for group, tag in conn.execute(named.order_by(b.id)):
        words[group].append(tag)
    at = {plan: column for column, plan in enumerate(ids)}
    places: dict[int, list[PlaceIn | None]] = {}
    who: dict[int, tuple[str, str | None]] = {}
    query = (
        select(f.plan_id, a.id, a.tag, a.name, f.place, f.plan_group_id, f.inbreeding, f.known)
        .where(a.id == f.animal_id, f.plan_id.in_(ids))
        .order_by(a.tag_key, a.id)
    )
    for plan, animal, tag, name, place, group, *figure in conn.execute(query):
        who[animal] = tag, name
        bulls = " + ".join(words[group]) if group is not None else None
        places.setdefault(animal, [None] * len(ids))[at[plan]] = PlaceIn(place, bulls, *figure)
    for animal, each in places.items():
        if len({(one.place, one.bulls) if one else None for one in each}) > 1:
            yield Differs(animal, *who[animal], tuple(each))
