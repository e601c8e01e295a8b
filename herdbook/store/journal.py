"""The journal: who did what and when, with each row as it was before and after.

The rows are written by triggers in the database, below everything that writes, so that the ORM, bulk
statements, raw SQL and cascades are all caught, and a write outside an act fails.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, MetaData, Row, Select, Table, insert, select, text
from sqlalchemy.orm import InstrumentedAttribute, Mapped, aliased, mapped_column

from herdbook.store.base import Base, Key, Label, Moment, Prose, Word, link
from herdbook.store.happenings import utc_now

_UNJOURNALED: dict[str, Any] = {"sqlite_autoincrement": True, "info": {"journaled": False}}
CURRENT_ACT = "herdbook.act"
"""The setting of a server session that holds the id of the open act."""


class Act(Base):
    """One act of a person: everything it changed was changed in one transaction.

    `words` is a JSON object of what the kind's sentence needs. `revision` is the form of the tables at the
    time: an act of an older form stays readable but is not undone. `undoes` is set on the acts that undo
    (kind ``undo``) and redo (kind ``redo``); `undone_by` on an act that is undone at present.
    """

    __tablename__ = "act"
    __table_args__ = _UNJOURNALED

    id: Mapped[Key]
    at: Mapped[Moment]
    who: Mapped[Label]
    kind: Mapped[Word] = mapped_column(index=True)
    words: Mapped[Prose]
    revision: Mapped[Word]
    undone_by: Mapped[int | None] = link("act.id")
    undoes: Mapped[int | None] = link("act.id")


class ActRow(Base):
    """One row changed by an act; `before` is empty for a new row and `after` for a removed one.

    Both are JSON objects of column to the value as quoted SQL text: JSON numbers would not keep every float
    and JSON has no bytes.
    """

    __tablename__ = "act_row"
    __table_args__ = _UNJOURNALED

    id: Mapped[Key]
    act_id: Mapped[int] = link("act.id")
    table_name: Mapped[Word]
    key: Mapped[int]
    before: Mapped[Prose | None]
    after: Mapped[Prose | None]


@dataclass(frozen=True)
class Entry:
    """One act as the history shows it.

    Parameters
    ----------
    act_id : int
    at : datetime
        UTC, without a zone.
    who, kind : str
    words : Mapping[str, object]
    revision : str
    undoes, undone_by : int or None
        The act that this one undid or did again; the act that undid this one.
    of_kind : str or None
        For ``undo`` and ``redo``: the kind of the act it was about, and in `of_words` its words.
    of_words : Mapping[str, object]
    """

    act_id: int
    at: datetime
    who: str
    kind: str
    words: Mapping[str, Any]
    revision: str
    undoes: int | None
    undone_by: int | None
    of_kind: str | None
    of_words: Mapping[str, Any]


def journaled(metadata: MetaData) -> list[Table]:
    """Return the tables whose changes are recorded, in an order in which parents come first."""
    return [table for table in metadata.sorted_tables if table.info.get("journaled", True)]


def open_act(
    conn: Connection,
    kind: str,
    words: Mapping[str, object],
    *,
    who: str,
    revision: str,
    undoes: int | None = None,
) -> int:
    """Begin an act within the transaction of `conn` and return its id."""
    result = conn.execute(
        insert(Act).values(
            at=utc_now(),
            who=who,
            kind=kind,
            words=json.dumps(words, ensure_ascii=False, default=str),
            revision=revision,
            undoes=undoes,
        )
    )
    (act_id,) = result.inserted_primary_key or (0,)
    if conn.dialect.name == "sqlite":
        conn.exec_driver_sql("INSERT INTO temp.open_act (act_id) VALUES (?)", (act_id,))
    else:
        _set_current(conn, str(act_id))
    return int(act_id)


def close_act(conn: Connection, act_id: int) -> frozenset[str]:
    """End the act, after which nothing can be written, and return the names of the tables it changed."""
    if conn.dialect.name == "sqlite":
        conn.exec_driver_sql("DELETE FROM temp.open_act")
    else:
        _set_current(conn, "")
    tables = conn.scalars(select(ActRow.table_name).where(ActRow.act_id == act_id).distinct())
    return frozenset(tables)


def _set_current(conn: Connection, value: str) -> None:
    conn.execute(text("SELECT set_config(:name, :value, true)"), {"name": CURRENT_ACT, "value": value})


def history(conn: Connection, limit: int) -> list[Entry]:
    """Return the last `limit` acts, the latest first."""
    return [_entry(row) for row in conn.execute(_entries().limit(limit))]


def next_to_undo(conn: Connection) -> Entry | None:
    """Return the latest act that is not undone, or None."""
    query = _entries().where(Act.undoes.is_(None), Act.undone_by.is_(None)).limit(1)
    return _entry_or_none(conn, query)


def next_to_redo(conn: Connection) -> Entry | None:
    """Return the latest undoing, where nothing new was done since it; or None."""
    fresh = aliased(Act)
    latest = select(fresh.id).where(fresh.undoes.is_(None)).order_by(fresh.id.desc()).limit(1)
    query = _entries().where(
        Act.kind == "undo",
        Act.undoes.is_not(None),
        Act.undone_by.is_(None),
        Act.id > latest.scalar_subquery(),
    )
    return _entry_or_none(conn, query.limit(1))


def read_words(text: str) -> dict[str, Any]:
    """Return the words of an act.

    Raises
    ------
    ValueError
        If the text is not what was written: the file is damaged.
    """
    try:
        return dict(json.loads(text))
    except (ValueError, TypeError):
        raise ValueError("the words of an act cannot be read") from None


def _entries() -> Select[*tuple[Any, ...]]:
    about, further = aliased(Act), aliased(Act)
    own = (Act.id, Act.at, Act.who, Act.kind, Act.words, Act.revision, Act.undoes, Act.undone_by)
    columns: list[InstrumentedAttribute[Any]] = [*own, about.kind, about.words, further.kind, further.words]
    return (
        select(*columns)
        .outerjoin(about, about.id == Act.undoes)
        .outerjoin(further, further.id == about.undoes)  # a redo undoes an undo, which undid the act meant
        .order_by(Act.id.desc())
    )


def _entry_or_none(conn: Connection, query: Select[*tuple[Any, ...]]) -> Entry | None:
    row = conn.execute(query).first()
    return _entry(row) if row is not None else None


def _entry(row: Row[*tuple[Any, ...]]) -> Entry:
    act_id, at, who, kind, words, revision, undoes, undone_by, *about = row
    of_kind, of_words = (about[2], about[3]) if about[2] is not None else (about[0], about[1])
    return Entry(
        act_id,
        at,
        who,
        kind,
        read_words(words),
        revision,
        undoes,
        undone_by,
        of_kind,
        read_words(of_words) if of_words else {},
    )
