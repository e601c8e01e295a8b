"""The formats that go in and out, in one place: what a file dialog offers and what writes it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from herdbook.exchange.export import Cell, write_csv, write_xlsx
from herdbook.exchange.read_in import plan_read_in
from herdbook.words import say

Writer = Callable[[Path, Sequence[str], Iterable[Sequence[Cell]]], None]


@dataclass(frozen=True)
class Outgoing:
    """A format in which a table leaves; `label` is the English name, shown through `say`."""

    key: str
    label: str
    suffix: str
    write: Writer


@dataclass(frozen=True)
class Incoming:
    """A format that is read; `read` turns files into what they say."""

    key: str
    label: str
    suffixes: tuple[str, ...]
    read: Callable[..., object]


TABLES_OUT = (
    Outgoing("csv", "CSV, for any program", ".csv", write_csv),
    Outgoing("xlsx", "Spreadsheet", ".xlsx", write_xlsx),
)

SHEETS_IN = (Incoming("sheets", "Sheets", (".csv", ".txt", ".tsv", ".xlsx", ".xls", ".ods"), plan_read_in),)


class UnknownFormat(ValueError):
    """No format goes by that ending; `str` is a plain sentence."""


def table_writer(path: Path) -> Outgoing:
    """Return the format that the ending of `path` asks for.

    Raises
    ------
    UnknownFormat
    """
    for outgoing in TABLES_OUT:
        if path.suffix.lower() == outgoing.suffix:
            return outgoing
    known = ", ".join(outgoing.suffix for outgoing in TABLES_OUT)
    raise UnknownFormat(say("{name} ends in none of {known}.", name=path.name, known=known))


def export_table(path: Path, headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write a table in the format that the ending of `path` asks for; see `write_csv` and `write_xlsx`."""
    table_writer(path).write(path, headings, rows)
