"""Weaning weights made comparable: the adjusted 205-day weight of a calf and its ratio within its group."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, select
from sqlalchemy.orm import aliased

from herdbook.husbandry.days import age_months, earliest
from herdbook.husbandry.growth import (
    AGE_AT_WEANING,
    Adjusted,
    Weighed,
    WeightNow,
    adjusted_205,
    expected_weight,
    ratio_in,
)
from herdbook.store import tables as t


@dataclass(frozen=True)
class WeaningWeight:
    """One calf's weaning weight as weighed, adjusted to 205 days, and the ratio within sex and birth year."""

    animal: int
    dam: int | None
    sex: str
    year: int
    day: date
    kg: float
    age_days: int
    adjusted: Adjusted
    ratio: float | None
    group_size: int


@dataclass(frozen=True)
class Growth:
    """One animal's weaning weight beside its group's, and what it should weigh on the day.

    `now` is None where its own weighings tell no gain: no other gain is put in its place here.
    """

    weaning: WeaningWeight | None
    now: WeightNow | None


def growth_of(conn: Connection, animal: int, on: date) -> Growth:
    """Return how one animal grows, as of a day; its group is read, not the whole herd."""
    a, w = t.Animal, t.Weighing
    sex, born = conn.execute(select(a.sex, a.born).where(a.id == animal)).one()
    weaning: list[WeaningWeight] = []
    if sex is not None and born is not None:
        weaning = weaning_weights(conn, on, [animal], (sex, born.year))
    query = select(w.day, w.kg, w.method).where(w.animal_id == animal, w.day <= on).order_by(w.day, w.id)
    now = expected_weight([Weighed(*row) for row in conn.execute(query)], on, 0.0)
    return Growth(weaning[0] if weaning else None, now if now is not None and now.measured else None)


def weaning_weights(
    conn: Connection,
    on: date,
    animals: list[int] | None = None,
    group: tuple[str, int] | None = None,
) -> list[WeaningWeight]:
    """Return the weaning weight of every calf that was weighed at the age for it, up to a day.

    The weighing nearest to 205 days counts, taken by scale between 160 and 250 days of age; a calf weighed at
    another age, or of a birth known only roughly, is not compared. Steers stand with the males.

    Parameters
    ----------
    animals : list of int, optional
        Only these, each within its whole group.
    group : tuple of (sex, birth year), optional
        Only this group is read.
    """
    chosen = _nearest_to_weaning(conn, on, group)
    groups: dict[tuple[str, int], list[float]] = defaultdict(list)
    rows = []
    for row in chosen:
        adjusted = _adjust(row)
        rows.append((row, adjusted))
        if adjusted.kg is not None:
            groups[row.sex, row.born.year].append(adjusted.kg)
    totals = {key: math.fsum(kilos) for key, kilos in groups.items()}

    def ratio_of(row: _Weaned, kg: float | None) -> float | None:
        key = row.sex, row.born.year
        return None if kg is None else ratio_in(kg, totals[key], len(groups[key]))

    wanted = None if animals is None else set(animals)
    return [
        WeaningWeight(
            animal=row.id,
            dam=row.dam_id,
            sex=row.sex,
            year=row.born.year,
            day=row.day,
            kg=row.kg,
            age_days=(row.day - row.born).days,
            adjusted=adjusted,
            ratio=ratio_of(row, adjusted.kg),
            group_size=len(groups[row.sex, row.born.year]),
        )
        for row, adjusted in rows
        if wanted is None or row.id in wanted
    ]


def _nearest_to_weaning(conn: Connection, on: date, group: tuple[str, int] | None) -> list[Any]:
    a, w, dam, first = t.Animal, t.Weighing, aliased(t.Animal), aliased(t.Weighing)
    query = (
        select(a.id, a.dam_id, a.sex, a.born, w.day, w.kg, dam.born, dam.born_precision, first.kg)
        .join(w, w.animal_id == a.id)
        .outerjoin(dam, dam.id == a.dam_id)
        .outerjoin(first, (first.animal_id == a.id) & (first.stage == "birth"))
        .where(
            a.born.is_not(None),
            a.born_precision == "day",
            a.sex.is_not(None),
            w.method == "scale",
            w.day <= on,
        )
        .order_by(a.id, w.day)
    )
    if group is not None:
        sex, year = group
        query = query.where(a.sex == sex, a.born >= date(year, 1, 1), a.born <= date(year, 12, 31))
    best: dict[int, Any] = {}
    rows: Any = conn.execute(query)
    for row in rows:
        named = _Weaned(*row)
        age = (named.day - named.born).days
        if not AGE_AT_WEANING[0] <= age <= AGE_AT_WEANING[1]:
            continue
        other = best.get(named.id)
        if other is None or abs(age - 205) < abs((other.day - other.born).days - 205):
            best[named.id] = named
    return list(best.values())


@dataclass(frozen=True)
class _Weaned:
    id: int
    dam_id: int | None
    sex: str
    born: date
    day: date
    kg: float
    dam_born: date | None
    dam_precision: str | None
    birth_kg: float | None


def _adjust(row: _Weaned) -> Adjusted:
    dam_first = earliest(row.dam_born, row.dam_precision or "day") if row.dam_born else None
    return adjusted_205(
        row.kg,
        (row.day - row.born).days,
        sex=row.sex,
        birth_kg=row.birth_kg,
        dam_years=None if dam_first is None else age_months(dam_first, row.born) // 12,
    )


def ratios_by_dam(conn: Connection, on: date) -> dict[int, tuple[float, ...]]:
    """Return each dam's calves' ratios, oldest first; groups of one give none."""
    found: dict[int, list[float]] = defaultdict(list)
    for row in sorted(weaning_weights(conn, on), key=lambda weight: weight.day):
        if row.dam is not None and row.ratio is not None and row.group_size > 1:
            found[row.dam].append(row.ratio)
    return {dam: tuple(ratios) for dam, ratios in found.items()}
