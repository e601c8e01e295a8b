"""Making and opening files: what they are, what is said of files that are not books, how they are left."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
import sqlalchemy
from sqlalchemy import insert, select, text

from herdbook.services.book import Book
from herdbook.store import errors, migrate
from herdbook.store.bare import connect
from herdbook.store.files import file_system, unfold
from herdbook.store.health import findings
from herdbook.store.open import open_store
from herdbook.store.tables import Animal


def add(book: Book, tag: str) -> None:
    """Write one animal."""
    with book.act("add", tag=tag) as work:
        work.conn.execute(insert(Animal).values(tag=tag, tag_key=tag))


def tags(book: Book) -> list[str]:
    """Return the tags of all animals."""
    with book.read() as conn:
        return list(conn.scalars(select(Animal.tag).order_by(Animal.id)))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return the path of a closed book with one animal."""
    made = tmp_path / "herd.herdbook"
    with Book.create(made, who="keeper") as book:
        add(book, "12")
    return made


@pytest.mark.parametrize("name", ["herd", "Höhe ♀ #1?.herdbook", "50%25 mode=ro&x.herdbook", "two words"])
def test_closed_book_is_one_file(tmp_path: Path, name: str) -> None:
    """Whatever its name, and with nothing left beside it."""
    path = tmp_path / name
    with Book.create(path) as book:
        add(book, "12")
        assert book.path == path
        assert path.with_name(name + "-wal").exists()
    assert [found.name for found in tmp_path.iterdir()] == [name]
    with Book.open(path) as book:
        assert tags(book) == ["12"]
    assert [found.name for found in tmp_path.iterdir()] == [name]


def test_settings_of_the_connections(path: Path) -> None:
    """Every commit is forced to the disk; keys are watched; readers cannot write."""
    with Book.open(path) as book:
        with book.act("look") as work:
            values = [
                work.conn.scalar(text(f"PRAGMA {name}"))
                for name in ("synchronous", "foreign_keys", "recursive_triggers", "journal_mode")
            ]
        assert values == [2, 1, 1, "wal"]
        with book.read() as conn, pytest.raises(sqlalchemy.exc.OperationalError, match="readonly"):
            conn.execute(text("DELETE FROM animal"))


def test_unrecorded_write_fails(path: Path) -> None:
    """On the writing connection nothing can be written outside an act."""
    store = open_store(path)
    assert store.writer is not None
    for statement in (
        "INSERT INTO animal (tag, tag_key) VALUES ('13', '13')",
        "UPDATE animal SET tag = '13'",
        "DELETE FROM animal",
        "REPLACE INTO animal (id, tag, tag_key) VALUES (1, '13', '13')",
    ):
        with pytest.raises(sqlalchemy.exc.IntegrityError, match="unrecorded"), store.writer.begin() as conn:
            conn.execute(text(statement))
    store.close()
    with Book.open(path) as book:
        assert tags(book) == ["12"]


def test_every_table_is_journaled(path: Path) -> None:
    """All but the journal's own and what was handed out; each has a whole number that never comes back."""
    store = open_store(path)
    assert store.writer is not None
    with store.writer.begin() as conn:
        watched = set(conn.scalars(text("SELECT tbl_name FROM sqlite_temp_master WHERE type='trigger'")))
        made = conn.execute(text("SELECT name, sql FROM sqlite_master WHERE type='table'")).all()
    store.close()
    tables = {name: sql for name, sql in made if not name.startswith("sqlite_")}
    assert set(tables) - watched == {"act", "act_row", "alembic_version", "calendar_sent"}
    assert all("AUTOINCREMENT" in sql for name, sql in tables.items() if name != "alembic_version")


def test_create_leaves_a_file_alone(tmp_path: Path) -> None:
    """A new book never takes the place of anything."""
    path = tmp_path / "letter"
    path.write_text("dear vet")
    with pytest.raises(errors.BookExists, match="already"):
        Book.create(path)
    assert path.read_text() == "dear vet"
    assert list(tmp_path.iterdir()) == [path]


def test_create_without_folder(tmp_path: Path) -> None:
    """A folder is not made by the way."""
    with pytest.raises(errors.NoFolder):
        Book.create(tmp_path / "no" / "herd")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("content", "error"),
    [
        (None, errors.BookMissing),
        (b"", errors.BookEmpty),
        (b"tag,name\n12,Eden\n", errors.NotAHerdBook),
        (b"PK\x03\x04", errors.NotAHerdBook),
        (b"SQLite format 3\0", errors.BookDamaged),
        (os.urandom(5000), errors.NotAHerdBook),
    ],
)
def test_no_book(tmp_path: Path, content: bytes | None, error: type[errors.BookError]) -> None:
    """Each wrong file is told by name, in three sentences, and left as it is."""
    path = tmp_path / "herd"
    if content is not None:
        path.write_bytes(content)
    for read_only in (False, True):
        with pytest.raises(error) as caught:
            Book.open(path, read_only=read_only)
        said = caught.value
        assert str(path) in said.what
        assert str(said) == f"{said.what} {said.safe} {said.todo}"
        assert (path.read_bytes() if content is not None else None) == content
    assert list(tmp_path.iterdir()) == ([path] if content is not None else [])


def test_log_of_a_book_that_is_gone(tmp_path: Path) -> None:
    """It would be taken for the new book's own; it is told of and left."""
    log = tmp_path / "herd-wal"
    log.write_bytes(b"what was saved last")
    with pytest.raises(errors.LogLeftBehind, match="herd-wal"):
        Book.create(tmp_path / "herd")
    assert list(tmp_path.iterdir()) == [log]


def test_folder(tmp_path: Path) -> None:
    """A folder is no book."""
    with pytest.raises(errors.BookIsFolder):
        Book.open(tmp_path)


def test_other_database(tmp_path: Path) -> None:
    """A database of another program is not touched."""
    path = tmp_path / "other.db"
    conn = sqlite3.connect(path)
    conn.execute("CREATE TABLE animal (id INTEGER PRIMARY KEY)")
    conn.close()
    before = path.read_bytes()
    with pytest.raises(errors.NotAHerdBook):
        Book.open(path)
    assert path.read_bytes() == before


def test_newer(path: Path) -> None:
    """A file of a later program is refused, also for reading."""
    conn = connect(path, "rw")
    conn.execute(f"PRAGMA user_version={migrate.CHAIN.head + 1}")
    conn.close()
    before = path.read_bytes()
    for read_only in (False, True):
        with pytest.raises(errors.BookNewer, match="newer"):
            Book.open(path, read_only=read_only)
    assert path.read_bytes() == before


def test_table_missing(path: Path) -> None:
    """A file that lacks a table is damaged, however sound the rest."""
    conn = connect(path, "rw")
    conn.execute("DROP TABLE weighing")
    conn.close()
    for read_only in (False, True):
        with pytest.raises(errors.BookDamaged, match="weighing"):
            Book.open(path, read_only=read_only)


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="takes on another user for a while"
)
def test_no_permission(path: Path) -> None:
    """Another person's file: unreadable, readable only, or in a folder one cannot write to."""
    for folder in (path.parent, *path.parent.parents[:3]):
        folder.chmod(0o755)

    def attempt(read_only: bool) -> list[str]:
        os.seteuid(65534)
        try:
            with Book.open(path, read_only=read_only) as book:
                return tags(book)
        finally:
            os.seteuid(0)

    path.chmod(0o600)
    for read_only in (False, True):
        with pytest.raises(errors.NoPermission, match="read"):
            attempt(read_only)
    path.chmod(0o644)
    with pytest.raises(errors.NoPermission, match="write"):
        attempt(False)
    assert attempt(True) == ["12"]
    path.chmod(0o666)
    with pytest.raises(errors.NoPermission, match="write"):
        attempt(False)
    assert list(path.parent.iterdir()) == [path]


def test_read_only(path: Path) -> None:
    """Reading only takes no lock, leaves no file, and refuses writes in words."""
    before = path.read_bytes()
    with Book.open(path, read_only=True) as one, Book.open(path, read_only=True) as two:
        assert tags(one) == tags(two) == ["12"]
        assert one.read_only
        with pytest.raises(errors.BookReadOnly):
            add(one, "13")
        with pytest.raises(errors.BookReadOnly):
            one.undo()
        with Book.open(path) as writer:
            add(writer, "13")
            assert tags(one) == ["12", "13"]
            writer.undo()
    with Book.open(path, read_only=True) as book:
        assert [entry.kind for entry in book.history()] == ["undo", "add", "add"]
    assert [found.name for found in path.parent.iterdir()] == [path.name]
    assert len(path.read_bytes()) == len(before)


def test_file_system_without_shared_memory(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the write-ahead log cannot be had, the older journal serves, with readers beside the writer."""
    bare = sqlite3.connect(f"file:{path}?vfs=unix-dotfile", uri=True) if os.name == "posix" else None
    if bare is not None:
        assert unfold(bare, path) == "delete"
        bare.close()
    monkeypatch.setattr("herdbook.store.files.on_network", lambda _: True)
    with Book.open(path) as book:
        with book.read() as conn:
            assert conn.scalar(text("PRAGMA journal_mode")) == "delete"
        add(book, "13")
        assert tags(book) == ["12", "13"]
        book.undo()
        assert tags(book) == ["12"]
        assert not path.with_name(path.name + "-wal").exists()
    assert [found.name for found in path.parent.iterdir()] == [path.name]


def test_file_system() -> None:
    """The deepest mount that holds the file counts, and of two on one place the later."""
    mounts = (
        "/dev/sda1 / ext4 rw 0 0\n"
        "farm:/books /mnt/byre nfs4 rw 0 0\n"
        "//pc/my\\040books /mnt/my\\040books cifs rw 0 0\n"
        "/dev/sdb1 /mnt/byre/stick vfat rw 0 0\n"
        "/dev/sdc1 /twice ext4 rw 0 0\n"
        "keeper@pc: /twice fuse.sshfs rw 0 0\n"
        "broken\n"
    )
    for path, kind in {
        "/mnt/byre/herd": "nfs4",
        "/mnt/byre/stick/herd": "vfat",
        "/mnt/byreer/herd": "ext4",
        "/mnt/my books/herd": "cifs",
        "/twice/herd": "fuse.sshfs",
        "/herd": "ext4",
    }.items():
        assert file_system(Path(path), mounts) == kind
    assert file_system(Path("/herd"), "") == ""


def test_text_that_is_not_utf8_is_damage(path: Path) -> None:
    """The quick check does not look at texts; reading one that cannot be read is told as damage."""
    conn = connect(path, "rw")
    conn.execute("UPDATE animal SET name = CAST(x'ff41' AS TEXT)")
    conn.close()
    with Book.open(path) as book, pytest.raises(errors.BookDamaged), book.read() as conn_:
        conn_.execute(select(Animal.name)).all()


def test_date_that_is_none_is_damage(path: Path) -> None:
    """So is a date that is no date."""
    conn = connect(path, "rw")
    conn.execute("UPDATE animal SET born = '2026-13-45'")
    conn.close()
    with Book.open(path) as book, pytest.raises(errors.BookDamaged), book.read() as conn_:
        conn_.execute(select(Animal.born)).all()


def test_error_of_the_reader_passes(path: Path) -> None:
    """A mistake of the program is not called damage."""
    with Book.open(path) as book:
        with pytest.raises(ValueError, match="own"), book.read():
            raise ValueError("own")
        with pytest.raises(sqlalchemy.exc.OperationalError, match="no such table"), book.read() as conn:
            conn.execute(text("SELECT * FROM nowhere"))


HALF_SAVED = """
import os, signal, sqlite3, sys
conn = sqlite3.connect(sys.argv[1], isolation_level=None)
conn.execute("PRAGMA cache_size=1")
conn.execute("BEGIN")
conn.execute("UPDATE animal SET tag = 'spoilt'")
for number in range(3000):
    conn.execute("INSERT INTO animal (tag, tag_key) VALUES (?, '')", (f"x{number}" * 20,))
os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_stopped_while_saving_without_log(path: Path) -> None:
    """Where the older journal serves, half a save may be in the file: readers are told, a writer mends it."""
    subprocess.run([sys.executable, "-c", HALF_SAVED, str(path)], check=False)
    assert path.with_name(path.name + "-journal").exists()
    with pytest.raises(errors.BookUnfinished, match="stopped"):
        Book.open(path, read_only=True)
    with Book.open(path) as book:
        assert tags(book) == ["12"]
    with Book.open(path, read_only=True) as book:
        assert tags(book) == ["12"]


def test_findings(path: Path) -> None:
    """The full check is silent on a sound file and names a link that leads nowhere."""
    conn = connect(path, "rw")
    assert findings(conn) == []
    conn.execute("PRAGMA foreign_keys=OFF")
    conn.execute("UPDATE animal SET dam_id = 77")
    assert len(findings(conn)) == 1
    assert "animal" in findings(conn)[0]
    conn.close()
    with Book.open(path) as book:
        assert len(book.findings()) == 1


def test_opening_a_current_file_is_light(path: Path) -> None:
    """Neither a new nor a current book needs Alembic, numbers or papers."""
    code = (
        "import sys; from pathlib import Path; from herdbook.services.book import Book\n"
        "path = Path(sys.argv[1]); Book.open(path).close(); Book.create(path.with_name('new')).close()\n"
        "print(sorted({'alembic', 'numpy', 'scipy', 'reportlab', 'mako'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_looked_through_without_sqlalchemy(path: Path) -> None:
    """The program imports SQLAlchemy beside the look through the file; a file that is none never needs it."""
    path.write_bytes(b"not a herd book " * 10)
    code = (
        "import sys; from pathlib import Path; from herdbook.store import errors, open\n"
        "try:\n    open.open_store(Path(sys.argv[1]))\n"
        "except errors.NotAHerdBook:\n    print('sqlalchemy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
