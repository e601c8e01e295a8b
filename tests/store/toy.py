"""A small book of its own tables that hold every kind of thing a row can be, and acts at random upon it."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    Connection,
    Date,
    DateTime,
    Engine,
    Float,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    delete,
    func,
    insert,
    select,
    text,
    update,
)

from herdbook.services.book import Book, Work
from herdbook.store import triggers
from herdbook.store.bare import connect
from herdbook.store.base import NAMES
from herdbook.store.engine import reading, writing
from herdbook.store.journal import Act, ActRow
from herdbook.store.lock import BookLock
from herdbook.store.open import Store

METADATA = MetaData(naming_convention=NAMES)


def _link(target: str, ondelete: str | None = None) -> ForeignKey:
    return ForeignKey(target, ondelete=ondelete, deferrable=True, initially="IMMEDIATE")


BEAST = Table(
    "beast",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("name", String(200), unique=True, nullable=False),
    Column("dam_id", Integer, _link("beast.id", "SET NULL"), index=True),
    Column("weight", Float),
    Column("picture", LargeBinary),
    Column("present", Boolean),
    Column("born", Date),
    Column("seen", DateTime),
    Column("order", String(200)),
    sqlite_autoincrement=True,
)
REMARK = Table(
    "remark",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("beast_id", Integer, _link("beast.id", "CASCADE"), nullable=False, index=True),
    Column("words", String(200)),
    sqlite_autoincrement=True,
)
for _table in (Act.__table__, ActRow.__table__):
    assert isinstance(_table, Table)
    _table.to_metadata(METADATA)


def toy_store(path: Path) -> Store:
    """Return an open store at `path` with the toy tables, made where they are missing."""
    lock = BookLock.take(path)
    conn = connect(path, "rwc")
    conn.execute("PRAGMA journal_mode=WAL")
    writer = writing(conn)
    with writer.begin() as begun:
        METADATA.create_all(begun)
        triggers.install(begun, METADATA)
    return Store(path, writer, reading(path), "0001", lock)


def toy_book(path: Path) -> Book:
    """Return an open book with the toy tables."""
    return Book(toy_store(path), metadata=METADATA, who="keeper")


def toy_book_on(engine: Engine) -> Book:
    """Return a book with the toy tables on a database server."""
    with engine.begin() as conn:
        METADATA.create_all(conn)
        triggers.install(conn, METADATA)
    return Book(Store(Path("server"), engine, engine, "0001"), metadata=METADATA, who="keeper")


def dump(book: Book) -> dict[str, list[tuple[Any, ...]]]:
    """Return every row of the toy tables; floats and times are compared bit for bit."""
    with book.read() as conn:
        return {table.name: rows(conn, table) for table in (BEAST, REMARK)}


def rows(conn: Connection, table: Table) -> list[tuple[Any, ...]]:
    """Return the rows of a table in the order of their keys."""
    return [tuple(map(_exact, row)) for row in conn.execute(select(table).order_by(table.c.id))]


def _exact(value: object) -> object:
    return value.hex() if isinstance(value, float | bytes) else value


class Chance:
    """Acts at random: everything that can happen to rows, by the ORM's connection, Core and raw SQL."""

    def __init__(self, seed: int, *, sqlite: bool) -> None:
        self.random = random.Random(seed)
        self.sqlite = sqlite
        self.number = 0
        self.steps: list[Callable[[Work], None]] = [
            self.add, self.add, self.add, self.remark, self.remark, self.rename_all, self.change, self.swap,
            self.remove, self.replace, self.remove_and_add, self.raw, self.change_key, self.clear,
        ]  # fmt: skip

    def act(self, work: Work) -> None:
        """Do one to four steps; the first always writes something."""
        self.add(work)
        for _ in range(self.random.randint(0, 3)):
            self.random.choice(self.steps)(work)

    def _values(self) -> dict[str, object]:
        pick = self.random.choice
        words = ["it's", '"', "back\\slash", "E'x'", "Ⅷ ♀ é 🐂", "", "NULL", "line\nline", "%s ? :x {y}"]
        if self.sqlite:
            words += ["nul\0inside", "\0"]  # a server's text cannot hold this character
        self.number += 1
        return {
            "name": f"{pick(words)}{self.number}",
            "weight": pick([None, 1 / 3, 0.1 + 0.2, 1e-300, 5e-324, 123456789.123456789, 40.0, -0.5]),
            "picture": pick([None, b"", b"\0\xff'", self.random.randbytes(30)]),
            "present": pick([None, True, False]),
            "born": pick([None, date(2020, 2, 29) + timedelta(days=self.random.randint(0, 2000))]),
            "seen": pick([None, datetime(2026, 3, 3, 4, 5, 6, 789)]),  # noqa: DTZ001
            "order": pick([None, *words]),
        }

    def _some(self, work: Work) -> int | None:
        keys = list(work.conn.scalars(select(BEAST.c.id)))
        return self.random.choice(keys) if keys else None

    def add(self, work: Work) -> None:
        """Several new rows in one statement, some with a dam."""
        dam = self._some(work)
        some = [self._values() | {"dam_id": self.random.choice([None, dam])} for _ in range(3)]
        work.session.execute(insert(BEAST), some)

    def remark(self, work: Work) -> None:
        """Rows that go with their beast."""
        key = self._some(work)
        if key is not None:
            work.conn.execute(insert(REMARK), [{"beast_id": key, "words": f"w{n}"} for n in range(3)])

    def rename_all(self, work: Work) -> None:
        """One statement that changes every row."""
        work.conn.execute(update(BEAST).values(order=func.coalesce(BEAST.c.order, "") + "x"))

    def change(self, work: Work) -> None:
        """All columns of one row."""
        work.conn.execute(update(BEAST).where(BEAST.c.id == self._some(work)).values(self._values()))

    def swap(self, work: Work) -> None:
        """Two rows exchange a value that must be unique."""
        pair = work.conn.execute(select(BEAST.c.id, BEAST.c.name).limit(2)).all()
        if len(pair) == 2:
            (a, name_a), (b, name_b) = pair
            for key, name in ((a, "between"), (b, name_a), (a, name_b)):
                work.conn.execute(update(BEAST).where(BEAST.c.id == key).values(name=name))

    def remove(self, work: Work) -> None:
        """A row goes, its remarks with it, and its calves lose their dam."""
        work.conn.execute(delete(BEAST).where(BEAST.c.id == self._some(work)))

    def replace(self, work: Work) -> None:
        """A new row pushes out the one whose name it takes."""
        name = work.conn.scalar(select(BEAST.c.name).limit(1))
        if name is None:
            return
        if self.sqlite:
            work.conn.execute(text("REPLACE INTO beast (name, weight) VALUES (:name, 0.7)"), {"name": name})
        else:
            work.conn.execute(
                text("INSERT INTO beast (name) VALUES (:name) ON CONFLICT (name) DO UPDATE SET weight = 0.7"),
                {"name": name},
            )

    def remove_and_add(self, work: Work) -> None:
        """The latest row goes and another comes: its key must not come back."""
        latest = work.conn.scalar(select(func.max(BEAST.c.id)))
        work.conn.execute(delete(BEAST).where(BEAST.c.id == latest))
        work.conn.execute(insert(BEAST).values(self._values()))

    def raw(self, work: Work) -> None:
        """SQL that knows nothing of the tables' definition."""
        work.conn.exec_driver_sql("UPDATE beast SET weight = id / 3.0 WHERE weight IS NULL")

    def change_key(self, work: Work) -> None:
        """A row gets another key."""
        key = self._some(work)
        if key is not None and work.conn.scalar(select(REMARK.c.id).where(REMARK.c.beast_id == key)) is None:
            work.conn.execute(update(BEAST).where(BEAST.c.dam_id == key).values(dam_id=None))
            self.number += 1
            work.conn.execute(update(BEAST).where(BEAST.c.id == key).values(id=1_000_000 * self.number))

    def clear(self, work: Work) -> None:
        """Everything goes in one statement, which SQLite would do without looking at the rows."""
        if self.random.random() < 0.2:
            work.conn.execute(delete(REMARK))
            work.conn.execute(delete(BEAST))
