"""What was written into the book since a moment, the latest first: each act in words, with its figures."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, select

from herdbook.husbandry.growth import average_daily_gain
from herdbook.husbandry.units import from_kg
from herdbook.services.demo import TELLER
from herdbook.services.history import entry_words
from herdbook.services.saying import called, day_words, listed
from herdbook.store import tables as t
from herdbook.store.journal import ActRow, Entry, history
from herdbook.words import say

LATEST = 300
"""How many acts are looked at."""

NAMED = 5
"""Of an act that wrote more than this, the first are told of and the others counted."""

_TOLD = {"calving": t.Calving, "weighing": t.Weighing, "treatment": t.Treatment}


@dataclass(frozen=True)
class Written:
    """One act that stands: its id, when it was written (UTC), what it was, and what it says."""

    act: int
    at: datetime
    words: str
    detail: str


@dataclass(frozen=True)
class Medicine:
    """A medicine as it was last given: its name and the days for meat that were written, if any."""

    product: str
    meat_days: float | None
    day: date


def written_since(conn: Connection, since: datetime, on: date) -> list[Written]:
    """Return the acts that were written from a moment (UTC, without a zone) on and are not undone.

    What the demonstration herd's story wrote is left out: nobody typed it.

    Parameters
    ----------
    on : date
        The day it is taken to be, for the wording of days.
    """
    acts = [e for e in history(conn, LATEST) if e.at >= since and _stands(e)]
    details = _details(conn, [e.act_id for e in acts], on)
    return [Written(e.act_id, e.at, entry_words(e), details.get(e.act_id, "")) for e in acts]


def _stands(entry: Entry) -> bool:
    return entry.undone_by is None and entry.undoes is None and entry.who != TELLER


def _details(conn: Connection, acts: list[int], on: date) -> dict[int, str]:
    """Return what the rows that each act added say, for the kinds that carry figures."""
    query = (
        select(ActRow.act_id, ActRow.table_name, ActRow.key)
        .where(ActRow.act_id.in_(acts), ActRow.table_name.in_(_TOLD), ActRow.before.is_(None))
        .order_by(ActRow.id)
    )
    rows: dict[int, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for act, table, key in conn.execute(query):
        rows[act][table].append(key)
    told = {}
    for act, kinds in rows.items():
        if "calving" in kinds:  # its calves' weights are told with them
            told[act] = _births(conn, kinds["calving"], on)
        elif "weighing" in kinds:
            told[act] = _weights(conn, kinds["weighing"], on)
        else:
            told[act] = _doses(conn, kinds["treatment"], on)
    return told


def _when(days: Iterable[date], on: date) -> list[str]:
    """Return the day in words where it is another than today."""
    return [day_words(day, on) for day in sorted(set(days)) if day != on][:1]


def _births(conn: Connection, calvings: list[int], on: date) -> str:
    k, c, a, w = t.Calving, t.CalvingCalf, t.Animal, t.Weighing
    query = (
        select(k.day, a.sex, c.fate, w.kg, w.unit)
        .join(c, c.calving_id == k.id)
        .join(a, a.id == c.calf_id)
        .outerjoin(w, (w.animal_id == a.id) & (w.stage == "birth"))
        .where(k.id.in_(calvings[:NAMED]))
        .order_by(c.id)
    )
    rows = conn.execute(query).all()
    told = [" ".join(_calf(*row[1:])) for row in rows]
    of = len(told) + len(calvings[NAMED:])
    return ", ".join([listed(told, NAMED, of), *_when((row[0] for row in rows), on)])


def _calf(sex: str | None, fate: str, kg: float | None, unit: str | None) -> Iterable[str]:
    yield say("heifer calf") if sex == "F" else say("bull calf")
    if kg is not None:
        yield _weight(kg, unit or "kg")
    if fate != "alive":
        yield say("born dead") if fate == "stillborn" else say("died")


def _weight(kg: float, unit: str) -> str:
    return f"{round(from_kg(kg, unit), 1):g} {unit}"


def _weights(conn: Connection, keys: list[int], on: date) -> str:
    w, a = t.Weighing, t.Animal
    query = select(w.id, w.animal_id, a.tag, a.name, w.day, w.kg, w.unit, w.method).join(
        a, a.id == w.animal_id
    )
    rows = conn.execute(query.where(w.id.in_(keys[:NAMED])).order_by(w.id)).all()
    few = rows[: NAMED - 1]
    before = _before(conn, few)
    told = []
    for row in few:
        gain = before.get(row.id)
        more = "" if gain is None else say(" ({gain:+.2f} kg a day)", gain=gain)
        told.append(f"{called(row.tag, row.name)} {_weight(row.kg, row.unit)}{more}")
    told += [row.tag for row in rows[NAMED - 1 :]]
    return ", ".join([listed(told, NAMED, len(keys)), *_when((row.day for row in rows), on)])


def _before(conn: Connection, rows: Iterable[Any]) -> dict[int, float]:
    """Return the gain since the weighing before, by the weighing's id; only where one can be told."""
    w, gains = t.Weighing, {}
    for row in rows:
        query = select(w.kg, w.day).where(
            w.animal_id == row.animal_id, w.method == row.method, w.day < row.day
        )
        last = conn.execute(query.order_by(w.day.desc(), w.id.desc()).limit(1)).first()
        gain = average_daily_gain(last[0], row.kg, (row.day - last[1]).days) if last else None
        if gain is not None:
            gains[row.id] = gain
    return gains


def _doses(conn: Connection, keys: list[int], on: date) -> str:
    d, a = t.Treatment, t.Animal
    query = select(d.product, d.meat_days, d.day, a.tag).join(a, a.id == d.animal_id)
    rows = conn.execute(query.where(d.id.in_(keys[:NAMED])).order_by(d.id)).all()
    days = rows[0].meat_days
    meat = say("days for meat not known, ask")
    if days is not None:
        meat = say("{days} days for meat", days=f"{days:g}")
    return ", ".join([rows[0].product, meat, *_when((row.day for row in rows), on)])


def medicines(conn: Connection, on: date) -> list[Medicine]:
    """Return the medicines given up to a day, each as it was given last, the latest first."""
    d = t.Treatment
    query = select(d.product, d.meat_days, d.day).where(d.day <= on).order_by(d.day.desc(), d.id.desc())
    found: dict[str, Medicine] = {}
    for product, days, day in conn.execute(query):
        found.setdefault(product.casefold(), Medicine(product, days, day))
    return list(found.values())
