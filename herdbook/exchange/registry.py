"""The formats that go in and out, in one place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from herdbook.exchange.export import Cell, write_csv, write_xlsx
from herdbook.words import say

Writer = Callable[[Path, Sequence[str], Iterable[Sequence[Cell]]], None]

TABLES_OUT: dict[str, Writer] = {".csv": write_csv, ".xlsx": write_xlsx}
"""What writes a table, by the ending of the file."""

SHEETS_IN = (".csv", ".txt", ".tsv", ".xlsx", ".xlsm", ".xls", ".ods")
"""The endings that a file dialog offers to read; what a sheet is, `read_sheets` sees from its bytes."""


class UnknownFormat(ValueError):
    """No format goes by that ending; `str` is a plain sentence."""


def table_writer(path: Path) -> Writer:
    """Return what writes a table in the format that the ending of `path` asks for.

    Raises
    ------
    UnknownFormat
    """
    writer = TABLES_OUT.get(path.suffix.lower())
    if writer is None:
        raise UnknownFormat(
            say("{name} ends in none of {known}.", name=path.name, known=", ".join(TABLES_OUT))
        )
    return writer
