"""The unit of work: acts, commands, refusals, listeners, threads."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy
from sqlalchemy import func, insert, select, text

from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Book, ChangeSet, Work
from herdbook.services.registry import Refused, handler_for, handles
from herdbook.store.errors import BookClosed, BookMissing, NothingToRedo, NothingToUndo
from herdbook.store.tables import Animal, CalendarSent, Identity


@dataclass(frozen=True)
class PutDown:
    """Write an animal with a number."""

    tag: str
    day: date = date(2026, 3, 3)

    def act_words(self) -> dict[str, object]:
        """Return what the history says."""
        return {"tag": self.tag, "day": self.day}


@dataclass(frozen=True)
class PutDownTwice:
    """Write two animals, and refuse after the first where they are the same."""

    one: str
    two: str

    def act_kind(self) -> str:
        """Return the kind of the act."""
        return "twins"


@handles(PutDown)
def _put_down(work: Work, command: PutDown) -> int:
    animal = Animal(tag=command.tag, tag_key=command.tag)
    work.session.add(animal)
    work.session.flush()
    work.session.add(Identity(animal_id=animal.id, scheme="farm", value=command.tag, from_day=command.day))
    return animal.id


@handles(PutDownTwice)
def _put_down_twice(work: Work, command: PutDownTwice) -> tuple[int, int]:
    first = _put_down(work, PutDown(command.one))
    if command.one == command.two:
        raise Refused(Reason("same", "{tag} is there already", {"tag": command.two}))
    return first, _put_down(work, PutDown(command.two))


def tags(book: Book) -> list[str]:
    """Return the tags of all animals in the order they were written."""
    with book.read() as conn:
        return list(conn.scalars(select(Animal.tag).order_by(Animal.id)))


def test_do(book: Book) -> None:
    """A command is one act, told in the change set and in the history."""
    done = book.do(PutDown("12"))
    assert done.made == 1
    assert done.changes == ChangeSet(
        1, "put_down", {"tag": "12", "day": date(2026, 3, 3)}, frozenset({"animal", "identity"})
    )
    (entry,) = book.history()
    assert (entry.kind, entry.who, entry.words) == ("put_down", "keeper", {"tag": "12", "day": "2026-03-03"})
    assert book.do(PutDownTwice("13", "14")).changes.kind == "twins"
    assert tags(book) == ["12", "13", "14"]


def test_refused(book: Book) -> None:
    """A refusal leaves nothing behind, neither rows nor an act."""
    with pytest.raises(Refused, match="13 is there already") as caught:
        book.do(PutDownTwice("13", "13"))
    assert caught.value.reason.code == "same"
    assert tags(book) == []
    assert book.history() == []
    assert book.do(PutDown("13")).made == 1


def test_no_handler(book: Book) -> None:
    """A command that nobody carries out is a mistake of the program; so are two handlers."""
    with pytest.raises(TypeError, match="no handler for int"):
        book.do(5)
    with pytest.raises(TypeError, match="PutDown has a handler"):
        handles(PutDown)(_put_down)
    assert handler_for(PutDown("1")) is _put_down


def test_undo_and_redo_are_told(book: Book) -> None:
    """What they were about stands in the change set and in the history."""
    book.do(PutDown("12"))
    told: list[ChangeSet] = []
    book.subscribe(told.append)
    undone, redone = book.undo(), book.redo()
    assert told == [undone, redone]
    for changes, kind in ((undone, "undo"), (redone, "redo")):
        assert changes.kind == kind
        assert changes.words == {"kind": "put_down", "words": {"tag": "12", "day": "2026-03-03"}}
        assert changes.tables == {"animal", "identity"}
    assert [(entry.kind, entry.of_kind, entry.undone_by) for entry in book.history()] == [
        ("redo", "put_down", None),
        ("undo", "put_down", 3),
        ("put_down", None, None),
    ]
    assert [entry.kind for entry in book.history(limit=1)] == ["redo"]


def test_undo_survives_closing(tmp_path: Path) -> None:
    """Both ways."""
    path = tmp_path / "herd"
    with Book.create(path) as book:
        book.do(PutDown("12"))
    with Book.open(path) as book:
        book.undo()
        assert tags(book) == []
        with pytest.raises(NothingToUndo):
            book.undo()
    with Book.open(path) as book:
        upcoming = book.next_to_redo()
        assert upcoming is not None
        assert upcoming.of_kind == "put_down"
        book.redo()
        assert tags(book) == ["12"]
        with pytest.raises(NothingToRedo):
            book.redo()


def test_act_that_changes_nothing_leaves_no_trace(book: Book) -> None:
    """It is not in the history, tells nobody, and does not stand before undo or redo."""
    book.do(PutDown("12"))
    book.undo()
    told: list[ChangeSet] = []
    book.subscribe(told.append)
    with book.act("look") as work:
        work.session.scalars(select(Animal)).all()
    assert work.changes == ChangeSet(None, "look", {}, frozenset())
    assert told == []
    assert len(book.history()) == 2
    book.redo()
    assert tags(book) == ["12"]


def test_acts_do_not_nest(book: Book) -> None:
    """An act within an act is a mistake of the program, and ends the outer one unsaved."""

    def outer() -> None:
        with book.act("outer") as work:
            _put_down(work, PutDown("12"))
            book.do(PutDown("13"))

    with pytest.raises(RuntimeError, match="nest"):
        outer()
    assert tags(book) == []
    book.do(PutDown("14"))
    assert tags(book) == ["14"]


def test_failing_constraint_ends_the_act(book: Book) -> None:
    """The database's own refusals pass through; nothing is saved and the next act goes on."""

    def bad() -> None:
        with book.act("bad") as work:
            _put_down(work, PutDown("12"))
            work.session.execute(insert(Animal).values(tag="13", tag_key="13", dam_id=99))

    with pytest.raises(sqlalchemy.exc.IntegrityError):
        bad()
    assert tags(book) == []
    book.do(PutDown("14"))
    assert tags(book) == ["14"]


def test_session_that_commits_early_saves_nothing(book: Book) -> None:
    """A handler cannot end the transaction before the act does."""

    def early() -> None:
        with book.act("early") as work:
            _put_down(work, PutDown("12"))
            work.session.commit()
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        early()
    assert tags(book) == []


def test_read_sees_one_state(book: Book) -> None:
    """What is saved while a page reads shows at the next read, not in the middle of this one."""
    book.do(PutDown("12"))
    with book.read() as conn:
        query = select(func.count()).select_from(Animal)
        assert conn.scalar(query) == 1
        book.do(PutDown("13"))
        assert conn.scalar(query) == 1
    assert tags(book) == ["12", "13"]


def test_listeners(book: Book, caplog: pytest.LogCaptureFixture) -> None:
    """Each hears of every act until it ends; one that fails stops neither the save nor the others."""
    heard: list[str] = []

    def fails(_: ChangeSet) -> None:
        raise ZeroDivisionError

    book.subscribe(fails)
    end = book.subscribe(lambda changes: heard.append(f"{changes.kind} {len(tags(book))}"))
    with caplog.at_level(logging.CRITICAL, "herdbook.services.book"):
        book.do(PutDown("12"))
    end()
    end()
    with caplog.at_level(logging.CRITICAL, "herdbook.services.book"):
        book.do(PutDown("13"))
    assert heard == ["put_down 1"]
    assert tags(book) == ["12", "13"]


def test_listener_may_write(book: Book) -> None:
    """It is called when the act is over."""
    end: Callable[[], None] = lambda: None  # noqa: E731

    def follow(changes: ChangeSet) -> None:
        end()
        book.do(PutDown(f"after {changes.words['tag']}"))

    end = book.subscribe(follow)
    book.do(PutDown("12"))
    assert tags(book) == ["12", "after 12"]


def test_threads(book: Book) -> None:
    """Writers in several threads wait for each other while others read."""
    errors: list[Exception] = []
    seen: list[int] = []

    def write(name: str) -> None:
        try:
            for number in range(10):
                book.do(PutDown(f"{name}{number}"))
        except Exception as error:
            errors.append(error)

    def read() -> None:
        try:
            for _ in range(30):
                with book.read() as conn:
                    animals, numbers = conn.execute(
                        text("SELECT (SELECT count(*) FROM animal), (SELECT count(*) FROM identity)")
                    ).one()
                    assert animals == numbers
                    seen.append(animals)
        except Exception as error:
            errors.append(error)

    threads = [threading.Thread(target=write, args=(name,)) for name in "abcd"]
    threads += [threading.Thread(target=read) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert errors == []
    assert len(tags(book)) == 40
    assert len(book.history()) == 40
    assert max(seen) <= 40


def test_closing_waits_for_reading(tmp_path: Path) -> None:
    """A page that is being read is read to its end before the file is let go."""
    book = Book.create(tmp_path / "herd")
    book.do(PutDown("12"))
    begun, go_on, found = threading.Event(), threading.Event(), []

    def read() -> None:
        with book.read() as conn:
            begun.set()
            go_on.wait(5)
            found.extend(conn.scalars(select(Animal.tag)))

    reader = threading.Thread(target=read)
    reader.start()
    begun.wait(5)
    closer = threading.Thread(target=book.close)
    closer.start()
    closer.join(0.1)
    assert closer.is_alive()
    go_on.set()
    closer.join(5)
    reader.join(5)
    assert found == ["12"]
    assert [path.name for path in tmp_path.iterdir()] == ["herd"]


def test_closed(tmp_path: Path) -> None:
    """A closed book says so; closing it again does nothing."""
    book = Book.create(tmp_path / "herd")
    book.close()
    book.close()
    calls: list[Callable[[], Any]] = [book.undo, book.redo, book.history, lambda: book.do(PutDown("1"))]
    for call in calls:
        with pytest.raises(BookClosed):
            call()


def test_open_by_text_and_missing(tmp_path: Path) -> None:
    """A path may be given as text; a missing file is told, not made."""
    with pytest.raises(BookMissing):
        Book.open(str(tmp_path / "none"))
    assert list(tmp_path.iterdir()) == []


def test_bulk_act(book: Book) -> None:
    """A thousand rows in one statement are one act and one undo."""
    with book.act("read_in") as work:
        work.session.execute(insert(Animal), [{"tag": str(n), "tag_key": str(n)} for n in range(1000)])
    assert len(tags(book)) == 1000
    book.undo()
    assert tags(book) == []


def test_what_stands_outside_the_journal(book: Book) -> None:
    """It is saved without an act, undo passes it over, and no other table can be written so."""
    book.do(PutDown("12"))
    values = {"event": "due 1", "day": date(2026, 3, 3), "title": "Due", "details": "", "sequence": 0}
    values |= {"changed": datetime(2026, 3, 3, tzinfo=UTC), "withdrawn": False}
    book.outside(lambda conn: conn.execute(insert(CalendarSent).values(values)))
    with pytest.raises(sqlalchemy.exc.IntegrityError, match="unrecorded"):
        book.outside(lambda conn: conn.execute(insert(Animal).values(tag="13", tag_key="13")))
    book.undo()
    assert tags(book) == []
    with book.read() as conn:
        assert conn.scalars(select(CalendarSent.event)).all() == ["due 1"]
