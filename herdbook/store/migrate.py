"""Which form of the tables this program reads, and how an older file is brought to it.

A file that is current costs no import of Alembic. An older one is never changed in place: a copy is migrated,
checked, and then takes its place, and the file as it was is kept beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

APPLICATION_ID = 0x48644B31
"""Marks a SQLite file as a herd book ("HdK1")."""


@dataclass(frozen=True)
class Chain:
    """A chain of migrations.

    Parameters
    ----------
    head : int
        The form this program reads; the file's `user_version`, and the name of the last revision ("0001").
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


def bring_up(path: Path, chain: Chain) -> None:
    """Bring the file at `path`, whose lock is held, to the head of `chain`."""
    raise NotImplementedError(path, chain)
