"""Sheets as files hold them: CSV in whatever encoding and with whatever delimiter, and spreadsheets.

Every cell becomes a text: true dates in ISO form, whole numbers without a decimal point. Row numbers are
those that a spreadsheet program shows.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from herdbook.words import say

DELIMITERS = ",;\t|"
# Old sheets are seldom in anything but these; a free guess takes short Western texts for far-off alphabets.
_OLD_ENCODINGS = ["cp1252", "cp1250", "cp1251", "cp1253", "cp1254", "cp1257", "cp850", "mac_roman"]
_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_SPREADSHEETS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")


class SheetUnreadable(Exception):
    """A file that cannot be read as a sheet; `str` is a plain sentence for the keeper."""


@dataclass(frozen=True, slots=True)
class Row:
    """A row of texts with its number in the sheet, as long as the header."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Sheet:
    """A table as a file holds it.

    Parameters
    ----------
    name : str
        The file's name, with the worksheet's where the file has several.
    header : tuple of str
        The headings.
    rows : tuple of Row
        The rows below them that are not empty.
    too_long : frozenset of int
        Numbers of the rows with a filled cell beyond the last heading: a delimiter in a value moved them.
    """

    name: str
    header: tuple[str, ...]
    rows: tuple[Row, ...]
    too_long: frozenset[int] = frozenset()


def read_sheets(path: Path) -> list[Sheet]:
    """Read the sheets of a file: one of a CSV file, every filled one of a spreadsheet.

    Raises
    ------
    SheetUnreadable
        If it is not there, not a sheet, damaged, or empty.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise SheetUnreadable(say("{path} cannot be opened: {why}.", path=path, why=why)) from None
    if content.startswith(_SPREADSHEETS):
        tables = _spreadsheet(content, path)
    else:
        tables = [(path.name, list(enumerate(_delimited(content, path), start=1)))]
    sheets = [sheet for name, rows in tables if (sheet := _sheet(name, rows))]
    if not sheets:
        raise SheetUnreadable(say("{name} is empty.", name=path.name))
    return sheets


def _sheet(name: str, rows: Iterable[tuple[int, Sequence[str]]]) -> Sheet | None:
    """Take the first row that is not empty as the header; return None where there is none."""
    stripped = ((number, tuple(cell.strip() for cell in cells)) for number, cells in rows)
    filled = [(number, cells) for number, cells in stripped if any(cells)]
    if not filled:
        return None
    header = filled[0][1]
    while header and not header[-1]:
        header = header[:-1]
    width = len(header)
    body = tuple(Row(number, (*cells, *[""] * (width - len(cells)))[:width]) for number, cells in filled[1:])
    too_long = frozenset(number for number, cells in filled[1:] if any(cells[width:]))
    return Sheet(name, header, body, too_long)


def _delimited(content: bytes, path: Path) -> list[list[str]]:
    text = _decoded(content, path)
    first, _, rest = text.partition("\n")
    if first.strip().lower().startswith("sep=") and len(first.strip()) == 5:
        delimiter, text = first.strip()[4], "\n" + rest  # the line stays counted
    else:
        delimiter = _delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        return list(reader)
    except csv.Error as error:
        raise SheetUnreadable(
            say(
                "{name} cannot be read near line {line}: a quotation mark is open or out of place ({why}).",
                name=path.name,
                line=reader.line_num,
                why=error,
            )
        ) from None


def _decoded(content: bytes, path: Path) -> str:
    for mark, encoding in _BYTE_ORDER_MARKS:
        if content.startswith(mark):
            return _as(content, encoding, path)
    if b"\0" in content:
        raise SheetUnreadable(say("{name} is not a sheet: it holds no plain text.", name=path.name))
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        from charset_normalizer import from_bytes

        best = from_bytes(content, cp_isolation=_OLD_ENCODINGS).best()
        return _as(content, best.encoding if best else "cp1252", path)


def _as(content: bytes, encoding: str, path: Path) -> str:
    try:
        return content.decode(encoding)
    except UnicodeDecodeError:
        raise SheetUnreadable(
            say("{name} is not a sheet: its letters cannot be read.", name=path.name)
        ) from None


def _delimiter(text: str) -> str:
    """Return the delimiter that parts the header most often; quoted ones do not count."""
    header = next((line for line in text.splitlines() if line.strip(" ,;\t|")), "")
    outside = "".join(header.split('"')[::2])
    return max(DELIMITERS, key=outside.count)


def _spreadsheet(content: bytes, path: Path) -> list[tuple[str, list[tuple[int, list[str]]]]]:
    from python_calamine import CalamineWorkbook

    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        read = {
            name: list(enumerate(book.get_sheet_by_name(name).to_python(skip_empty_area=False), start=1))
            for name in book.sheet_names
        }
    # The library's own errors share no base, and a damaged file makes it raise others.
    except Exception as error:
        raise SheetUnreadable(
            say("{name} cannot be read as a spreadsheet: {why}.", name=path.name, why=_plain(error))
        ) from None
    several = sum(1 for rows in read.values() if rows) > 1
    return [
        (
            f"{path.name}: {name}" if several else path.name,
            [(n, [_text(c) for c in cells]) for n, cells in rows],
        )
        for name, rows in read.items()
    ]


def _plain(error: Exception) -> str:
    return " ".join(str(error).split())[:120] or type(error).__name__


def _text(cell: Any) -> str:
    """Return a cell as the text that a person would have typed."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e16 else repr(cell)
    if isinstance(cell, datetime):
        return cell.date().isoformat()
    if isinstance(cell, date):
        return cell.isoformat()
    return "" if cell is None else str(cell)
