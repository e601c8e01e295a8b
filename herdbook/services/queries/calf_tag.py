"""The tag that the next calf is offered."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sqlalchemy import Connection, func, select

from herdbook.husbandry.tagging import Worn, next_tag
from herdbook.services.settings import load_settings
from herdbook.store import tables as t

LATEST = 60
"""How many of the latest calves are looked at."""


def next_calf_tag(conn: Connection, on: date, but: Sequence[str] = ()) -> str | None:
    """Return the next tag in the book's style for a calf born on a day; None where no style can be told.

    The style is that of the calves tagged last; before the first, the example among the settings.

    Parameters
    ----------
    but : sequence of str
        Tags that are given already, though not yet in the book: those of a twin.
    """
    given = {tag.casefold() for tag in but}
    a, i, c = t.Animal, t.Identity, t.CalvingCalf
    query = (
        select(a.tag, a.born)
        .join(c, c.calf_id == a.id)
        .where(a.born.is_not(None), a.born_precision == "day")
        .where(a.id.in_(select(i.animal_id).where(i.scheme == "farm")))
        .order_by(a.born.desc(), a.id.desc())
        .limit(LATEST)
    )
    latest = [Worn(tag, born.year) for tag, born in conn.execute(query) if born is not None]

    def taken(tag: str) -> bool:
        word = tag.casefold()
        return bool(
            word in given
            or conn.scalar(select(a.id).where(func.lower(a.tag) == word).limit(1))
            or conn.scalar(select(i.id).where(func.lower(i.value) == word).limit(1))
        )

    return next_tag(latest, on.year, taken, load_settings(conn).tag_style)
