"""What it costs to save a birth, to open a book, to undo much."""

from __future__ import annotations

import sqlite3
import statistics
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import insert

from herdbook.services.book import Book
from herdbook.store.tables import Animal, Calving, CalvingCalf, Identity, Stay, Weighing
from herdbook.store.tables import Holding as Place

pytestmark = pytest.mark.bench
ROUNDS = 200
ALLOWED_SECONDS = 0.005
HERD = 2_000


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """Yield a book with a dam and a holding."""
    with Book.create(tmp_path / "herd") as made:
        with made.act("begin") as work:
            work.session.add_all([Animal(tag="12", tag_key="12", sex="F"), Place(name="home")])
        yield made


def birth(book: Book) -> None:
    """Write the six rows of a birth by the ORM."""
    with book.act("birth", tag="26-1") as work:
        session, day = work.session, date(2026, 3, 3)
        calf = Animal(tag="26-1", tag_key="26-1", sex="M", born=day, dam_id=1)
        calving = Calving(animal_id=1, day=day)
        session.add_all([calf, calving])
        session.flush()
        session.add_all(
            [
                CalvingCalf(calving_id=calving.id, calf_id=calf.id, ease=1),
                Identity(animal_id=calf.id, scheme="farm", value="26-1", from_day=day),
                Stay(animal_id=calf.id, holding_id=1, from_day=day),
                Weighing(animal_id=calf.id, day=day, kg=34.5),
            ]
        )


def bare_commit(path: Path) -> Callable[[], None]:
    """Return what makes the smallest durable commit on the same disk."""
    conn = sqlite3.connect(path, isolation_level=None)
    conn.execute("PRAGMA journal_mode=WAL")
    conn.execute("PRAGMA synchronous=FULL")
    conn.execute("CREATE TABLE one (id INTEGER PRIMARY KEY, word TEXT)")
    return lambda: conn.execute("INSERT INTO one (word) VALUES ('x')") and None


def median_seconds(work: Callable[[], None]) -> float:
    """Return the middle time of many runs."""
    times = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return statistics.median(times)


def test_birth(benchmark: Any, book: Book) -> None:
    """A birth of six rows, each journaled, in one durable commit."""
    benchmark(birth, book)


def test_birth_over_a_bare_commit(book: Book, tmp_path: Path, record_property: Any) -> None:
    """At most 5 ms above a bare synchronous=FULL commit on the same disk."""
    commit = bare_commit(tmp_path / "bare")
    birth(book)
    bare, full = median_seconds(commit), median_seconds(lambda: birth(book))
    record_property("bare_ms", bare * 1000)
    record_property("birth_ms", full * 1000)
    print(f"bare commit {bare * 1000:.2f} ms, birth {full * 1000:.2f} ms")
    assert full - bare < ALLOWED_SECONDS


def fill(book: Book, animals: int) -> None:
    """Write a herd with a number, a stay and a weighing each."""
    day = date(2024, 3, 3)
    with book.act("fill") as work:
        numbers = range(2, animals + 2)
        run = work.session.execute
        run(insert(Animal), [{"id": n, "tag": str(n), "tag_key": str(n), "dam_id": n // 2} for n in numbers])
        run(insert(Identity), [{"animal_id": n, "scheme": "farm", "value": str(n)} for n in numbers])
        run(insert(Stay), [{"animal_id": n, "holding_id": 1, "from_day": day} for n in numbers])
        run(insert(Weighing), [{"animal_id": n, "day": day, "kg": 40 + n / 3} for n in numbers])


def test_open(benchmark: Any, book: Book) -> None:
    """Open and close a book of two thousand animals, quick check and triggers included."""
    fill(book, HERD)
    path = book.path
    book.close()
    benchmark(lambda: Book.open(path).close())


def test_create(benchmark: Any, tmp_path: Path) -> None:
    """Make a new book."""
    numbers = iter(range(10_000))
    benchmark(lambda: Book.create(tmp_path / str(next(numbers))).close())


def test_undo_of_a_herd(benchmark: Any, book: Book) -> None:
    """Undo and redo the reading in of two thousand animals: eight thousand rows each way."""
    fill(book, HERD)
    benchmark.pedantic(lambda: (book.undo(), book.redo()), rounds=3)
