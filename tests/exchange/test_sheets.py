"""Sheets in the encodings, delimiters and file kinds that they come in."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from herdbook.exchange.export import write_xlsx
from herdbook.exchange.sheets import SheetUnreadable, read_sheets

TEXT = "tag,name\r\n12,Åre\r\n13,Żubr\r\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_unicode_with_and_without_a_mark(tmp_path: Path, encoding: str) -> None:
    file = tmp_path / "a.csv"
    file.write_bytes(TEXT.encode(encoding))
    (sheet,) = read_sheets(file)
    assert sheet.header == ("tag", "name")
    assert [row.cells for row in sheet.rows] == [("12", "Åre"), ("13", "Żubr")]


def test_an_old_western_sheet(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    file.write_bytes("tag;name\n12;Blåfjell Märta Søndre Öland\n13;Großer Bühl Grüne Höhe\n".encode("cp1252"))
    (sheet,) = read_sheets(file)
    assert [row.cells[1] for row in sheet.rows] == ["Blåfjell Märta Søndre Öland", "Großer Bühl Grüne Höhe"]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_delimiter_is_told_from_the_header(tmp_path: Path, delimiter: str) -> None:
    file = tmp_path / "a.csv"
    file.write_text(f'"tag"{delimiter}"name, of; it"{delimiter}sex\n1{delimiter}Eden{delimiter}F\n', "utf-8")
    (sheet,) = read_sheets(file)
    assert sheet.header == ("tag", "name, of; it", "sex")
    assert sheet.rows[0].cells == ("1", "Eden", "F")


def test_row_numbers_are_those_of_a_spreadsheet(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    file.write_text('tag,note\n\n1,"two\nlines"\n,\n2,end\n', "utf-8")
    (sheet,) = read_sheets(file)
    assert [(row.number, row.cells[0]) for row in sheet.rows] == [(3, "1"), (5, "2")]


def test_a_line_that_names_the_delimiter_counts_as_a_row(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    file.write_text("sep=;\ntag;name\n1;Eden, the old\n", "utf-8")
    (sheet,) = read_sheets(file)
    assert sheet.header == ("tag", "name")
    assert (sheet.rows[0].number, sheet.rows[0].cells) == (3, ("1", "Eden, the old"))


def test_a_row_with_a_cell_too_many_is_marked(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    file.write_text("tag,weight,unit\n1,236,5,kg\n2,236,kg,\n", "utf-8")
    (sheet,) = read_sheets(file)
    assert sheet.too_long == {2}


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n\n,,\n",
        b"\x00\x01\x02\x03",
        b"PK\x03\x04 not a real one",
        b'tag,name\n1,"open\n2,x\n',
        b"\xff\xfe\x00",
    ],
)
def test_what_is_no_sheet_is_refused_in_words(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "a.csv"
    file.write_bytes(content)
    with pytest.raises(SheetUnreadable, match=r"a\.csv"):
        read_sheets(file)


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(SheetUnreadable, match="cannot be opened"):
            read_sheets(path)


def test_a_spreadsheet_gives_true_dates_and_whole_numbers(tmp_path: Path) -> None:
    file = tmp_path / "a.xlsx"
    rows = [["7", date(2024, 3, 9), 999000000001234, 236.5, None, True]]
    write_xlsx(file, ["tag", "born", "eid", "weight", "x", "y"], rows)
    (sheet,) = read_sheets(file)
    assert sheet.name == "a.xlsx"
    assert sheet.rows[0].number == 2
    assert sheet.rows[0].cells == ("7", "2024-03-09", "999000000001234", "236.5", "", "yes")
