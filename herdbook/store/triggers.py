"""The triggers that write the journal, made from the tables' own definition."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

from sqlalchemy import Column, Connection, MetaData, String, Table

from herdbook.store.journal import CURRENT_ACT, journaled

UNRECORDED = "unrecorded write: no act is open"

_FUNCTION = f"""
CREATE OR REPLACE FUNCTION herdbook_journal() RETURNS trigger LANGUAGE plpgsql AS $body$
DECLARE
    act text := coalesce(current_setting('{CURRENT_ACT}', true), '');
    old_row text;
    new_row text;
BEGIN
    IF act = '' THEN
        RAISE EXCEPTION USING MESSAGE = '{UNRECORDED} (' || TG_TABLE_NAME || ')';
    END IF;
    IF TG_OP = 'TRUNCATE' THEN
        RAISE EXCEPTION USING MESSAGE = 'unrecorded write: TRUNCATE of ' || TG_TABLE_NAME;
    END IF;
    IF TG_OP <> 'INSERT' THEN
        SELECT json_object_agg(key, quote_nullable(value)) INTO old_row FROM jsonb_each_text(to_jsonb(OLD));
    END IF;
    IF TG_OP <> 'DELETE' THEN
        SELECT json_object_agg(key, quote_nullable(value)) INTO new_row FROM jsonb_each_text(to_jsonb(NEW));
    END IF;
    INSERT INTO act_row (act_id, table_name, key, before, after)
    VALUES (act::integer, TG_TABLE_NAME, CASE WHEN TG_OP = 'DELETE' THEN OLD.id ELSE NEW.id END,
            old_row, new_row);
    RETURN NULL;
END
$body$
"""


def install(conn: Connection, metadata: MetaData) -> None:
    """Make the journal's triggers for every journaled table of `metadata`.

    On SQLite they are TEMP triggers of this one connection, so that they never travel with the file nor
    stand in the way of a migration; on PostgreSQL one function serves the triggers of all tables.
    """
    statements = _sqlite(conn, metadata) if conn.dialect.name == "sqlite" else _postgresql(conn, metadata)
    for statement in statements:
        conn.exec_driver_sql(statement)


def _sqlite(conn: Connection, metadata: MetaData) -> Iterator[str]:
    quoted = conn.dialect.identifier_preparer.quote
    yield "CREATE TEMP TABLE open_act (act_id INTEGER NOT NULL)"
    for table in journaled(metadata):
        columns = list(table.columns)
        old, new = (_row_text(quoted, columns, side) for side in ("OLD", "NEW"))
        for event, key, before, after in (
            ("INSERT", "NEW", "NULL", new),
            ("UPDATE", "NEW", old, new),
            ("DELETE", "OLD", old, "NULL"),
        ):
            yield f"""
                CREATE TEMP TRIGGER {quoted(f"journal_{table.name}_{event.lower()}")}
                AFTER {event} ON main.{quoted(table.name)} BEGIN
                    SELECT RAISE(ABORT, '{UNRECORDED} ({table.name})')
                    WHERE NOT EXISTS (SELECT 1 FROM open_act);
                    INSERT INTO act_row (act_id, table_name, key, before, after)
                    SELECT act_id, '{table.name}', {key}.{quoted(_key(table))}, {before}, {after}
                    FROM open_act;
                END"""


def _row_text(quoted: _Quote, columns: list[Column[object]], side: str) -> str:
    pairs = ", ".join(f"'{column.name}', {_value_text(quoted, column, side)}" for column in columns)
    return f"json_object({pairs})"


def _value_text(quoted: _Quote, column: Column[object], side: str) -> str:
    value = f"{side}.{quoted(column.name)}"
    if isinstance(column.type, String):
        # quote() stops at a NUL character, so that text that holds one is kept as hex: T'...'
        return f"CASE WHEN instr({value}, char(0)) THEN 'T''' || hex({value}) || '''' ELSE quote({value}) END"
    return f"quote({value})"


def _key(table: Table) -> str:
    (column,) = table.primary_key.columns
    return column.name


def _postgresql(conn: Connection, metadata: MetaData) -> Iterator[str]:
    quoted = conn.dialect.identifier_preparer.quote
    yield _FUNCTION
    for table in journaled(metadata):
        name = quoted(table.name)
        yield f"DROP TRIGGER IF EXISTS herdbook_journal ON {name}"
        yield (
            f"CREATE TRIGGER herdbook_journal AFTER INSERT OR UPDATE OR DELETE ON {name} "
            "FOR EACH ROW EXECUTE FUNCTION herdbook_journal()"
        )
        yield f"DROP TRIGGER IF EXISTS herdbook_journal_all ON {name}"
        yield (
            f"CREATE TRIGGER herdbook_journal_all BEFORE TRUNCATE ON {name} "
            "FOR EACH STATEMENT EXECUTE FUNCTION herdbook_journal()"
        )


class _Quote(Protocol):
    """The signature of an identifier preparer's `quote`, for the type checker."""

    def __call__(self, ident: str) -> str: ...
