"""Copies of a book, open or closed."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from sqlalchemy import func, insert, select

from herdbook.services.book import Book
from herdbook.store.copies import copies_of, keep_copy
from herdbook.store.errors import BookBusy, BookDamaged, NoFolder
from herdbook.store.files import discard, move_into_place, write_copy
from herdbook.store.tables import Animal


def add(book: Book, number: int) -> None:
    """Write one animal."""
    with book.act("add") as work:
        work.conn.execute(insert(Animal).values(tag=str(number), tag_key=str(number)))


def animals(path: Path) -> int:
    """Return how many animals the book at `path` has."""
    with Book.open(path) as book, book.read() as conn:
        return conn.scalar(select(func.count()).select_from(Animal)) or 0


def test_copy_of_an_open_book_is_whole(tmp_path: Path) -> None:
    """What stands only in the write-ahead log is in the copy, which is one file with its journal."""
    with Book.create(tmp_path / "herd") as book:
        for number in range(5):
            add(book, number)
        book.copy_to(tmp_path / "copy")
        add(book, 5)
        assert not list(tmp_path.glob("copy?*"))
    assert animals(tmp_path / "copy") == 5
    assert animals(tmp_path / "herd") == 6
    with Book.open(tmp_path / "copy") as copy:
        copy.undo()
        assert len(copy.history()) == 6


def test_copy_takes_the_place_of_an_older_one(tmp_path: Path) -> None:
    """And leaves nothing of it."""
    with Book.create(tmp_path / "herd") as book:
        book.copy_to(tmp_path / "copy")
        add(book, 1)
        book.copy_to(tmp_path / "copy")
    assert animals(tmp_path / "copy") == 1


def test_copy_into_no_folder(tmp_path: Path) -> None:
    """A folder that is not there is told."""
    with Book.create(tmp_path / "herd") as book, pytest.raises(NoFolder):
        book.copy_to(tmp_path / "no" / "copy")


def test_dated_copies(tmp_path: Path) -> None:
    """They stand in a folder of the book's own and never take each other's place."""
    path = tmp_path / "Hill herd.herdbook"
    Book.create(path).close()
    when = datetime(2026, 3, 3, 19, 5).astimezone()
    kept = [keep_copy(path, "before 0002", when) for _ in range(3)]
    assert [copy.name for copy in kept] == [
        "Hill herd 2026-03-03 19.05 before 0002.herdbook",
        "Hill herd 2026-03-03 19.05 before 0002 (2).herdbook",
        "Hill herd 2026-03-03 19.05 before 0002 (3).herdbook",
    ]
    assert kept[0].parent == tmp_path / "Hill herd copies"
    assert copies_of(path) == kept[::-1]
    assert copies_of(tmp_path / "other") == []
    assert animals(kept[1]) == 0


def test_damaged_book_is_not_copied_as_if_whole(tmp_path: Path) -> None:
    """A copy is checked before it takes the place of a good one."""
    path, target = tmp_path / "herd", tmp_path / "copy"
    with Book.create(path) as book:
        for number in range(200):
            add(book, number)
        book.copy_to(target)
    content = bytearray(path.read_bytes())
    content[len(content) // 2 :: 7] = bytes(len(content[len(content) // 2 :: 7]))
    path.write_bytes(content)
    good = target.read_bytes()
    with pytest.raises(BookDamaged):
        write_copy(path, target)
    assert target.read_bytes() == good
    assert sorted(found.name for found in tmp_path.iterdir()) == ["copy", "herd"]


def test_discarded_book_takes_its_log_along(tmp_path: Path) -> None:
    """What a crash left beside a book must not meet the next file of that name."""
    for name in ("herd", "herd-wal", "herd-shm", "herd-journal", "herd2"):
        (tmp_path / name).touch()
    discard(tmp_path / "herd")
    assert [found.name for found in tmp_path.iterdir()] == ["herd2"]


def test_no_replacing_beside_a_log(tmp_path: Path) -> None:
    """A left-over write-ahead log would hide the new content: nothing is replaced beside it."""
    path, fresh = tmp_path / "herd", tmp_path / "fresh"
    Book.create(fresh).close()
    with Book.create(path) as book:
        add(book, 1)
        with pytest.raises(BookBusy):
            move_into_place(fresh, path)
    assert animals(path) == 1
