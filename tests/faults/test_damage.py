"""Damaged files, full disks and disks that do not answer: told in words, and nothing saved before is lost."""

from __future__ import annotations

import random
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from sqlalchemy import insert, select, text

from herdbook.services.book import Book
from herdbook.store.errors import BookBusy, BookDamaged, BookError, DiskFull, NothingToUndo
from herdbook.store.tables import Animal, Base, Identity


def add(book: Book, tag: str, note: str = "") -> None:
    """Write one animal with a number."""
    with book.act("add", tag=tag) as work:
        animal = Animal(tag=tag, tag_key=tag, note=note)
        work.session.add(animal)
        work.session.flush()
        work.session.add(Identity(animal_id=animal.id, scheme="farm", value=tag))


def read_all(book: Book) -> int:
    """Read every row of every table; return how many there are."""
    with book.read() as conn:
        return sum(len(conn.execute(select(table)).all()) for table in Base.metadata.sorted_tables)


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return the content of a sound book of 300 animals."""
    path = tmp_path_factory.mktemp("sound") / "herd"
    with Book.create(path) as book:
        for number in range(300):
            add(book, str(number), note="a note that fills the page " * (number % 5))
    return path.read_bytes()


@pytest.mark.parametrize("how", ["zeros", "noise", "cut", "bits"])
def test_damaged_copies(tmp_path: Path, sound: bytes, how: str, count: Callable[[int, int], int]) -> None:
    """However a file is hurt, it works or it is told in words: no other error, and never a changed file.

    Damage within a text or number cannot be seen by anybody, so some hurt files do open.
    """
    told, chance = 0, random.Random(how)
    for run in range(count(15, 150)):
        content = bytearray(sound)
        at = chance.randrange(0, len(content) - 600)
        if how == "zeros":
            content[at : at + 512] = bytes(512)
        elif how == "noise":
            content[at : at + 64] = chance.randbytes(64)
        elif how == "cut":
            del content[at:]
        else:
            for _ in range(20):
                content[chance.randrange(len(content))] ^= 1 << chance.randrange(8)
        path = tmp_path / f"{how}{run}"
        path.write_bytes(content)
        try:
            with Book.open(path) as book:
                read_all(book)
                book.history(1000)
                add(book, "new")
                with suppress(NothingToUndo):
                    for _ in range(20):
                        book.undo()
        except BookError:
            told += 1

        for side in tmp_path.glob(f"{path.name}.*"):
            pytest.fail(f"{side.name} was left")
    assert told > 0


def test_full_disk(tmp_path: Path) -> None:
    """The act that found no room is not in the book; all before it are, and the next that fits goes in."""
    path = tmp_path / "herd"
    with Book.create(path) as book:
        add(book, "1")
        with book.act("limit") as work:
            pages = work.conn.scalar(text("PRAGMA page_count"))
            work.conn.exec_driver_sql(f"PRAGMA max_page_count={pages + 2}")
        with pytest.raises(DiskFull, match="full"):
            add(book, "2", note="x" * 100_000)
        add(book, "3")
        assert [entry.words["tag"] for entry in book.history()] == ["3", "1"]
    with Book.open(path) as book, book.read() as conn:
        assert conn.scalars(select(Animal.tag).order_by(Animal.id)).all() == ["1", "3"]


LIMITED = """
import resource, signal, sys
from sqlalchemy import insert
from herdbook.services.book import Book
from herdbook.store.errors import BookError
from herdbook.store.tables import Animal
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
book = Book.open(sys.argv[1])
resource.setrlimit(resource.RLIMIT_FSIZE, (400_000, resource.RLIM_INFINITY))
saved = 0
try:
    while True:
        with book.act("add") as work:
            work.conn.execute(insert(Animal).values(tag=str(saved), tag_key="", note="x" * 5000))
        saved += 1
except BookError as error:
    print(type(error).__name__, saved)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
book.close()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs a limit on file sizes")
def test_disk_that_refuses_to_write(tmp_path: Path) -> None:
    """A write that the system refuses half way is told, and the book holds exactly what was confirmed."""
    path = tmp_path / "herd"
    Book.create(path).close()
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(path)], capture_output=True, text=True, check=True
    )
    name, saved = done.stdout.split()
    assert name in ("BookOutOfReach", "DiskFull")
    assert int(saved) > 3
    with Book.open(path) as book, book.read() as conn:
        assert conn.scalar(text("SELECT count(*) FROM animal")) == int(saved)


def test_other_program_holds_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A program that writes to the file past the lock is waited for, then told of."""
    monkeypatch.setattr("herdbook.store.bare.BUSY_SECONDS", 0.1)
    from herdbook.store.bare import connect

    path = tmp_path / "herd"
    with Book.create(path) as book:
        other = connect(path, "rw")
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(BookBusy, match="Another program"):
            add(book, "1")
        other.execute("ROLLBACK")
        other.close()
        add(book, "2")
        assert [entry.words for entry in book.history()] == [{"tag": "2"}]


def test_damage_while_open(tmp_path: Path, sound: bytes) -> None:
    """A disk that goes bad while the book is open: reading and writing tell it alike."""
    path = tmp_path / "herd"
    path.write_bytes(sound)
    book = Book.open(path)
    with path.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xa5" * (len(sound) - 4096))
    with pytest.raises(BookDamaged):
        read_all(book)

    def look() -> None:
        with book.act("look") as work:
            work.conn.exec_driver_sql("PRAGMA shrink_memory")
            work.conn.execute(select(Animal)).all()

    with pytest.raises(BookDamaged):
        look()

    book.close()
    with pytest.raises(BookDamaged):
        Book.open(path)


def test_insert_is_not_mistaken(tmp_path: Path) -> None:
    """A refused value is not called damage."""
    with Book.create(tmp_path / "herd") as book:
        with pytest.raises(Exception, match="CHECK constraint"), book.act("bad") as work:
            work.conn.execute(insert(Animal).values(tag="1", tag_key="1", sex="X"))
        assert book.history() == []
