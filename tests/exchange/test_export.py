"""Tables out, and back in again."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest

from herdbook.exchange.export import write_csv, write_xlsx
from herdbook.exchange.registry import UnknownFormat, table_writer
from herdbook.exchange.sheets import read_sheets

HEAD = ("tag", "born", "kg", "eid", "note")
ROWS = [
    ("007", date(2024, 2, 29), 1 / 3, "999000000001234", 'say "moo", twice'),
    ("=1+1", None, 512.0, None, "♀ Żubr"),
]


def test_csv_is_utf8_with_a_mark_and_iso_dates(tmp_path: Path) -> None:
    file = tmp_path / "t.csv"
    write_csv(file, HEAD, ROWS)
    assert file.read_bytes().startswith(b"\xef\xbb\xbftag,born")
    with file.open(encoding="utf-8-sig", newline="") as text:
        rows = list(csv.reader(text))
    assert rows[1] == ["007", "2024-02-29", repr(1 / 3), "999000000001234", 'say "moo", twice']
    assert rows[2] == ["=1+1", "", "512.0", "", "♀ Żubr"]


def test_a_spreadsheet_keeps_texts_dates_and_numbers_apart(tmp_path: Path) -> None:
    file = tmp_path / "t.xlsx"
    write_xlsx(file, HEAD, ROWS, title="Cows: [all]/2024 and a very long title behind it")
    (sheet,) = read_sheets(file)
    assert sheet.header == HEAD
    first, second = sheet.rows
    assert (first.cells[0], first.cells[1], first.cells[3]) == ("007", "2024-02-29", "999000000001234")
    assert float(first.cells[2]) == pytest.approx(1 / 3, rel=1e-15)
    assert second.cells == ("=1+1", "", "512", "", "♀ Żubr")


def test_the_ending_chooses_the_format(tmp_path: Path) -> None:
    assert table_writer(tmp_path / "a.CSV") is write_csv
    assert table_writer(tmp_path / "a.xlsx") is write_xlsx
    with pytest.raises(UnknownFormat, match=r"a\.doc"):
        table_writer(tmp_path / "a.doc")


@pytest.mark.parametrize("write", [write_csv, write_xlsx])
def test_a_failure_half_way_leaves_the_old_file(tmp_path: Path, write: object) -> None:
    file = tmp_path / "t.csv"
    file.write_text("old", encoding="utf-8")

    def rows() -> object:
        yield ("1", None, 2.0, "3", "4")
        raise RuntimeError("the book went away")

    with pytest.raises(RuntimeError):
        write(file, HEAD, rows())  # type: ignore[operator]
    assert file.read_text(encoding="utf-8") == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["t.csv"]
