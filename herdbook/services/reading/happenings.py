"""Rows of happenings: found to their animals, held against what is possible and what the book has already."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from herdbook.husbandry.days import latest
from herdbook.husbandry.partday import PartDay
from herdbook.services.reading.herd import Bad, Beast, Draft, Made, already
from herdbook.services.reading.rows import At, CheckRow, RunRow, ServiceRow, TreatmentRow, WeightRow
from herdbook.store import tables as t
from herdbook.words import say

Seen = set[tuple[Any, ...]]

# Beyond these a weight is asked about, never refused: common practice, no source.
_LEAST_KG, _MOST_KG = 15.0, 1300.0
_MOST_AT_BIRTH, _MOST_A_DAY = 80.0, 1.8


def read_happenings(draft: Draft, conn: Connection) -> None:
    """Take in runs, services, checks, weights and treatments."""
    _runs(draft, conn)
    _each(draft, conn, draft.plan.services, "services", t.Service, "animal_id day sire_id", _service)
    _each(
        draft,
        conn,
        draft.plan.checks,
        "pregnancy_checks",
        t.PregnancyCheck,
        "animal_id day result days",
        _check,
    )
    _each(draft, conn, draft.plan.weights, "weights", t.Weighing, "animal_id day kg", _weight)
    _each(
        draft,
        conn,
        draft.plan.treatments,
        "treatments",
        t.Treatment,
        "animal_id day product dose",
        _treatment,
    )


def ident(value: Any) -> Any:
    """Return what tells a value apart: the animal's id where the book has it, else the thing itself."""
    return (value.id if value.id is not None else value) if isinstance(value, Made) else value


def in_book(conn: Connection, table: Any, names: str) -> Seen:
    """Return the named columns of every row of a table."""
    return {tuple(row) for row in conn.execute(select(*(getattr(table, name) for name in names.split())))}


def _each(
    draft: Draft,
    conn: Connection,
    rows: Iterable[Any],
    count: str,
    table: Any,
    names: str,
    values_of: Callable[[Draft, Any], dict[str, Any]],
) -> None:
    """Take in the rows of one kind of happening, each of which is told apart by the named columns."""
    seen: Seen | None = None
    for row in rows:
        if seen is None:
            seen = in_book(conn, table, names)
        try:
            values = values_of(draft, row)
            key = tuple(ident(values[name]) for name in names.split())
            if key in seen:
                raise already()
        except Bad as error:
            draft.skip(row.at, error)
            continue
        seen.add(key)
        draft.rows[table].append(values)
        draft.counts[count] += 1


def possible(draft: Draft, beast: Beast, day: PartDay, at: At, name: str = "date") -> None:
    """Refuse a day before the animal's birth; ask about one outside its time here."""
    born = beast.oldest_birth
    if born is not None and latest(day.day, day.precision) < born:
        raise Bad(
            name, say("{tag} was born on {born}, after {day}.", tag=beast.tag, born=beast.born, day=day)
        )
    if not beast.here and not (beast.row and beast.row.reason_left):
        text = say(
            "{tag} is known by name only, and something happened to it on {day}.", tag=beast.tag, day=day
        )
        draft.ask("known_by_name", text, [beast.tag], at, name)
    elif beast.gone is not None and day.day > beast.gone:
        text = say("{tag} had left before {day}.", tag=beast.tag, day=day)
        draft.ask("after_leaving", text, [beast.tag], at, name)


def _base(draft: Draft, beast: Beast, day: PartDay, at: At) -> dict[str, Any]:
    possible(draft, beast, day, at)
    return {"animal_id": beast, "day": day.day, "day_precision": day.precision}


def _service(draft: Draft, row: ServiceRow) -> dict[str, Any]:
    dam = draft.herd.one(row.dam, "dam", row.day.day, "F")
    sire = bull(draft, row.sire) if row.sire else None
    return _base(draft, dam, row.day, row.at) | {"sire_id": sire, "note": row.note}


def bull(draft: Draft, text: str) -> Beast:
    """Return the bull that `text` means, known by name only where the book has none."""
    try:
        found = draft.herd.named(text, "M")
    except Bad as error:
        raise Bad("sire", str(error)) from None
    if found.sex == "F":
        raise Bad("sire", say("{tag} is a female.", tag=text))
    if found.sex is None and found.coming:
        found.sex = "M"
    return found


def _check(draft: Draft, row: CheckRow) -> dict[str, Any]:
    dam = draft.herd.one(row.dam, "dam", row.day.day, "F")
    return _base(draft, dam, row.day, row.at) | {"result": row.result, "days": row.days, "note": row.note}


def _weight(draft: Draft, row: WeightRow) -> dict[str, Any]:
    beast = draft.herd.one(row.tag, "tag", row.day.day)
    values = _base(draft, beast, row.day, row.at) | {"kg": row.kg, "unit": row.unit}
    ask_weight(draft, beast, row.day, row.kg, row.unit, row.at)
    return values


def ask_weight(draft: Draft, beast: Beast, day: PartDay, kg: float, unit: str, at: At) -> None:
    """Ask about a weight that is hardly possible at any age, or at this one."""
    most = _MOST_KG
    if beast.oldest_birth is not None:
        age = max(0, (latest(day.day, day.precision) - beast.oldest_birth).days)
        most = min(most, _MOST_AT_BIRTH + _MOST_A_DAY * age)
    if not _LEAST_KG <= kg <= most:
        text = say("Is {kg:.0f} kg right for {tag} on {day}? It was read in {unit}.",
                   kg=kg, tag=beast.tag, day=day, unit=unit)  # fmt: skip
        draft.ask("weight_doubtful", text, [beast.tag], at, "weight")


def _treatment(draft: Draft, row: TreatmentRow) -> dict[str, Any]:
    beast = draft.herd.one(row.tag, "tag", row.day.day)
    return _base(draft, beast, row.day, row.at) | {
        "product": row.product,
        "meat_days": row.meat_days,
        "dose": row.dose,
        "batch": row.batch,
        "reason": row.reason,
    }


def twice_on_a_day(draft: Draft) -> None:
    """Ask about animals with two different weights on one day."""
    weights: dict[tuple[Beast, date], int] = defaultdict(int)
    for values in draft.rows.get(t.Weighing, ()):
        weights[values["animal_id"], values["day"]] += 1
    for (beast, day), n in weights.items():
        if n > 1:
            text = say("{tag} has {n} weights on {day}; all were read in.", tag=beast.tag, n=n, day=day)
            draft.ask("weighed_twice", text, [beast.tag])


def _runs(draft: Draft, conn: Connection) -> None:
    """Take in bull runs: the rows with one bull and the same days are one run."""
    if not draft.plan.runs:
        return
    seen = _runs_in_book(conn)
    runs: dict[tuple[Any, ...], Made] = {}
    for row in draft.plan.runs:
        try:
            sire, dam = _pair(draft, row)
            days = (row.first, row.last)
            key = (ident(sire), ident(dam), *days)
            if key in seen:
                raise already()
        except Bad as error:
            draft.skip(row.at, error)
            continue
        seen.add(key)
        if (sire, *days) not in runs:
            runs[(sire, *days)] = run = Made()
            draft.rows[t.BullRun].append({"": run, "name": None})
            draft.rows[t.BullRunBull].append(_ran(run, sire, row))
        draft.rows[t.BullRunFemale].append(_ran(runs[(sire, *days)], dam, row))
        draft.counts["bull_runs"] += 1


def _pair(draft: Draft, row: RunRow) -> tuple[Beast, Beast]:
    sire = bull(draft, row.sire)
    dam = draft.herd.one(row.dam, "dam", row.first, "F")
    day = PartDay(row.first)
    possible(draft, dam, day, row.at, "in")
    if sire.oldest_birth is not None and row.first < sire.oldest_birth:
        raise Bad("in", say("{tag} was born on {born}, after {day}.", tag=sire.tag, born=sire.born, day=day))
    return sire, dam


def _ran(run: Made, beast: Beast, row: RunRow) -> dict[str, Any]:
    return {"run_id": run, "animal_id": beast, "from_day": row.first, "to_day": row.last}


def _runs_in_book(conn: Connection) -> Seen:
    f, b = t.BullRunFemale, t.BullRunBull
    query = select(b.animal_id, f.animal_id, f.from_day, f.to_day).join(f, f.run_id == b.run_id)
    return {tuple(row) for row in conn.execute(query)}
