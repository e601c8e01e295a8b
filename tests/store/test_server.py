"""The real tables on a database server: schema, journal and undo do not depend on SQLite."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import date
from itertools import pairwise

import pytest
import sqlalchemy
from sqlalchemy import delete, select, text, update

from herdbook.services.book import Book
from herdbook.store.open import server_store
from herdbook.store.tables import METADATA, Animal, Calving, CalvingCalf, Identity, Weighing


@pytest.fixture
def book(postgres_url: str) -> Iterator[Book]:
    """Yield a book on a fresh database of the private server."""
    name = f"herd_{random.SystemRandom().randrange(10**9)}"
    admin = sqlalchemy.create_engine(postgres_url, isolation_level="AUTOCOMMIT")
    with admin.connect() as conn:
        conn.execute(text(f"CREATE DATABASE {name}"))
    url = sqlalchemy.make_url(postgres_url).set(database=name)
    made = Book(server_store(url.render_as_string(hide_password=False)), who="keeper")
    yield made
    made.close()
    with admin.connect() as conn:
        conn.execute(text(f"DROP DATABASE {name}"))
    admin.dispose()


def dump(book: Book) -> dict[str, list[tuple[object, ...]]]:
    """Return every row of every journaled table."""
    with book.read() as conn:
        return {
            table.name: [tuple(row) for row in conn.execute(select(table).order_by(table.c.id))]
            for table in METADATA.sorted_tables
            if table.info.get("journaled", True)
        }


def test_schema_journal_and_undo(book: Book) -> None:
    """Births, a correction and a removal are taken back and done again step by step."""
    states = [dump(book)]
    with book.act("birth", tag="26-1") as work:
        dam = Animal(tag="12", tag_key="12", sex="F", born=date(2020, 3, 1), care="kicks: \\ ' \" %s")
        work.session.add(dam)
        work.session.flush()
        calf = Animal(tag="26-1", tag_key="26-1", sex="M", born=date(2026, 3, 3), dam_id=dam.id)
        calving = Calving(animal_id=dam.id, day=date(2026, 3, 3))
        work.session.add_all([calf, calving])
        work.session.flush()
        work.session.add(CalvingCalf(calving_id=calving.id, calf_id=calf.id, ease=2))
        work.session.add(Weighing(animal_id=calf.id, day=date(2026, 3, 3), kg=100 / 3))
        work.session.add(Identity(animal_id=calf.id, scheme="farm", value="26-1"))
    states.append(dump(book))
    with book.act("correct") as work:
        work.conn.execute(update(Weighing).values(kg=Weighing.kg * 1.1, note=None))
        work.conn.execute(update(Animal).where(Animal.tag == "12").values(fit_for_heifers=True, sex=None))
    states.append(dump(book))
    with book.act("remove") as work:
        work.conn.execute(delete(Identity))
    states.append(dump(book))
    assert all(one != other for one, other in pairwise(states))
    for state in states[-2::-1]:
        book.undo()
        assert dump(book) == state
    for state in states[1:]:
        book.redo()
        assert dump(book) == state
    assert [entry.kind for entry in book.history(4)] == ["redo", "redo", "redo", "undo"]


def test_unrecorded_write_fails(book: Book) -> None:
    """No act, no write."""
    writer = book._store.writer
    assert writer is not None
    with pytest.raises(sqlalchemy.exc.DBAPIError, match="unrecorded"), writer.begin() as conn:
        conn.execute(text("INSERT INTO herd_group (name, purpose) VALUES ('x', 'other')"))


def test_only_official_and_electronic_numbers_are_unique(book: Book) -> None:
    """A farm tag may be worn again by another animal; a number of the other kinds never."""
    with book.act("begin") as work:
        work.session.add_all([Animal(tag=tag, tag_key=tag) for tag in ("1", "2")])
        work.session.flush()
        work.session.add_all([Identity(animal_id=n, scheme="farm", value="12") for n in (1, 2)])
        work.session.add(Identity(animal_id=1, scheme="official", value="12"))
    with pytest.raises(sqlalchemy.exc.IntegrityError), book.act("twice") as work:
        work.session.add(Identity(animal_id=2, scheme="official", value="12"))
