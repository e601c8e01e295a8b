"""What a column of a table is: declared once, read by the models, the copy, the export and the paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from operator import attrgetter
from typing import Any

from PySide6.QtCore import QLocale, Qt

from herdbook.words import say

Mark = tuple[str, str]  # (tone, word): tone "go", "soon", "act" or "quiet"

RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


def plain(value: Any) -> str:
    """Return a value as text; None is empty."""
    return "" if value is None else str(value)


def number(decimals: int = 0) -> Callable[[Any], str]:
    """Return a function that writes a number in the keeper's locale with `decimals` places."""

    def show(value: Any) -> str:
        return "" if value is None else QLocale().toString(float(value), "f", decimals)

    return show


def percent(decimals: int = 1) -> Callable[[Any], str]:
    """Return a function that writes a share of one as a percentage."""

    def show(value: Any) -> str:
        return "" if value is None else QLocale().toString(100 * float(value), "f", decimals) + " %"

    return show


@dataclass(frozen=True)
class Column:
    """One column.

    Parameters
    ----------
    key : str
        Its lasting name; the row's attribute unless `get` says otherwise; what a paged table sorts by.
    heading : str
        What stands above it, already through `say`.
    get : callable (row) -> value, optional
    show : callable (value) -> str
        How the value is written.
    figures : bool
        Numbers: right-aligned.
    width : float
        Width at first, in figures of body type.
    least : float
        Where there is less room it narrows to this, in figures of body type; 0 for its width.
    gives : int
        How soon it gives way where there is no room for all: the highest first, of equal ones the last;
        0 stays, as the first column does.
    wraps : bool
        Whether its words go on in a second line where one is too short for them.
    mark : callable (row) -> (tone, word) or None, optional
        A word that follows the value in its tone's colour, so that colour is never the only signal.
    order : callable (value) -> sortable, optional
        What a plain table sorts by; the value itself if None.
    sortable : bool
        Whether a paged table can be sorted by it.
    hidden : bool
        Whether it is left out until the keeper asks for it.
    tip : callable (row) -> str, optional
        What stands beside the pointer.
    """

    key: str
    heading: str
    get: Callable[[Any], Any] | None = None
    show: Callable[[Any], str] = plain
    figures: bool = False
    width: float = 12
    least: float = 0
    gives: int = 1
    wraps: bool = False
    mark: Callable[[Any], Mark | None] | None = None
    order: Callable[[Any], Any] | None = None
    sortable: bool = True
    hidden: bool = False
    tip: Callable[[Any], str] | None = None

    def value(self, row: Any) -> Any:
        """Return the row's value."""
        return self.get(row) if self.get else attrgetter(self.key)(row)

    def text(self, row: Any) -> str:
        """Return the row's value as it is written, without the mark."""
        return self.show(self.value(row))

    def word(self, row: Any) -> Mark | None:
        """Return the row's mark, if it has one here."""
        return self.mark(row) if self.mark else None

    def full_text(self, row: Any) -> str:
        """Return value and mark as one text: for copies, papers and screen readers."""
        mark = self.word(row)
        return " ".join(part for part in (self.text(row), mark[1] if mark else "") if part)


def care_word(row: Any) -> Mark | None:
    """Return the mark that stands beside the tag of an animal to be careful with; its reason is in `care`."""
    return ("act", say("!")) if row.care else None


def care_reason(row: Any) -> Mark | None:
    """Return why to be careful, for the column beside the tag; None where there is no reason to."""
    return ("act", row.care) if row.care else None


@dataclass(frozen=True)
class TableText:
    """A table as it leaves the window: text with its headings, and the plain values for a sheet.

    Parameters
    ----------
    title : str
    on : date
        As of when.
    headings : tuple of str
    rows : tuple of tuple of str
        As they are written on the screen.
    values : tuple of tuple
        Numbers, dates and texts, for a sheet that calculates.
    figures : tuple of bool
        Which columns hold numbers.
    note : str
        A sentence that stands under the title on paper.
    """

    title: str
    on: date
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    values: tuple[tuple[Any, ...], ...]
    figures: tuple[bool, ...]
    note: str = ""

    def tabbed(self) -> str:
        """Return headings and rows with tabs between, as spreadsheets paste them."""

        def line(cells: Sequence[str]) -> str:
            return "\t".join(" ".join(cell.split()) for cell in cells)

        return "\n".join(line(cells) for cells in (self.headings, *self.rows)) + "\n"


_BARE = (int, float, bool, date, type(None))


def as_text(
    title: str, on: date, columns: Sequence[Column], rows: Sequence[Any], note: str = ""
) -> TableText:
    """Return `rows` under `columns` as a table that can be copied, exported and printed."""

    def bare(column: Column, row: Any) -> Any:
        value = column.value(row)
        return value if isinstance(value, _BARE) and column.mark is None else column.full_text(row)

    return TableText(
        title=title,
        on=on,
        headings=tuple(column.heading for column in columns),
        rows=tuple(tuple(column.full_text(row) for column in columns) for row in rows),
        values=tuple(tuple(bare(column, row) for column in columns) for row in rows),
        figures=tuple(column.figures for column in columns),
        note=note,
    )
