"""Which form of the tables this program reads, and how an older file is brought to it.

A file that is current costs no import of Alembic. An older one is never changed in place: a copy is migrated,
checked, and then takes its place, and the file as it was is kept beside it.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from herdbook.store.bare import connect
from herdbook.store.copies import keep_copy
from herdbook.store.errors import BookBusy, UpdateFailed
from herdbook.store.files import beside, discard, fold, move_into_place, write_copy
from herdbook.store.health import findings, in_words, require_sound

if TYPE_CHECKING:
    from alembic.config import Config
    from sqlalchemy import Connection

APPLICATION_ID = 0x48644B31
"""Marks a SQLite file as a herd book ("HdK1")."""


@dataclass(frozen=True)
class Chain:
    """A chain of migrations.

    Parameters
    ----------
    head : int
        The form this program reads: the file's `user_version`, and the name of the last revision ("0001").
    location : str
        Where Alembic finds the revisions.
    """

    head: int
    location: str

    @property
    def revision(self) -> str:
        """The name of the last revision."""
        return f"{self.head:04d}"


CHAIN = Chain(1, "herdbook.store:migrations")


def bring_up(path: Path, chain: Chain) -> Path:
    """Bring the file at `path`, whose lock is held, to the head of `chain`; return where the old one is kept.

    Raises
    ------
    UpdateFailed
        If a migration or the checks after it fail; the book is as it was.
    BookDamaged, BookBusy, NoPermission, DiskFull, BookOutOfReach
    """
    _fold_up(path)
    kept = keep_copy(path, f"before {chain.revision}", datetime.now().astimezone())
    work = beside(path, ".update")
    discard(work)  # what an update that was killed may have left
    write_copy(path, work)
    try:
        _upgrade_file(work, chain)
        move_into_place(work, path)
    except Exception as error:
        raise UpdateFailed(path, str(error).splitlines()[0] if str(error) else repr(error), kept) from error
    finally:
        discard(work)
    return kept


def _fold_up(path: Path) -> None:
    """Bring what a crash may have left in the write-ahead log into the file."""
    with in_words(path):
        conn = connect(path, "rw")
        try:
            require_sound(conn, path)
            fold(conn)
        except sqlite3.OperationalError:
            raise BookBusy(path) from None
        finally:
            conn.close()


def _upgrade_file(path: Path, chain: Chain) -> None:
    """Migrate the file and check it.

    Foreign keys are off meanwhile: recreating a table would otherwise delete or empty what points at it.
    """
    from herdbook.store.engine import writing

    conn = connect(path, "rw")
    try:
        conn.execute("PRAGMA foreign_keys=OFF")
        with writing(conn).begin() as writer:
            upgrade(writer, chain)
            writer.exec_driver_sql(f"PRAGMA user_version={chain.head}")
        found = findings(conn)
        if found:
            raise ValueError("; ".join(found[:3]))
        fold(conn)
    finally:
        conn.close()


def upgrade(conn: Connection, chain: Chain) -> None:
    """Run the migrations that are missing within the transaction of `conn`."""
    from alembic import command

    command.upgrade(alembic_config(conn, chain), chain.revision)


def alembic_config(conn: Connection, chain: Chain) -> Config:
    """Return what Alembic must know: where the revisions are, and the connection to use."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", chain.location)
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = conn
    return config
