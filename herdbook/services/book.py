"""The open book: the one way to write it (acts), to read it, and to undo."""

from __future__ import annotations

import getpass
import logging
import re
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType, TracebackType
from typing import Any, TypeVar

from sqlalchemy import Connection, MetaData
from sqlalchemy.orm import Session

from herdbook.services.registry import handler_for
from herdbook.store import health, journal, undo
from herdbook.store.errors import BookClosed, BookReadOnly
from herdbook.store.files import write_copy
from herdbook.store.journal import Entry
from herdbook.store.open import Store, create_store, open_store
from herdbook.store.tables import METADATA

log = logging.getLogger(__name__)
_CLOSING_SECONDS = 5.0
Result = TypeVar("Result")


@dataclass(frozen=True)
class ChangeSet:
    """What an act changed.

    Parameters
    ----------
    act_id : int or None
        None where nothing was changed, and so nothing was recorded.
    kind : str
    words : Mapping[str, object]
        What the kind's sentence needs.
    tables : frozenset of str
        The tables with changed rows.
    """

    act_id: int | None
    kind: str
    words: Mapping[str, Any]
    tables: frozenset[str]


@dataclass(frozen=True)
class Done:
    """What `Book.do` did: the changes, and what the handler gave back (often the id of what it made)."""

    changes: ChangeSet
    made: Any = None


@dataclass
class Work:
    """An open act.

    Parameters
    ----------
    session : Session
        For objects; it flushes before its own queries and when the act ends.
    conn : Connection
        The same transaction, for plain statements and for the query functions. What the session still holds
        back is not seen here before `session.flush()`.
    changes : ChangeSet or None
        Set when the act has been saved.
    """

    session: Session
    conn: Connection
    changes: ChangeSet | None = field(default=None)


Callback = Callable[[ChangeSet], None]


class Book:
    """A herd book that is open.

    Any thread may use it: writes wait for each other, reads run beside them. Make one with `open` or
    `create`; it is a context manager that closes itself.
    """

    def __init__(self, store: Store, *, metadata: MetaData = METADATA, who: str | None = None) -> None:
        self._store = store
        self._metadata = metadata
        self._who = who if who is not None else _login()
        self._writing = threading.Lock()
        self._writer: int | None = None
        self._reads = threading.Condition()
        self._reading = 0
        self._closed = False
        self._callbacks: list[Callback] = []

    @classmethod
    def open(cls, path: Path | str, read_only: bool = False, who: str | None = None) -> Book:
        """Open the book at `path`, bringing it up to date first where it is older.

        Raises
        ------
        BookError
            In words: what happened, what is safe, what to do.
        """
        return cls(open_store(Path(path), read_only=read_only), who=who)

    @classmethod
    def create(cls, path: Path | str, who: str | None = None) -> Book:
        """Make a new book at `path` and open it. Raises a `BookError`, among them `BookExists`."""
        return cls(create_store(Path(path)), who=who)

    @property
    def path(self) -> Path:
        """The file."""
        return self._store.path

    @property
    def read_only(self) -> bool:
        """Whether nothing can be written."""
        return self._store.writer is None

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Give a connection for reading: one state of the book, whatever is saved meanwhile. Any thread.

        Raises
        ------
        BookClosed, BookDamaged, BookOutOfReach
        """
        with self._reads:
            if self._closed:
                raise BookClosed(self.path)
            self._reading += 1
        try:
            with health.in_words(self.path), self._store.reader.connect() as conn:
                yield conn
        finally:
            with self._reads:
                self._reading -= 1
                self._reads.notify_all()

    @contextmanager
    def act(self, kind: str, **words: object) -> Iterator[Work]:
        """Open an act; leaving the block saves everything in one durable transaction, or nothing.

        Parameters
        ----------
        kind : str
            What sort of act it is, in snake_case; the window knows its sentence.
        **words : object
            What goes into the sentence; kept as JSON (dates as text).

        Raises
        ------
        BookReadOnly, BookClosed, BookOutOfReach, DiskFull
        RuntimeError
            If an act is open in this thread already: acts do not nest.
        """
        with self._act(kind, lambda _conn: words) as work:
            yield work

    def do(self, command: Any) -> Done:
        """Carry out `command` as one act.

        Raises
        ------
        Refused
            By the handler; nothing is changed.
        BookError
        """
        # The sentences know the commands, and the commands this module: so it is fetched at the first need.
        from herdbook.services.history import words_of

        handler = handler_for(command)
        kind, _ = act_of(command)
        with self._act(kind, lambda conn: words_of(conn, command)) as work:
            made = handler(work, command)
        assert work.changes is not None
        return Done(work.changes, made)

    @contextmanager
    def _act(self, kind: str, words_of: Callable[[Connection], Mapping[str, object]]) -> Iterator[Work]:
        """Open an act whose words are asked of the book as it was before it."""
        with self._transaction() as (conn, saved):
            words = words_of(conn)
            act_id = journal.open_act(conn, kind, words, who=self._who, revision=self._store.revision)
            with Session(conn, expire_on_commit=False) as session:
                work = Work(session, conn)
                yield work
                session.flush()
            saved.append(self._finish(conn, act_id, kind, words))
        work.changes = saved[0]
        self._announce(saved[0])

    def outside(self, write: Callable[[Connection], Result]) -> Result:
        """Write what stands outside the journal, in one durable transaction, and return what `write` does.

        Only for what undo must not take back, such as what has left the house: every other table refuses it.

        Raises
        ------
        BookReadOnly, BookClosed, BookOutOfReach, DiskFull
        """
        with self._transaction() as (conn, _):
            return write(conn)

    def undo(self) -> ChangeSet:
        """Undo the latest act that is not undone.

        Raises
        ------
        NothingToUndo, UndoEndsHere, UndoFailed, BookReadOnly, BookClosed
        """
        return self._replay(undo.undo, "undo")

    def redo(self) -> ChangeSet:
        """Do the act undone last again, as long as nothing else was done since.

        Raises
        ------
        NothingToRedo, UndoEndsHere, UndoFailed, BookReadOnly, BookClosed
        """
        return self._replay(undo.redo, "redo")

    def history(self, limit: int = 100) -> list[Entry]:
        """Return the last `limit` acts, the latest first."""
        with self.read() as conn:
            return journal.history(conn, limit)

    def next_to_undo(self) -> Entry | None:
        """Return the act that `undo` would undo, or None."""
        with self.read() as conn:
            return journal.next_to_undo(conn)

    def next_to_redo(self) -> Entry | None:
        """Return the undoing that `redo` would take back (its `of_kind` is the act's kind), or None."""
        with self.read() as conn:
            return journal.next_to_redo(conn)

    def findings(self) -> list[str]:
        """Return what the full checks of the file find wrong, in words; empty where all is well."""
        if self._store.reader.dialect.name != "sqlite":
            return []
        with self.read() as conn:
            raw: Any = conn.connection.driver_connection
            return health.findings(raw)

    def copy_to(self, target: Path | str) -> None:
        """Write a whole, checked copy of the book as it is now; replaces a file that is there.

        Raises
        ------
        BookDamaged, BookOutOfReach, DiskFull, NoPermission
        """
        write_copy(self.path, Path(target).absolute())

    def subscribe(self, callback: Callback) -> Callable[[], None]:
        """Call `callback` after every saved act, on the thread that wrote it; return what ends that."""
        self._callbacks.append(callback)

        def unsubscribe() -> None:
            if callback in self._callbacks:
                self._callbacks.remove(callback)

        return unsubscribe

    def close(self) -> None:
        """Wait for what is being written and read, then let go of the file. Closing again does nothing."""
        with self._writing, self._reads:
            if self._closed:
                return
            self._closed = True
            self._reads.wait_for(lambda: self._reading == 0, _CLOSING_SECONDS)
            self._store.close()

    def __enter__(self) -> Book:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _replay(self, step: Callable[..., tuple[int, Entry]], kind: str) -> ChangeSet:
        with self._transaction() as (conn, saved):
            act_id, entry = step(conn, self._metadata, who=self._who, revision=self._store.revision)
            of_kind, of_words = (
                (entry.of_kind, entry.of_words) if entry.of_kind else (entry.kind, entry.words)
            )
            saved.append(self._finish(conn, act_id, kind, {"kind": of_kind, "words": of_words}))
        self._announce(saved[0])
        return saved[0]

    @contextmanager
    def _transaction(self) -> Iterator[tuple[Connection, list[ChangeSet]]]:
        """Hold the right to write for one transaction; where nothing was changed, it is rolled back."""
        if self._writer == threading.get_ident():
            raise RuntimeError("acts do not nest")
        with self._writing:
            if self._closed:
                raise BookClosed(self.path)
            if self._store.writer is None:
                raise BookReadOnly(self.path)
            self._writer = threading.get_ident()
            try:
                saved: list[ChangeSet] = []
                with (
                    health.in_words(self.path),
                    self._store.writer.connect() as conn,
                    conn.begin() as transaction,
                ):
                    yield conn, saved
                    if saved and saved[0].act_id is None:
                        transaction.rollback()
            finally:
                self._writer = None

    def _finish(self, conn: Connection, act_id: int, kind: str, words: Mapping[str, object]) -> ChangeSet:
        tables = journal.close_act(conn, act_id)
        return ChangeSet(act_id if tables else None, kind, MappingProxyType(dict(words)), tables)

    def _announce(self, changes: ChangeSet) -> None:
        if changes.act_id is None:
            return
        for callback in tuple(self._callbacks):
            try:
                callback(changes)
            except Exception:
                # The act is saved; telling the person that it failed would be false.
                log.exception("a listener failed after act %s", changes.act_id)


def act_of(command: Any) -> tuple[str, Mapping[str, Any]]:
    """Return the kind and words of the act of `command`: its own, or its class's name and no words."""
    own_kind = getattr(command, "act_kind", None)
    own_words = getattr(command, "act_words", None)
    name = re.sub(r"(?<!^)(?=[A-Z])", "_", type(command).__name__).lower()
    return (own_kind() if own_kind else name), (own_words() if own_words else {})


def _login() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return ""
