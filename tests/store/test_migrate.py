"""Migrations: the chain makes the tables of today; an older file is brought up whole, or left as it was."""

from __future__ import annotations

import shutil
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import insert, select

import herdbook.store.migrations
from herdbook.services.book import Book
from herdbook.store.bare import connect, connect_memory
from herdbook.store.copies import copies_of
from herdbook.store.engine import writing
from herdbook.store.errors import BookOlder, UndoEndsHere, UpdateFailed
from herdbook.store.migrate import CHAIN, Chain, alembic_config, upgrade
from herdbook.store.migrations.write_first import first_form
from herdbook.store.open import form_of, make_tables, open_store
from herdbook.store.tables import METADATA, Animal, Weighing

SECOND = """
import sqlalchemy as sa
from alembic import op
revision, down_revision = "0002", "0001"

def upgrade():
    op.add_column("animal", sa.Column("nickname", sa.String(40)))
    frozen = sa.Table(
        "party", sa.MetaData(),
        sa.Column("id", sa.Integer, primary_key=True), sa.Column("name", sa.String(200), nullable=False),
        sa.Column("kind", sa.String(40)), sa.Column("contact", sa.Text), sa.Column("note", sa.Text),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("party", copy_from=frozen, recreate="always") as batch:
        batch.alter_column("kind", new_column_name="sort")
    {more}
"""


def schema(conn: sqlite3.Connection) -> set[tuple[str, str]]:
    """Return every table and index with its definition, white space aside."""
    made = conn.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    return {(name, " ".join(sql.split()).replace("( ", "(").replace(" )", ")")) for name, sql in made}


def chain(folder: Path, more: str = "") -> Chain:
    """Return the chain with one more revision than the program has."""
    location = folder / "revisions"
    shutil.copytree(Path(herdbook.store.migrations.__file__).parent, location)
    (location / "versions" / "0002_second.py").write_text(SECOND.format(more=more))
    return Chain(2, str(location))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return the path of a closed book with a cow, her calf and a weighing."""
    made = tmp_path / "herd.herdbook"
    with Book.create(made) as book, book.act("add", tag="12") as work:
        work.conn.execute(insert(Animal).values(tag="12", tag_key="12"))
        work.conn.execute(insert(Animal).values(tag="26-1", tag_key="26-1", dam_id=1))
        work.conn.exec_driver_sql(
            "INSERT INTO weighing (animal_id, day, kg, unit, method, recorded) "
            "VALUES (2, '2026-03-03', 34.5, 'kg', 'scale', '2026-03-03 10:00:00')"
        )
    return made


def test_chain_makes_the_tables_of_today() -> None:
    """All migrations upon an empty file give what a new book is made with."""
    fresh, migrated = connect_memory(), connect_memory()
    make_tables(fresh)
    with writing(migrated).begin() as conn:
        upgrade(conn, CHAIN)
    assert schema(migrated) == schema(fresh)
    assert migrated.execute("SELECT * FROM alembic_version").fetchall() == [(CHAIN.revision,)]
    assert fresh.execute("SELECT * FROM alembic_version").fetchall() == [(CHAIN.revision,)]
    fresh.close()
    migrated.close()


def test_frozen_sql_is_as_written() -> None:
    """While there is one form only, its frozen SQL is what the tables say (write it with `write_first`)."""
    if CHAIN.head == 1:
        first = Path(herdbook.store.migrations.__file__).parent / "versions" / "0001_first.sql"
        assert first.read_text(encoding="utf-8") == first_form()


def test_chain_ends_where_the_program_says() -> None:
    """The last revision is the head, and nothing of the tables is left for Alembic to find."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext
    from alembic.script import ScriptDirectory

    raw = connect_memory()
    with writing(raw).begin() as conn:
        script = ScriptDirectory.from_config(alembic_config(conn, CHAIN))
        assert script.get_heads() == [CHAIN.revision]
        upgrade(conn, CHAIN)
        assert compare_metadata(MigrationContext.configure(conn), METADATA) == []
    raw.close()


def test_every_constraint_has_a_name() -> None:
    """A constraint without a name is lost when a table is made anew."""
    for table in METADATA.tables.values():
        assert all(constraint.name for constraint in table.constraints), table.name
        assert all(index.name for index in table.indexes), table.name
        for key in table.foreign_key_constraints:
            assert key.deferrable, key.name
            (column,) = key.columns
            led = {index.columns[0].name for index in table.indexes}
            assert column.name in led, f"{table.name}.{column.name} has no index"


def test_older_file_is_brought_up(path: Path, tmp_path: Path) -> None:
    """Rows, keys and history stay; the old file is kept; undo ends at the update and says so."""
    before = path.read_bytes()
    second = chain(tmp_path)
    with pytest.raises(BookOlder):
        open_store(path, read_only=True, chain=second)
    assert path.read_bytes() == before
    with Book(open_store(path, chain=second)) as book:
        with book.read() as conn:
            assert conn.execute(select(Animal.tag, Animal.dam_id)).all() == [("12", None), ("26-1", 1)]
            assert conn.execute(select(Weighing.kg)).scalar_one() == 34.5
            assert conn.exec_driver_sql("SELECT nickname FROM animal").all() == [(None,), (None,)]
            party = conn.exec_driver_sql("SELECT sql FROM sqlite_master WHERE name = 'party'").scalar_one()
            assert "sort" in party
            assert "AUTOINCREMENT" in party
        with pytest.raises(UndoEndsHere):
            book.undo()
        assert [entry.words for entry in book.history()] == [{"tag": "12"}]
    assert form_of(path) == 2
    (kept,) = copies_of(path)
    assert "before 0002" in kept.name
    assert form_of(kept) == 1
    with Book.open(kept) as old:
        old.undo()
    assert {found.name for found in tmp_path.iterdir()} == {"herd.herdbook", "herd copies", "revisions"}


def test_left_by_a_killed_update(path: Path, tmp_path: Path) -> None:
    """What an update that was killed left behind does not stand in the way of the next."""
    copies = tmp_path / "herd copies"
    copies.mkdir()
    for left in (
        tmp_path / "herd.herdbook.update",
        tmp_path / "herd.herdbook.update-journal",
        tmp_path / "herd.herdbook.update.part",
        tmp_path / "herd.herdbook.update.part-journal",
        copies / "herd 2026-03-03 19.05 before 0002.herdbook.part",
    ):
        left.write_bytes(b"half")
    with Book(open_store(path, chain=chain(tmp_path))) as book, book.read() as conn:
        assert conn.scalars(select(Animal.tag).order_by(Animal.id)).all() == ["12", "26-1"]
    assert {found.name for found in tmp_path.iterdir()} == {"herd.herdbook", "herd copies", "revisions"}
    assert list(copies.iterdir()) == copies_of(path)


@pytest.mark.parametrize(
    "more",
    [
        "raise RuntimeError('half way')",
        "op.execute('UPDATE weighing SET animal_id = 99')",
        "op.execute('INSERT INTO nowhere VALUES (1)')",
    ],
)
def test_failed_update_changes_nothing(path: Path, tmp_path: Path, more: str) -> None:
    """An error, or a link left leading nowhere: the book is byte for byte as it was, and opens as before."""
    before = path.read_bytes()
    with pytest.raises(UpdateFailed) as caught:
        open_store(path, chain=chain(tmp_path, more))
    (kept,) = copies_of(path)
    assert str(kept) in caught.value.safe
    assert path.read_bytes() == before
    assert {found.name for found in tmp_path.iterdir()} == {"herd.herdbook", "herd copies", "revisions"}
    with Book.open(path) as book:
        book.undo()


def test_log_left_by_a_crash_is_brought_in_first(path: Path, tmp_path: Path) -> None:
    """What a killed program had saved in its write-ahead log is not lost by the update."""
    code = (
        "import os, sys; from sqlalchemy import insert; from herdbook.services.book import Book\n"
        "from herdbook.store.tables import Animal\n"
        "with (book := Book.open(sys.argv[1])).act('add') as work:\n"
        "    work.conn.execute(insert(Animal).values(tag='14', tag_key='14'))\n"
        f"os.kill(os.getpid(), {int(getattr(signal, 'SIGKILL', signal.SIGTERM))})"
    )
    subprocess.run([sys.executable, "-c", code, str(path)], check=False)
    assert path.with_name(path.name + "-wal").stat().st_size > 0
    with Book(open_store(path, chain=chain(tmp_path))) as book, book.read() as conn:
        assert conn.scalars(select(Animal.tag).order_by(Animal.id)).all() == ["12", "26-1", "14"]
    conn_ = connect(copies_of(path)[0], "ro")
    assert conn_.execute("SELECT count(*) FROM animal").fetchone() == (3,)
    conn_.close()
