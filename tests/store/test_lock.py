"""One writer to a file, between processes and within one."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import func, insert, select

from herdbook.services.book import Book
from herdbook.store.errors import BookIsHeld
from herdbook.store.tables import Animal

HOLD = """
import sys
from sqlalchemy import insert
from herdbook.services.book import Book
from herdbook.store.tables import Animal
book = Book.open(sys.argv[1])
with book.act("add") as work:
    work.conn.execute(insert(Animal).values(tag="13", tag_key="13"))
print("held", flush=True)
sys.stdin.read()
book.close()
"""


@contextmanager
def other_process(path: Path) -> Iterator[subprocess.Popen[str]]:
    """Have another process hold the book with something saved in it."""
    command = [sys.executable, "-c", HOLD, str(path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        yield process
        if process.poll() is None:
            process.communicate("")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return the path of an empty book."""
    made = tmp_path / "herd"
    Book.create(made).close()
    return made


def animals(book: Book) -> int:
    """Return how many animals there are."""
    with book.read() as conn:
        return conn.scalar(select(func.count()).select_from(Animal)) or 0


def test_two_processes(path: Path) -> None:
    """The second is told who holds it and may read; after the first has closed it may write."""
    with other_process(path) as process:
        with pytest.raises(BookIsHeld) as caught:
            Book.open(path)
        assert str(process.pid) in caught.value.holder
        assert str(process.pid) in str(caught.value)
        with Book.open(path, read_only=True) as reader:
            assert animals(reader) == 1
    assert [found.name for found in path.parent.iterdir()] == ["herd"]
    with Book.open(path) as book:
        assert animals(book) == 1


def test_killed_holder_holds_no_more(path: Path) -> None:
    """A crash leaves the lock's file and note behind, and neither keeps anybody out."""
    with other_process(path) as process:
        process.kill()
        process.wait()
    assert json.loads((path.parent / "herd.held").read_text())["process"] == process.pid
    with Book.open(path) as book:
        assert animals(book) == 1
    assert [found.name for found in path.parent.iterdir()] == ["herd"]


def test_within_one_process(path: Path) -> None:
    """Two windows of one process are two as well; so is another spelling of the path."""
    link = path.with_name("link")
    link.symlink_to(path)
    with Book.open(path):
        for other in (path, path.parent / ".." / path.parent.name / "herd", link):
            with pytest.raises(BookIsHeld):
                Book.open(other)
    with Book.open(link) as book:
        assert book.path == path


def test_failed_opening_lets_go(path: Path) -> None:
    """A file that turns out to be damaged is not left locked."""
    content = bytearray(path.read_bytes())
    content[100:4096] = bytes(3996)
    path.write_bytes(content)
    for _ in range(2):
        with pytest.raises(Exception, match="damaged"):
            Book.open(path)
    assert [found.name for found in path.parent.iterdir()] == ["herd"]


def test_note_that_cannot_be_read(path: Path) -> None:
    """The holder's note only explains: without it, or with rubbish in it, the lock still holds."""
    note = path.with_name("herd.held")
    with Book.open(path) as book:
        for rubbish in ("", "{}", "[1]", '{"computer": 1, "process": 2, "since": "then"}'):
            note.write_text(rubbish)
            with pytest.raises(BookIsHeld, match="open in another window"):
                Book.open(path)
        with book.act("add") as work:
            work.conn.execute(insert(Animal).values(tag="1", tag_key="1"))
