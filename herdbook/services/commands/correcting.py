"""Putting a written happening right, or taking it back; the journal keeps what stood there before."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import delete

from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Work
from herdbook.services.commands.happenings import KINDS, Happened, column_values
from herdbook.services.registry import Refused, handles

_BY_KIND = {kind.kind: kind for kind in KINDS}


@dataclass(frozen=True)
class Correct:
    """Replace what one happening says; `row` is its id and `now` says it anew."""

    row: int
    now: Happened


@dataclass(frozen=True)
class TakeBack:
    """Take one happening out of the book, because it never happened."""

    kind: str
    row: int


@handles(Correct)
def _correct(work: Work, command: Correct) -> None:
    row = work.session.get_one(command.now.table, command.row)
    for column, value in column_values(command.now).items():
        setattr(row, column, value)


@handles(TakeBack)
def _take_back(work: Work, command: TakeBack) -> None:
    session = work.session
    if command.kind == "calving":
        raise Refused(
            Reason(
                "take_back_calving",
                "A calving holds its calves. Undo the birth or correct the calf; nothing was changed.",
                {},
            )
        )
    if command.kind in ("departure", "arrival"):
        raise Refused(
            Reason("take_back_stay", "Undo it in the history instead: where the animal was hangs on it.", {})
        )
    table = _BY_KIND[command.kind].table
    session.execute(delete(table).where(table.id == command.row))
