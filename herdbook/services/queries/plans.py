"""The plans of a season: what a sort is kept as, the versions there are, and opening one again as it was."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, case, func, select

from herdbook.husbandry.reasons import Reason
from herdbook.services.commands.accepting import AcceptPlan
from herdbook.services.commands.season import Chosen, KeepPlan, Placed, PlannedBull, PlannedGroup, Season
from herdbook.services.queries.sort_prices import prices_from
from herdbook.services.queries.sort_rows import (
    AskedBull,
    AskedGroup,
    BullGroup,
    Choice,
    Gathered,
    SortAsk,
    SortFemale,
    SortResult,
)
from herdbook.services.registry import Refused
from herdbook.store import tables as t
from herdbook.words import say

_AS_ROWS = frozenset("limit bull_in bull_out groups heifer_bulls not_for_heifers choices apart".split())
"""What a plan holds as rows of what a sort was asked; the rest goes into it as JSON."""


# -- keeping ---


def keep_command(
    result: SortResult, name: str = "", *, ask: SortAsk | None = None, note: str | None = None
) -> KeepPlan:
    """Return the command that keeps a placing as a draft, the next version of its name."""
    return KeepPlan(season_kept(result, name, ask=ask, note=note))


def accept_command(
    result: SortResult, on: date, name: str = "", *, ask: SortAsk | None = None, instead: bool = False
) -> AcceptPlan:
    """Return the command that keeps this placing, accepts it, and writes what follows from it.

    `instead` lets it take the place of what was accepted for the same days, while that has not begun.
    """
    return AcceptPlan(season_kept(result, name, ask=ask), on, instead)


def season_kept(
    result: SortResult, name: str = "", *, ask: SortAsk | None = None, note: str | None = None
) -> Season:
    """Return a placing as a plan holds it.

    Parameters
    ----------
    result : SortResult
    name : str
        "Season 2026" when not given.
    ask : SortAsk, optional
        What the sort was asked, which tells numbers typed by hand; without it none was.
    note : str, optional

    Raises
    ------
    Refused
        When choices made by hand clash: nobody is placed then, and that is no plan.
    """
    if result.clash:
        template = "Choices made by hand clash, and nobody is placed: take one of them back and sort again"
        raise Refused(Reason("clash", template))
    return Season(
        name=name or say("Season {year}", year=result.bull_in.year),
        bull_in=result.bull_in,
        bull_out=result.bull_out,
        limit=result.limit,
        groups=tuple(_planned(group, ask) for group in result.bull_groups),
        places=tuple(_places(result)),
        choices=tuple(_chosen(result)),
        asked=_asked(result, ask),
        proven=result.proven_optimal,
        gap=result.gap,
        note=note,
        held=result.ready.held,
    )


def _planned(group: BullGroup, ask: SortAsk | None) -> PlannedGroup:
    asked = {one.bulls[0].animal: one for one in (ask.groups or () if ask else ()) if one.bulls}
    mine = asked.get(group.animal)
    typed = {bull.animal for bull in mine.bulls if bull.capacity is not None} if mine else set()
    by_hand = mine is not None and mine.capacity is not None
    bulls = (
        PlannedBull(b.animal, b.capacity, b.fit_for_heifers, b.bull_in, b.bull_out, b.animal in typed)
        for b in group.bulls
    )
    return PlannedGroup(tuple(bulls), group.capacity, by_hand, group.paddock)


def _places(result: SortResult) -> Iterator[Placed]:
    of = {female.animal: female for female in result.females}
    for column, group in enumerate(result.groups):
        for one in group.females:
            choice = result.choices.get(one.animal)
            yield Placed(
                one.animal,
                "bull",
                group.bull,
                one.inbreeding,
                by_hand=one.by_hand,
                reason=(choice.reason or None) if choice else None,
                affected=_affected(of[one.animal], column),
                known=one.known,
            )
    for left in result.not_bred:
        chosen = left.animal in result.choices  # kept back on her card is no choice of the sort
        yield Placed(left.animal, left.place, code=left.code, by_hand=chosen, reason=str(left.reason))


def _affected(female: SortFemale, column: int) -> float | None:
    """Return the greatest chance of an affected calf that marks her mating there."""
    return max((risk.affected for risk in female.risks[column]), default=None) if female.risks else None


def _chosen(result: SortResult) -> Iterator[Chosen]:
    females = {female.animal for female in result.females}
    groups = {group.animal for group in result.bull_groups}
    for animal, choice in result.choices.items():
        if animal not in females:
            continue
        if choice.place != "bull":
            yield Chosen(animal, "place", place=choice.place, reason=choice.reason or None)
        elif choice.bull in groups:
            yield Chosen(animal, "must", bull=choice.bull, reason=choice.reason or None)
    for (animal, group), reason in result.ready.apart.items():
        if animal in females and group in groups:
            yield Chosen(animal, "must_not", bull=group, reason=reason or None)


def _asked(result: SortResult, ask: SortAsk | None) -> str:
    """Return what else was asked, as JSON."""
    ready = result.ready
    ask = ask or SortAsk(
        most_groups=ready.most_groups, least_group=ready.least_group, prices=ready.prices, held=ready.held
    )
    rest = {f.name: getattr(ask, f.name) for f in fields(ask) if f.name not in _AS_ROWS}
    return json.dumps(rest, default=asdict)


# -- the versions there are ---


@dataclass(frozen=True)
class PlanRow:
    """A version of a plan; `mean` and `worst` are the calves' inbreeding, None where nobody is bred.

    `mean` is that of all; people are told `known_mean`, of the calves whose figure rests on something, and
    how many are `not_known`.
    """

    id: int
    name: str
    version: int
    made: datetime
    bull_in: date
    bull_out: date
    limit: float
    accepted: date | None
    replaced: date | None
    note: str | None
    bred: int
    not_bred: int
    finishing: int
    sell: int
    mean: float | None
    worst: float | None
    known_mean: float | None
    not_known: int

    @property
    def state(self) -> str:
        """``draft``, ``accepted`` or ``replaced``."""
        return "replaced" if self.replaced else "accepted" if self.accepted else "draft"

    @property
    def words(self) -> str:
        """The name with the version."""
        return say("{name}, version {n}", name=self.name, n=self.version)


def plans(conn: Connection, ids: Iterable[int] | None = None) -> list[PlanRow]:
    """Return every version of every plan, or those asked for, the latest season and version first."""
    p, f = t.columns(t.SeasonPlan), t.columns(t.PlanPlace)

    def placed(word: str) -> Any:
        return func.coalesce(func.sum(case((f.place == word, 1), else_=0)), 0)

    names = "id name version made bull_in bull_out limit_inbreeding accepted replaced note"
    columns = [p[name] for name in names.split()]
    counts = [placed(word) for word in ("bull", "not_bred", "finishing", "sell")]
    query = (
        select(*columns, *counts, *figures())
        .select_from(t.SeasonPlan.__table__.outerjoin(t.PlanPlace.__table__, f.plan_id == p.id))
        .group_by(*columns)
        .order_by(p.bull_in.desc(), p.id.desc())
    )
    if ids is not None:
        query = query.where(p.id.in_(list(ids)))
    rows: Iterable[Any] = conn.execute(query)
    return [PlanRow(*row) for row in rows]


def figures() -> tuple[Any, ...]:
    """Return the columns that sum up the calves: mean, worst, mean of those known, how many are not known."""
    f = t.columns(t.PlanPlace)
    known = case((f.known, f.inbreeding), else_=None)
    not_known = func.coalesce(func.sum(case((f.known.is_(False), 1), else_=0)), 0)
    return func.avg(f.inbreeding), func.max(f.inbreeding), func.avg(known), not_known


def plan_called(conn: Connection, words: str) -> PlanRow:
    """Return the plan that words name: its name, for the latest version; name:version; or its number.

    Raises
    ------
    Refused
        When no plan is so called.
    """
    rows, said = plans(conn), words.strip().casefold()
    for row in sorted(rows, key=lambda row: -row.version):
        if said in (row.name.casefold(), f"{row.name}:{row.version}".casefold()):
            return row
    for row in rows:
        if said == str(row.id):
            return row
    template = "No plan is called {words}; the plans of this book are listed by: herdbook plans"
    raise Refused(Reason("no_plan", template, {"words": words}))


def accepted_plan(conn: Connection, first: date, last: date) -> PlanRow | None:
    """Return the plan that is accepted for days that these share, by its season or the days of a bull.

    The latest, if there are several. See `days_of` for the days of a sort.
    """
    p, g, b = t.columns(t.SeasonPlan), t.columns(t.PlanGroup), t.columns(t.PlanBull)
    bulls = select(g.plan_id).where(b.plan_group_id == g.id, b.from_day <= last, b.to_day >= first)
    query = (
        select(p.id)
        .where(p.accepted.is_not(None), p.replaced.is_(None))
        .where((p.bull_in <= last) & (p.bull_out >= first) | p.id.in_(bulls))
        .order_by(p.bull_in.desc(), p.id.desc())
        .limit(1)
    )
    found = conn.scalar(query)
    return None if found is None else plans(conn, [found])[0]


def days_of(ready: Gathered) -> tuple[date, date]:
    """Return the first and the last day of a sort: its season's, or those of a bull that is in beyond it."""
    first, last = ready.season
    groups = ready.bull_groups
    return min([first, *(g.bull_in for g in groups)]), max([last, *(g.bull_out for g in groups)])


# -- opening one ---


@dataclass(frozen=True)
class KeptPlace:
    """Where a female stood in a plan, with her calf's figures as they were then."""

    animal: int
    tag: str
    place: str
    group: int | None
    inbreeding: float | None
    known: bool
    affected: float | None
    code: str | None
    by_hand: bool
    reason: str | None


@dataclass(frozen=True)
class KeptPlan:
    """A version of a plan as it was kept: what the sort was asked, and each female's place.

    `held` is the figure that was held against the limit where a sire is doubtful; `capacities` has each
    group's number by its key.
    """

    row: PlanRow
    ask: SortAsk
    places: tuple[KeptPlace, ...]
    held: str
    proven: bool
    gap: float
    capacities: Mapping[int, int]


def plan(conn: Connection, plan_id: int) -> KeptPlan | None:
    """Return a version of a plan; None where there is none."""
    row = next(iter(plans(conn, [plan_id])), None)
    if row is None:
        return None
    p = t.columns(t.SeasonPlan)
    held, asked, proven, gap = conn.execute(
        select(p.held, p.asked, p.proven, p.gap).where(p.id == plan_id)
    ).one()
    keys, groups, fit, capacities = _groups(conn, plan_id)
    choices, apart = _choices(conn, plan_id, keys)
    ask = SortAsk(
        limit=row.limit,
        bull_in=row.bull_in,
        bull_out=row.bull_out,
        groups=groups,
        heifer_bulls=tuple(bull for bull, is_fit in fit.items() if is_fit),
        not_for_heifers=tuple(bull for bull, is_fit in fit.items() if not is_fit),
        choices=choices,
        apart=apart,
        **_read_asked(asked),
    )
    return KeptPlan(row, ask, tuple(_kept_places(conn, plan_id, keys)), held, proven, gap, capacities)


def _read_asked(text: str | None) -> dict[str, Any]:
    """Return the rest of what was asked; what this program does not know any more is left out."""
    known = {f.name for f in fields(SortAsk)} - _AS_ROWS
    told = json.loads(text) if text else {}
    if told.get("prices"):
        told["prices"] = prices_from(told["prices"])
    return {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in told.items()
        if name in known
    }


def _groups(
    conn: Connection, plan_id: int
) -> tuple[dict[int, int], tuple[AskedGroup, ...], dict[int, bool], dict[int, int]]:
    """Return the key of each group by its id, the groups as asked, who is fit for heifers, each number."""
    g, b = t.columns(t.PlanGroup), t.columns(t.PlanBull)
    bulls: dict[int, list[AskedBull]] = {}
    told: dict[int, tuple[int | None, int | None]] = {}
    fit: dict[int, bool] = {}
    rooms: dict[int, int] = {}
    query = (
        select(
            g.id, g.capacity, g.capacity_by_hand, g.paddock,
            b.animal_id, b.capacity, b.capacity_by_hand, b.from_day, b.to_day, b.fit_for_heifers,
        )
        .where(g.plan_id == plan_id, b.plan_group_id == g.id)
        .order_by(g.position, b.id)
    )  # fmt: skip
    for group, room, typed, paddock, bull, his, his_typed, first, last, is_fit in conn.execute(query):
        bulls.setdefault(group, []).append(AskedBull(bull, his if his_typed else None, first, last))
        told[group] = room if typed else None, paddock
        fit[bull] = is_fit
        rooms[bulls[group][0].animal] = room
    keys = {group: those[0].animal for group, those in bulls.items()}
    groups = tuple(AskedGroup(tuple(those), *told[group]) for group, those in bulls.items())
    return keys, groups, fit, rooms


def _choices(
    conn: Connection, plan_id: int, keys: Mapping[int, int]
) -> tuple[dict[int, Choice], dict[tuple[int, int], str]]:
    c = t.columns(t.PlanChoice)
    choices: dict[int, Choice] = {}
    apart: dict[tuple[int, int], str] = {}
    query = select(c.animal_id, c.kind, c.plan_group_id, c.place, c.reason)
    for animal, kind, group, place, reason in conn.execute(query.where(c.plan_id == plan_id).order_by(c.id)):
        if kind == "must_not":
            apart[animal, keys[group]] = reason or ""
        elif kind == "must":
            choices[animal] = Choice("bull", keys[group], reason or "")
        else:
            choices[animal] = Choice(place, None, reason or "")
    return choices, apart


def _kept_places(conn: Connection, plan_id: int, keys: Mapping[int, int]) -> Iterator[KeptPlace]:
    f, a = t.columns(t.PlanPlace), t.columns(t.Animal)
    names = "place plan_group_id inbreeding known affected code by_hand reason"
    columns = [f[name] for name in names.split()]
    query = (
        select(a.id, a.tag, *columns)
        .where(f.plan_id == plan_id, a.id == f.animal_id)
        .order_by(a.tag_key, a.id)
    )
    for animal, tag, place, group, *figures in conn.execute(query):
        yield KeptPlace(animal, tag, place, keys.get(group), *figures)
