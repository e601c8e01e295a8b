"""Undo and redo: random acts, taken back after reopening and done again, equal at every step."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import pytest
import sqlalchemy
from sqlalchemy import Engine, delete, insert, select, text, update

from herdbook.services.book import Book
from herdbook.store.errors import NothingToRedo, NothingToUndo, UndoEndsHere, UndoFailed
from herdbook.store.journal import Act, ActRow
from herdbook.store.undo import read_value
from tests.store.toy import BEAST, REMARK, Chance, dump, toy_book, toy_book_on


@pytest.fixture
def server(postgres_url: str) -> Iterator[Engine]:
    """Yield an engine on a fresh database of the private server."""
    name = f"toy_{random.SystemRandom().randrange(10**9)}"
    admin = sqlalchemy.create_engine(postgres_url, isolation_level="AUTOCOMMIT")
    with admin.connect() as conn:
        conn.execute(text(f"CREATE DATABASE {name}"))
    engine = sqlalchemy.create_engine(sqlalchemy.make_url(postgres_url).set(database=name))
    yield engine
    engine.dispose()
    with admin.connect() as conn:
        conn.execute(text(f"DROP DATABASE {name}"))
    admin.dispose()


def fail_half_way(book: Book, chance: Chance) -> None:
    """Begin an act and fail after it has written."""
    with book.act("fails") as work:
        chance.act(work)
        raise ZeroDivisionError


def run_random_acts(reopen: Callable[[], Book], acts: int, seed: int, *, sqlite: bool) -> None:
    """Do `acts` acts, one in ten of them failing half way; undo all, redo all, then walk at random."""
    book = reopen()
    chance = Chance(seed, sqlite=sqlite)
    states = [dump(book)]
    while len(states) <= acts:
        if chance.random.random() < 0.1:
            with pytest.raises(ZeroDivisionError):
                fail_half_way(book, chance)
            assert dump(book) == states[-1]
        with book.act("random", number=len(states)) as work:
            chance.act(work)
        states.append(dump(book))
    assert all(one != other for one, other in pairwise(states))
    book.close()

    book = reopen()
    for state in reversed(states[:-1]):
        book.undo()
        assert dump(book) == state
    with pytest.raises(NothingToUndo):
        book.undo()
    book.close()

    book = reopen()
    for state in states[1:]:
        book.redo()
        assert dump(book) == state
    with pytest.raises(NothingToRedo):
        book.redo()
    at = acts
    for _ in range(acts):
        step = chance.random.choice([-1, 1])
        if 0 <= at + step <= acts:
            (book.undo if step < 0 else book.redo)()
            at += step
        assert dump(book) == states[at]
    book.close()


@pytest.mark.parametrize("seed", [1, 2])
def test_random_acts(tmp_path: Path, count: Callable[[int, int], int], seed: int) -> None:
    """On a file: values of every kind, cascades, REPLACE, changed keys, emptied tables."""
    run_random_acts(lambda: toy_book(tmp_path / "toy"), count(30, 150), seed, sqlite=True)


def test_random_acts_on_a_server(server: Engine, count: Callable[[int, int], int]) -> None:
    """The same on PostgreSQL, where other triggers write the journal."""
    run_random_acts(lambda: toy_book_on(server), count(30, 150), 3, sqlite=False)


def test_server_refuses_unrecorded_writes(server: Engine) -> None:
    """On a server as well: no act, no write; nor may a table be emptied past the journal."""
    book = toy_book_on(server)
    with book.act("add") as work:
        work.conn.execute(insert(BEAST).values(name="Eden"))
    for statement in ("INSERT INTO beast (name) VALUES ('x')", "DELETE FROM beast", "TRUNCATE beast CASCADE"):
        with pytest.raises(sqlalchemy.exc.DBAPIError, match="unrecorded write"), server.begin() as conn:
            conn.execute(text(statement))
    with pytest.raises(sqlalchemy.exc.DBAPIError, match="TRUNCATE"), book.act("empty") as work:
        work.conn.execute(text("TRUNCATE beast CASCADE"))
    assert [row[1] for row in dump(book)["beast"]] == ["Eden"]


def test_new_act_ends_redo(tmp_path: Path) -> None:
    """Once something new is done, what was undone before stays undone; undo goes on below it."""
    with toy_book(tmp_path / "toy") as book:
        for name in ("a", "b", "c"):
            with book.act("add", name=name) as work:
                work.conn.execute(insert(BEAST).values(name=name))
        book.undo()
        book.undo()
        with book.act("add", name="d") as work:
            work.conn.execute(insert(BEAST).values(name="d"))
        assert book.next_to_redo() is None
        with pytest.raises(NothingToRedo):
            book.redo()
        assert [row[1] for row in dump(book)["beast"]] == ["a", "d"]
        book.undo()
        upcoming = book.next_to_undo()
        assert upcoming is not None
        assert upcoming.words == {"name": "a"}
        book.undo()
        assert dump(book)["beast"] == []
        book.redo()
        assert [row[1] for row in dump(book)["beast"]] == ["a"]


def test_undone_key_is_not_given_again(tmp_path: Path) -> None:
    """A new row after an undo gets a new key, so that redo and old references never meet another row."""
    with toy_book(tmp_path / "toy") as book:
        with book.act("add") as work:
            work.conn.execute(insert(BEAST).values(name="a"))
        book.undo()
        with book.act("add") as work:
            work.conn.execute(insert(BEAST).values(name="b"))
        assert dump(book)["beast"][0][0] == 2


def test_undo_ends_at_an_update_of_the_tables(tmp_path: Path) -> None:
    """An act of an older form of the tables is told of in the history and not undone."""
    with toy_book(tmp_path / "toy") as book:
        with book.act("add", name="a") as work:
            work.conn.execute(insert(BEAST).values(name="a"))
        with book._transaction() as (conn, _):
            conn.execute(update(Act).values(revision="0000"))
        before = dump(book)
        with pytest.raises(UndoEndsHere, match="older"):
            book.undo()
        assert dump(book) == before
        assert [entry.kind for entry in book.history()] == ["add"]


def test_row_that_is_not_as_it_was_left(tmp_path: Path) -> None:
    """Where the journal and the rows do not fit, nothing is changed and the person is told."""
    with toy_book(tmp_path / "toy") as book:
        with book.act("add") as work:
            work.conn.execute(insert(BEAST), [{"name": "a"}, {"name": "b"}])
        with book._transaction() as (conn, _):  # a journal that lost a line
            conn.execute(update(ActRow).where(ActRow.key == 1).values(after='{"id": "77"}'))
        before = dump(book)
        with pytest.raises(UndoFailed, match="beast"):
            book.undo()
        assert dump(book) == before


def test_undo_in_pages(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An act of many rows is read a page at a time."""
    monkeypatch.setattr("herdbook.store.undo.PAGE", 7)
    with toy_book(tmp_path / "toy") as book:
        with book.act("many") as work:
            work.conn.execute(insert(BEAST), [{"name": str(n)} for n in range(21)])
            work.conn.execute(insert(REMARK), [{"beast_id": n + 1} for n in range(21)])
        full = dump(book)
        with book.act("clear") as work:
            work.conn.execute(delete(BEAST))
        assert dump(book) == {"beast": [], "remark": []}
        book.undo()
        assert dump(book) == full
        book.undo()
        assert dump(book) == {"beast": [], "remark": []}


def test_orm_and_cascades_are_recorded(tmp_path: Path) -> None:
    """Each changed row has one line in the journal, in the order of the changes."""
    with toy_book(tmp_path / "toy") as book:
        with book.act("add") as work:
            work.conn.execute(insert(BEAST), [{"name": "dam"}])
            work.conn.execute(insert(BEAST), [{"name": "calf", "dam_id": 1}])
            work.conn.execute(insert(REMARK), [{"beast_id": 1, "words": "kicks"}])
        with book.act("remove") as work:
            work.conn.exec_driver_sql("DELETE FROM beast WHERE id = 1")
        assert work.changes is not None
        assert work.changes.tables == {"beast", "remark"}
        with book.read() as conn:
            lines = conn.execute(
                select(ActRow.table_name, ActRow.key, ActRow.before.is_(None), ActRow.after.is_(None))
                .where(ActRow.act_id == work.changes.act_id)
                .order_by(ActRow.id)
            ).all()
        assert sorted(lines) == [("beast", 1, 0, 1), ("beast", 2, 0, 0), ("remark", 1, 0, 1)]


@pytest.mark.parametrize(
    ("quoted", "value"),
    [
        ("NULL", None),
        ("12", 12),
        ("-3", -3),
        ("3.33333333333333314829e-01", 1 / 3),
        ("Inf", float("inf")),
        ("'it''s'", "it's"),
        ("''", ""),
        ("'NULL'", "NULL"),
        (r"E'a\\b''c'", r"a\b'c"),
        ("X'00FF'", b"\0\xff"),
        ("T'6100C3A9'", "a\0é"),
    ],
)
def test_read_value(quoted: str, value: object) -> None:
    """Quoted SQL text is read as the value it was."""
    found = read_value(quoted)
    assert found == value
    assert type(found) is type(value)
