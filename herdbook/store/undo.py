"""Undo and redo from the journal: the rows of an act are put back, the last changed first."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from itertools import groupby

from sqlalchemy import Connection, MetaData, Table, select, update

from herdbook.store.errors import NothingToRedo, NothingToUndo, UndoEndsHere, UndoFailed
from herdbook.store.journal import Act, ActRow, Entry, next_to_redo, next_to_undo, open_act

PAGE = 5_000
Change = tuple[str, str | None, str | None]
Row = dict[str, object]


def undo(conn: Connection, metadata: MetaData, *, who: str, revision: str) -> tuple[int, Entry]:
    """Undo the latest act that is not undone, as an act of its own.

    Returns
    -------
    act_id : int
        The open act that does the undoing.
    entry : Entry
        The act undone.

    Raises
    ------
    NothingToUndo, UndoEndsHere, UndoFailed
    """
    target = next_to_undo(conn)
    if target is None:
        raise NothingToUndo
    act_id = _take_back(conn, metadata, target, "undo", who, revision)
    _mark(conn, target.act_id, undone_by=act_id)
    return act_id, target


def redo(conn: Connection, metadata: MetaData, *, who: str, revision: str) -> tuple[int, Entry]:
    """Do the act undone last again: take its undoing back. Returns and raises as `undo` does."""
    target = next_to_redo(conn)
    if target is None or target.undoes is None:
        raise NothingToRedo
    act_id = _take_back(conn, metadata, target, "redo", who, revision)
    _mark(conn, target.act_id, undone_by=act_id)
    _mark(conn, target.undoes, undone_by=None)
    return act_id, target


def _mark(conn: Connection, act_id: int, *, undone_by: int | None) -> None:
    conn.execute(update(Act).where(Act.id == act_id).values(undone_by=undone_by))


def _take_back(
    conn: Connection, metadata: MetaData, target: Entry, kind: str, who: str, revision: str
) -> int:
    if target.revision != revision:
        raise UndoEndsHere
    act_id = open_act(conn, kind, {}, who=who, revision=revision, undoes=target.act_id)
    # Rows that point at each other come back one at a time: the keys are looked at when all are there.
    sqlite = conn.dialect.name == "sqlite"
    conn.exec_driver_sql("PRAGMA defer_foreign_keys=ON" if sqlite else "SET CONSTRAINTS ALL DEFERRED")
    for (name, step), changes in groupby(_changes(conn, target.act_id), key=_table_and_step):
        _put_back(conn, metadata.tables[name], step, list(changes))
    return act_id


def _changes(conn: Connection, act_id: int) -> Iterator[Change]:
    """Yield the changes of an act, the last first, a page at a time: an act may hold very many."""
    last: int | None = None
    while True:
        query = select(ActRow.id, ActRow.table_name, ActRow.before, ActRow.after)
        query = query.where(ActRow.act_id == act_id).order_by(ActRow.id.desc()).limit(PAGE)
        rows = conn.execute(query if last is None else query.where(ActRow.id < last)).all()
        for _, name, before, after in rows:
            yield name, before, after
        if len(rows) < PAGE:
            return
        last = rows[-1][0]


def _table_and_step(change: Change) -> tuple[str, str]:
    name, before, after = change
    return name, "delete" if before is None else "insert" if after is None else "update"


def _put_back(conn: Connection, table: Table, step: str, changes: Sequence[Change]) -> None:
    """Run one kind of step for neighbouring changes of one table as one batch."""
    quoted = conn.dialect.identifier_preparer.quote
    (key_column,) = table.primary_key.columns
    name, key = quoted(table.name), quoted(key_column.name)
    place = _places(conn)
    columns = list(table.columns)
    if step == "delete":
        sql = f"DELETE FROM {name} WHERE {key} = {place(key_column)}"
    elif step == "insert":
        names = ", ".join(quoted(column.name) for column in columns)
        sql = f"INSERT INTO {name} ({names}) VALUES ({', '.join(place(column) for column in columns)})"
    else:
        settings = ", ".join(f"{quoted(column.name)} = {place(column)}" for column in columns)
        sql = f"UPDATE {name} SET {settings} WHERE {key} = {place(key_column)}"
    rows: list[tuple[object, ...]] = []
    for _, before, after in changes:
        values: list[object] = []
        if before is not None:
            old = read_row(before)
            if any(column.name not in old for column in columns):
                raise UndoFailed(table.name)
            values += [old[column.name] for column in columns]
        if after is not None:
            values.append(read_row(after)[key_column.name])
        rows.append(tuple(values))
    done = conn.exec_driver_sql(sql, rows).rowcount
    # A server journals a cascade after the row that caused it, so that a row to remove may have gone with its
    # parent already.
    gone = step == "delete" and conn.dialect.name != "sqlite"
    if done != len(rows) and not gone:
        raise UndoFailed(f"{table.name}: {done}/{len(rows)}")


def _places(conn: Connection) -> Callable[..., str]:
    """Return what writes a column's place for a value; a server is told the type there."""
    if conn.dialect.name == "sqlite":
        return lambda _column: "?"
    return lambda column: f"CAST(%s AS {column.type.compile(conn.dialect)})"


def read_row(text: str) -> Row:
    """Return a row of the journal as column to value.

    Raises
    ------
    ValueError
        If the text is not what was written: the file is damaged.
    """
    try:
        return {column: read_value(quoted) for column, quoted in json.loads(text).items()}
    except (ValueError, TypeError, AttributeError, IndexError):
        raise ValueError("a row of the journal cannot be read") from None


def read_value(quoted: str) -> object:
    """Return the value that was written as quoted SQL text.

    Understood are ``NULL``, ``'text'``, PostgreSQL's ``E'te\\\\xt'``, ``X'00FF'`` (bytes), ``T'00FF'`` (text
    that holds a NUL, as hex of UTF-8), whole numbers and floats.
    """
    first = quoted[0]
    if first == "'":
        return quoted[1:-1].replace("''", "'")
    if first == "N":
        return None
    if first == "X":
        return bytes.fromhex(quoted[2:-1])
    if first == "T":
        return bytes.fromhex(quoted[2:-1]).decode()
    if first == "E":
        return quoted[2:-1].replace("''", "'").replace("\\\\", "\\")
    try:
        return int(quoted)
    except ValueError:
        return float(quoted)
