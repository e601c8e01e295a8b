"""What kind a sheet is, what its columns mean, and which rows can be read."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from herdbook.exchange.headings import recognise
from herdbook.exchange.read_in import plan_read_in
from herdbook.services.reading.rows import ReadIn

ON = date(2026, 3, 1)


def plan(tmp_path: Path, text: str, **told: object) -> ReadIn:
    file = tmp_path / "s.csv"
    file.write_text(text, encoding="utf-8")
    return plan_read_in([file], on=ON, **told)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("header", "kind"),
    [
        ("tag,name,sex,born,dam,sire", "animals"),
        ("tag,name,sex,born,dam,sire,breed,electronic_id,registration,entered,left,reason_left", "animals"),
        ("id,sire,dam", "animals"),
        ("tag,date,weight,unit", "weights"),
        ("Ear Tag,Weigh Date,Weight (lb)", "weights"),
        ("dam,sire,date", "services"),
        ("Cow,Bull,Service date", "services"),
        ("sire,dam,in,out", "runs"),
        ("dam,date,result,days", "checks"),
        ("dam,date,ease,calf,sex,weight", "calvings"),
        ("tag,date,product,days_meat", "treatments"),
    ],
)
def test_the_columns_tell_the_kind(header: str, kind: str) -> None:
    (columns,) = recognise(header.split(","))
    assert columns.kind == kind
    assert columns.unknown == ()


def test_headings_that_tell_nothing_are_asked_about(tmp_path: Path) -> None:
    read = plan(tmp_path, "colour of the sky,moon\nblue,full\n")
    assert [ask.what for ask in read.asks] == ["kind"]
    assert read.asks[0].examples == ("colour of the sky", "moon")


def test_the_keeper_matches_a_heading_once(tmp_path: Path) -> None:
    text = "Ohrmarke,Geboren,sex\n12,2020-01-02,F\n"
    assert plan(tmp_path, text).asks
    read = plan(tmp_path, text, headings={"Ohrmarke": "tag", "Geboren": "born"})
    assert (read.animals[0].tag, str(read.animals[0].born)) == ("12", "2020-01-02")


def test_a_column_that_was_not_read_is_told(tmp_path: Path) -> None:
    read = plan(tmp_path, "tag,sex,lucky number\n12,F,7\n")
    assert [(q.code, q.column) for q in read.questions] == [("column_not_read", "lucky number")]


def test_the_unit_stands_in_the_cell_the_column_the_heading_or_the_book(tmp_path: Path) -> None:
    cell = plan(tmp_path, "tag,date,weight\n1,2024-01-01,520 lb\n").weights[0]
    column = plan(tmp_path, "tag,date,weight,unit\n1,2024-01-01,520,LBS\n").weights[0]
    heading = plan(tmp_path, "tag,date,Weight lb\n1,2024-01-01,520\n").weights[0]
    book = plan(tmp_path, "tag,date,weight\n1,2024-01-01,520\n", default_unit="lb").weights[0]
    assert cell.kg == column.kg == heading.kg == book.kg == 520 * 0.45359237
    assert {row.unit for row in (cell, column, heading, book)} == {"lb"}


def test_a_bad_row_is_named_with_its_row_and_column_and_the_rest_is_read(tmp_path: Path) -> None:
    read = plan(tmp_path, "Tag no,Sex,Born\n1,F,2020-01-01\n2,zebra,2020-01-01\n3,F,DNC\n,F,\n4,F,2020\n")
    assert [row.tag for row in read.animals] == ["1", "4"]
    assert [(s.sheet, s.row, s.column) for s in read.skipped] == [
        ("s.csv", 3, "Sex"), ("s.csv", 4, "Born"), ("s.csv", 5, "Tag no"),
    ]  # fmt: skip


def test_a_value_with_the_delimiter_does_not_shift_the_columns(tmp_path: Path) -> None:
    read = plan(tmp_path, "tag,date,weight,unit\n1,2024-01-01,236,5,kg\n2,2024-01-01,236,kg\n")
    assert [row.tag for row in read.weights] == ["2"]
    assert [(s.row, s.column) for s in read.skipped] == [(2, None)]


def test_doubtful_dates_are_asked_about_and_an_answer_settles_them(tmp_path: Path) -> None:
    text = "tag,date,weight\n1,03/04/2024,300\n"
    asks = plan(tmp_path, text).asks
    assert [(ask.what, ask.column, ask.examples) for ask in asks] == [("dates", "date", ("03/04/2024",))]
    assert plan(tmp_path, text, dates="dmy").weights[0].day.day == date(2024, 4, 3)
    assert plan(tmp_path, text, dates="mdy").weights[0].day.day == date(2024, 3, 4)
    assert plan(tmp_path, text, dates={("s.csv", "date"): "mdy"}).weights[0].day.day == date(2024, 3, 4)


def test_an_answer_does_not_overrule_a_column_that_tells_by_itself(tmp_path: Path) -> None:
    read = plan(tmp_path, "tag,date,weight\n1,03/04/2024,300\n1,25/04/2024,310\n", dates="mdy")
    assert [row.day.day for row in read.weights] == [date(2024, 4, 3), date(2024, 4, 25)]


def test_columns_are_decided_each_by_itself(tmp_path: Path) -> None:
    text = "tag,sex,born,entered\n1,F,25/04/2020,2/28/2021\n2,F,03/04/2020,03/04/2021\n"
    second = plan(tmp_path, text).animals[1]
    assert (str(second.born), str(second.entered)) == ("2020-04-03", "2021-03-04")


def test_an_electronic_number_that_a_spreadsheet_damaged_is_refused(tmp_path: Path) -> None:
    read = plan(tmp_path, "tag,sex,eid\n1,F,9.82E+14\n2,F,982 000123456789\n")
    assert [(s.row, s.column) for s in read.skipped] == [(2, "eid")]
    assert read.animals[0].electronic == "982000123456789"


def test_no_days_for_meat_stay_unknown_and_nought_is_a_figure(tmp_path: Path) -> None:
    read = plan(
        tmp_path, "tag,date,product,days_meat\n1,2024-01-01,a,\n1,2024-01-01,b,0\n1,2024-01-01,c,NA\n"
    )
    assert [row.meat_days for row in read.treatments] == [None, 0.0, None]


def test_a_run_that_ends_before_it_begins_is_a_bad_row(tmp_path: Path) -> None:
    read = plan(tmp_path, "sire,dam,in,out\nB,1,2024-06-01,2024-05-01\nB,2,2024-06-01,\n")
    assert [(s.row, s.column) for s in read.skipped] == [(2, "out")]
    assert (read.runs[0].dam, read.runs[0].last) == ("2", None)


def test_a_date_to_come_goes_in_and_is_asked_about(tmp_path: Path) -> None:
    read = plan(tmp_path, "tag,date,weight\n1,2027-01-01,300\n")
    assert len(read.weights) == 1
    assert [(q.code, q.row, q.column) for q in read.questions] == [("future_date", 2, "date")]
