"""The formats that go in and out, in one place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TypeVar

from herdbook.exchange.calendar import export_calendar
from herdbook.exchange.export import Cell, write_csv, write_xlsx
from herdbook.services.calendar_sent import OutgoingEvent
from herdbook.words import say

Writer = Callable[[Path, Sequence[str], Iterable[Sequence[Cell]]], None]
CalendarWriter = Callable[..., list[OutgoingEvent]]
W = TypeVar("W")

TABLES_OUT: dict[str, Writer] = {".csv": write_csv, ".xlsx": write_xlsx}
"""What writes a table, by the ending of the file."""

CALENDARS_OUT: dict[str, CalendarWriter] = {".ics": export_calendar}
"""What writes the days ahead as a calendar file, by the ending of the file."""

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
    return _by_ending(TABLES_OUT, path)


def calendar_writer(path: Path) -> CalendarWriter:
    """Return what writes the days ahead as a calendar file of the format that the ending of `path` asks for.

    Raises
    ------
    UnknownFormat
    """
    return _by_ending(CALENDARS_OUT, path)


def _by_ending(known: Mapping[str, W], path: Path) -> W:
    writer = known.get(path.suffix.lower())
    if writer is None:
        raise UnknownFormat(say("{name} ends in none of {known}.", name=path.name, known=", ".join(known)))
    return writer
