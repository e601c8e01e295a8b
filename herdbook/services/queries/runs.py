"""Bull runs: those of a season, open or ahead, with their bulls and females."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, Select, select

from herdbook.services.saying import called
from herdbook.store import tables as t


@dataclass(frozen=True)
class InRun:
    """An animal's part in a run: first and last day both count; no last day while it is in."""

    animal: int
    tag: str
    name: str | None
    from_day: date
    to_day: date | None

    @property
    def words(self) -> str:
        """The tag with the name."""
        return called(self.tag, self.name)


@dataclass(frozen=True)
class RunRow:
    """A bull run; `last` is None while a bull is in with no day set for taking him out."""

    id: int
    name: str | None
    plan: int | None
    note: str | None
    bulls: tuple[InRun, ...]
    females: tuple[InRun, ...]
    first: date
    last: date | None

    @property
    def bull_words(self) -> str:
        """The bulls by tag and name."""
        return ", ".join(dict.fromkeys(bull.words for bull in self.bulls))

    def by_days(self) -> dict[tuple[date, date | None], list[InRun]]:
        """Return the bulls by their first and last day: those together, and those that follow one another."""
        parts: dict[tuple[date, date | None], list[InRun]] = defaultdict(list)
        for bull in self.bulls:
            parts[bull.from_day, bull.to_day].append(bull)
        return parts

    def state(self, on: date) -> str:
        """Return "ahead", "in" or "over", as it stands on a day."""
        if self.first > on:
            return "ahead"
        return "in" if self.last is None or self.last >= on else "over"


def runs(conn: Connection, first: date | None = None, last: date | None = None) -> list[RunRow]:
    """Return the runs that touch the days from `first` to `last`, in order of their first day."""
    r, b = t.columns(t.BullRun), t.columns(t.BullRunBull)
    wanted = select(r.id)
    if last is not None:
        wanted = wanted.where(r.id.in_(select(b.run_id).where(b.from_day <= last)))
    if first is not None:
        wanted = wanted.where(r.id.in_(select(b.run_id).where(b.to_day.is_(None) | (b.to_day >= first))))
    bulls, females = _sides(conn, t.BullRunBull, wanted), _sides(conn, t.BullRunFemale, wanted)
    found = []
    for run, name, plan, note in conn.execute(
        select(r.id, r.name, r.plan_id, r.note).where(r.id.in_(wanted))
    ):
        his = tuple(bulls.get(run, ()))
        if his:
            ends = [bull.to_day or date.max for bull in his]
            over = None if max(ends) == date.max else max(ends)
            starts = min(bull.from_day for bull in his)
            found.append(RunRow(run, name, plan, note, his, tuple(females.get(run, ())), starts, over))
    return sorted(found, key=lambda run: (run.first, run.id))


def runs_now(conn: Connection, on: date) -> list[RunRow]:
    """Return the runs that are under way or ahead on a day."""
    return [run for run in runs(conn, first=on) if run.state(on) != "over"]


def without_bull(conn: Connection, on: date) -> dict[tuple[int, str | None], list[InRun]]:
    """Return by run, with its name, the females whose days in it go on while no bull is in it or will be.

    Females that are with a bull in another run, or will be, are not among them.
    """
    f, b, a, r = (t.columns(x) for x in (t.BullRunFemale, t.BullRunBull, t.Animal, t.BullRun))
    other, his = (x.__table__.alias().c for x in (t.BullRunFemale, t.BullRunBull))
    goes_on = b.to_day.is_(None) | ((b.to_day >= on) & (b.to_day >= f.from_day))
    a_bull = select(b.id).where(b.run_id == f.run_id, goes_on).exists()
    elsewhere = (
        select(other.id)
        .where(other.animal_id == f.animal_id, other.to_day.is_(None) | (other.to_day >= on))
        .where(his.run_id == other.run_id, his.to_day.is_(None) | (his.to_day >= on))
        .exists()
    )
    query = (
        select(r.id, r.name, a.id, a.tag, a.name, f.from_day, f.to_day)
        .where(r.id == f.run_id, a.id == f.animal_id, f.to_day.is_(None) | (f.to_day >= on))
        .where(~a_bull, ~elsewhere)
        .order_by(r.id, a.tag_key)
    )
    found: dict[tuple[int, str | None], list[InRun]] = defaultdict(list)
    for run, name, *row in conn.execute(query):
        found[run, name].append(InRun(*row))
    return found


def _sides(
    conn: Connection, side: type[t.BullRunBull] | type[t.BullRunFemale], wanted: Select[Any]
) -> dict[int, list[InRun]]:
    """Return the bulls or the females of each of the runs wanted."""
    s, a = t.columns(side), t.columns(t.Animal)
    query = (
        select(s.run_id, a.id, a.tag, a.name, s.from_day, s.to_day)
        .where(a.id == s.animal_id, s.run_id.in_(wanted))
        .order_by(s.run_id, a.tag_key, s.id)
    )
    found: dict[int, list[InRun]] = defaultdict(list)
    for run, *row in conn.execute(query):
        found[run].append(InRun(*row))
    return found
