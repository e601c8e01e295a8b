"""Moves between groups: whatever their order, one group a day; a plan's move goes as if it never was."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from herdbook.services.book import Work
from herdbook.services.commands.moving import into_group, take_moves_back
from herdbook.store import tables as t
from herdbook.store.happenings import utc_now
from tests.services.conftest import Herd

FIRST = date(2026, 1, 1)
DAYS = 12
Moves = list[tuple[int, int, int | None]]

moves = st.lists(st.tuples(st.integers(0, 2), st.integers(0, DAYS - 1), st.none()), max_size=5)
planned = st.tuples(st.integers(0, 2), st.integers(0, DAYS - 2), st.none() | st.integers(1, 5))
"""A plan moves an animal once, to stay or to go back some days later."""


def day(number: int) -> date:
    return FIRST + timedelta(days=number)


def where(work: Work, animal: int) -> list[set[int]]:
    """Return the groups that an animal is in on each day."""
    m = t.Membership
    work.session.flush()
    rows = work.session.execute(select(m.group_id, m.from_day, m.to_day).where(m.animal_id == animal)).all()
    return [
        {group for group, first, last in rows if first <= day(n) and (last is None or last > day(n))}
        for n in range(DAYS + 8)
    ]


def by_hand(written: Moves, groups: list[int]) -> list[set[int]]:
    """Return where she is by the simplest rule: the move written last of the latest day up to each day."""
    found = []
    for n in range(DAYS + 8):
        latest = max((when for _, when, _ in written if when <= n), default=None)
        last = [group for group, when, _ in written if when == latest]
        found.append({groups[last[-1]]} if last else set())
    return found


def world(work: Work) -> tuple[int, list[int], int]:
    """Return a new animal, three groups and a plan."""
    animal = t.Animal(tag="Eden", tag_key="eden", sex="F")
    groups = [t.Group(name=name, purpose="other") for name in ("Yard", "Hill", "Moor")]
    plan = t.SeasonPlan(
        name="2026",
        made=utc_now(),
        bull_in=FIRST,
        bull_out=FIRST,
        limit_inbreeding=0.0625,
        held="worst",
        proven=True,
    )
    work.session.add_all([animal, *groups, plan])
    work.session.flush()
    return animal.id, [group.id for group in groups], plan.id


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(moves)
def test_moves_in_any_order_leave_one_group_a_day(empty: Herd, written: Moves) -> None:
    with empty.book.act("move") as work:
        animal, groups, _ = world(work)
        for group, when, _ in written:
            into_group(work.session, [animal], groups[group], day(when))
        assert where(work, animal) == by_hand(written, groups)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(moves, planned, moves)
def test_a_plan_s_move_goes_as_if_it_never_was(
    empty: Herd, before: Moves, planned: tuple[int, int, int | None], after: Moves
) -> None:
    with empty.book.act("move") as work:
        animal, groups, plan = world(work)
        for group, when, _ in before:
            into_group(work.session, [animal], groups[group], day(when))
        group, when, many = planned
        until = None if many is None else day(when + many)
        into_group(work.session, [animal], groups[group], day(when), until=until, plan=plan)
        for group, when, _ in after:
            into_group(work.session, [animal], groups[group], day(when))
        assert all(len(there) <= 1 for there in where(work, animal))
        take_moves_back(work.session, plan, FIRST)
        assert where(work, animal) == by_hand([*before, *after], groups)
