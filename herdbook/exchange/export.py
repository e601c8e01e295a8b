"""Any table out of the book: as CSV (UTF-8 with a mark, ISO dates) or as a spreadsheet.

Numbers leave unrounded, days as days; long numbers such as electronic ones stay text. A file is written aside
and then put in its place, so that a failure leaves the old one as it was.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path

from herdbook.words import say

Cell = str | int | float | date | bool | None
_LONGEST_TAB = 31


@contextmanager
def aside(path: Path) -> Iterator[Path]:
    """Give a path beside `path` to write to; on success it takes the place of `path`."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        yield part
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def _text(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return say("yes") if cell else say("no")
    if isinstance(cell, datetime):
        return cell.isoformat(sep=" ", timespec="seconds")
    return cell.isoformat() if isinstance(cell, date) else str(cell)


def write_csv(path: Path, headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write a table as CSV.

    Parameters
    ----------
    path : Path
    headings : sequence of str
    rows : iterable of sequences
        Texts, numbers, days, truths, or None for a blank.

    Raises
    ------
    OSError
        If the file cannot be written; an older one stands unchanged.
    """
    with aside(path) as part, part.open("w", encoding="utf-8-sig", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(headings)
        writer.writerows([_text(cell) for cell in row] for row in rows)


def write_xlsx(
    path: Path, headings: Sequence[str], rows: Iterable[Sequence[Cell]], *, title: str = "herdbook"
) -> None:
    """Write a table as a spreadsheet of one sheet, headings fixed at the top; see `write_csv`."""
    import xlsxwriter

    options = {"constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    with aside(path) as part, part.open("wb") as file, xlsxwriter.Workbook(file, options) as book:
        sheet = book.add_worksheet(_tab(title))
        bold, day = book.add_format({"bold": True}), book.add_format({"num_format": "yyyy-mm-dd"})
        sheet.freeze_panes(1, 0)
        sheet.set_column(0, max(0, len(headings) - 1), 14)
        sheet.write_row(0, 0, headings, bold)
        for number, row in enumerate(rows, start=1):
            for column, cell in enumerate(row):
                if isinstance(cell, date):
                    sheet.write_datetime(number, column, cell, day)
                elif isinstance(cell, int | float) and not isinstance(cell, bool):
                    sheet.write_number(number, column, cell)
                elif cell is not None and cell != "":
                    sheet.write_string(number, column, _text(cell))


def _tab(title: str) -> str:
    """Return a title as the name of a sheet may be."""
    allowed = "".join(" " if letter in "[]:*?/\\'" else letter for letter in title)
    return " ".join(allowed.split())[:_LONGEST_TAB].strip() or "herdbook"
