"""The medicine book: every treatment given, with the first day clear of it for meat."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from sqlalchemy import Connection, select

from herdbook.husbandry.finishing import Dose
from herdbook.services.facts import present
from herdbook.store import tables as t


@dataclass(frozen=True)
class TreatmentRow:
    """One treatment; `clear_on` is the first day clear of it alone, None where its days are not known."""

    row: int
    animal: int
    tag: str
    tag_key: str
    name: str | None
    care: str | None
    here: bool
    day: date
    last_day: date
    product: str
    batch: str | None
    dose: str | None
    route: str | None
    meat_days: float | None
    clear_on: date | None
    by_whom: str | None
    reason: str | None
    note: str | None

    def runs(self, on: date) -> bool:
        """Whether its meat period still runs on a day; one that is not known may."""
        return self.clear_on is None or on < self.clear_on


def treatments(conn: Connection, on: date, since: date | None = None) -> list[TreatmentRow]:
    """Return what was given up to a day, the latest first: also to animals that have left since.

    Parameters
    ----------
    conn : Connection
    on : date
    since : date, optional
        Leave out what was last given before this day; everything if None.
    """
    x, a = t.Treatment, t.Animal
    query = (
        select(
            *(x.id, a.id, a.tag, a.tag_key, a.name, a.care, a.id.in_(present(on)), x.day, x.last_day),
            *(x.product, x.batch, x.dose, x.route, x.meat_days, x.by_whom, x.reason, x.note),
        )
        .join(a, a.id == x.animal_id)
        .where(x.day <= on)
        .order_by(x.day.desc(), a.tag_key, x.id)
    )
    found = []
    for row in conn.execute(query):
        *first, day, last_day, product, batch, dose, route, days, by_whom, reason, note = row
        last = max(day, last_day or day)
        if since is None or last >= since:
            clear = _clear_on(last, days)
            given = (day, last, product, batch, dose, route, days, clear, by_whom, reason, note)
            values: list[Any] = [*first, *given]
            found.append(TreatmentRow(*values))
    return found


def running(conn: Connection, on: date) -> list[TreatmentRow]:
    """Return the treatments of the animals here whose meat period runs or is not known."""
    return [row for row in treatments(conn, on) if row.here and row.runs(on)]


def _clear_on(last: date, days: float | None) -> date | None:
    """Return the day after the last dose and the label's days; None where nobody typed them."""
    whole = Dose(last, days).whole_days()
    return None if whole is None else last + timedelta(days=whole + 1)
