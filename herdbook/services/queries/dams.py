"""Whose calf a found one may be: the females whose days fit and who have not calved."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import Connection

from herdbook.services.facts import load_herd
from herdbook.services.queries.due import due_rows
from herdbook.services.saying import called
from herdbook.services.settings import load_settings

LATE_DAYS = 17
"""Days past her last day for which she may still be the dam: the 99th percentile of gestation (299 of 282)
in an open data set of 24,732 AI-dated calvings."""


@dataclass(frozen=True)
class PossibleDam:
    """A female who may have had the calf, and how many days her own day lies off it."""

    animal: int
    words: str
    days_off: int


def possible_dams(conn: Connection, born: date, on: date) -> tuple[PossibleDam, ...]:
    """Return who may have had a calf born on a day and has not calved since; nearest day first."""
    then = load_herd(conn, born, measured=False)
    now = load_herd(conn, on, list(then), measured=False)
    found = []
    for row in due_rows(conn, then, born, load_settings(conn)):
        facts = now.get(row.animal)
        calved = facts is not None and any(c.day >= born - timedelta(days=1) for c in facts.calvings)
        if not calved and row.watch[0] <= born <= row.watch[1] + timedelta(days=LATE_DAYS):
            days = abs((row.expected - born).days)
            found.append(PossibleDam(row.animal, called(row.tag, row.name), days))
    return tuple(sorted(found, key=lambda dam: dam.days_off))
