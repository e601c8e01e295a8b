"""The coming calvings as the Calving page shows them: the due list with the last sign seen of each female."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from sqlalchemy import Connection, select

from herdbook.husbandry.duedates import Stage
from herdbook.husbandry.labour import RULES, LabourRules
from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import load_herd
from herdbook.services.pedigree import load_pedigree
from herdbook.services.queries.due import DueRow, SireOf, due_rows
from herdbook.services.queries.happened import Happening, happenings
from herdbook.services.queries.risks import any_result, risk_table
from herdbook.services.queries.watch import SignSeen, rules_of, signs_of
from herdbook.services.saying import called
from herdbook.services.settings import load_settings
from herdbook.store import tables as t
from herdbook.words import say

SIGN_DAYS = 30
"""Signs older than this say nothing of the birth at hand. Common practice, no source."""


@dataclass(frozen=True)
class Coming(DueRow):
    """A female of the due list with the latest sign of birth seen of her."""

    sign: str | None
    sign_on: date | None

    @property
    def label(self) -> str:
        """Tag and name."""
        return called(self.tag, self.name)

    @property
    def close_up(self) -> bool:
        """Whether her day is near and not past."""
        return self.stage is not Stage.NOT_DUE and self.days_to_expected >= 0

    @property
    def past_due(self) -> bool:
        """Whether her expected day is past."""
        return self.days_to_expected < 0


@dataclass(frozen=True)
class Comings:
    """All coming calvings, soonest first, and how many females are here at all."""

    rows: tuple[Coming, ...]
    females: int


def coming_calvings(conn: Connection, on: date) -> Comings:
    """Return who is to calve, heifers first within a day."""
    herd = load_herd(conn, on)
    due = due_rows(conn, herd, on, load_settings(conn))
    signs = _signs(conn, due, on)
    rows = tuple(_coming(row, signs.get(row.animal)) for row in due)
    return Comings(rows, sum(facts.sex != "M" for facts in herd.values()))


def _coming(row: DueRow, seen: tuple[str, date] | None) -> Coming:
    known: dict[str, Any] = vars(row)
    sign, sign_on = seen or (None, None)
    return Coming(**known, sign=sign, sign_on=sign_on)


def _signs(conn: Connection, due: Sequence[DueRow], on: date) -> dict[int, tuple[str, date]]:
    """Return the latest sign of each female, if it is recent enough to tell of this birth."""
    first = {row.animal: row.conceived_first for row in due}
    s = t.Sign
    query = select(s.animal_id, s.what, s.day).where(s.day <= on).order_by(s.day, s.id)
    return {
        animal: (what, day)
        for animal, what, day in conn.execute(query)
        if animal in first and day >= first[animal] and (on - day).days <= SIGN_DAYS
    }


@dataclass(frozen=True)
class LookBack:
    """What lies behind a coming calving: what happened to her, and what conditions the calf may have.

    `risks` are sentences, each with the tag of the sire that it is about; `signs` are those of this birth,
    and `rules` say from when help is wanted.
    """

    happenings: tuple[Happening, ...]
    risks: tuple[tuple[str, Reason], ...]
    signs: tuple[SignSeen, ...] = ()
    rules: LabourRules = RULES


def look_back(conn: Connection, row: Coming, on: date) -> LookBack:
    """Return what lies behind a coming calving."""
    herd = load_herd(conn, on, [row.animal], measured=False)
    signs = signs_of(conn, herd, on).get(row.animal, ())
    rules = rules_of(load_settings(conn))
    return LookBack(happenings(conn, row.animal, on), coming_risks(conn, row, on), signs, rules)


def coming_risks(conn: Connection, row: Coming, on: date) -> tuple[tuple[str, Reason], ...]:
    """Return what marks the matings that may have made a coming calf; of an embryo the donor is the dam."""
    if not any_result(conn, on):
        return ()
    pedigree = load_pedigree(conn)
    donors = _donors(conn, row)
    found = []
    for sire in row.sires:
        dam = donors.get(sire.animal, row.animal)
        if dam is not None:
            table = risk_table(conn, pedigree, [dam], [sire.animal], on)
            found += [(called(sire.tag, sire.name), risk.reason) for risk in table.marked(0, 0)]
    return tuple(found)


def _donors(conn: Connection, row: Coming) -> dict[int, int | None]:
    """Return the donor of each embryo that may be the coming calf, by its sire."""
    s = t.Service
    query = select(s.sire_id, s.donor_id, s.day, s.embryo_days)
    query = query.where(s.animal_id == row.animal, s.how == "embryo")
    return {
        sire: donor
        for sire, donor, day, age in conn.execute(query.order_by(s.day))
        if sire is not None and day - timedelta(days=age or 0) >= row.conceived_first
    }


def possible_sires(sires: Sequence[SireOf]) -> str:
    """Return the sires of a coming calf in words: one alone, several with their chances by dates.

    Bulls that are equally likely ran together: dates tell nothing between them, so no figure is shown.
    """
    names = [sire.name or sire.tag for sire in sires]
    if len(sires) < 2:
        return "".join(names)
    if all(abs(sire.chance - sires[0].chance) < 1e-9 for sire in sires):
        return say("{first} or {last}", first=", ".join(names[:-1]), last=names[-1])
    return ", ".join(
        say("{bull} {chance:.0f}\N{NO-BREAK SPACE}%", bull=name, chance=100 * sire.chance)
        for name, sire in zip(names, sires, strict=True)
    )
