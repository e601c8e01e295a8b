"""Reading sheets into a real book: what goes in, what is named, what is asked, and that it can be undone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter
from sqlalchemy import func, select

from herdbook.exchange.read_in import plan_read_in
from herdbook.services.book import Book
from herdbook.services.facts import load_herd
from herdbook.services.pedigree import load_pedigree
from herdbook.services.reading import WasRead, read_in
from herdbook.services.registry import Refused
from herdbook.store import tables as t

ON = date(2026, 3, 1)
Reader = Callable[..., WasRead]


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    with Book.create(tmp_path / "b.herd") as made:
        yield made


@pytest.fixture
def read(book: Book, tmp_path: Path) -> Reader:
    """Return a function that reads texts, each a sheet, into the book."""

    def reader(*texts: str, dry_run: bool = False, **told: Any) -> WasRead:
        paths = []
        for number, text in enumerate(texts):
            paths.append(tmp_path / f"s{number}.csv")
            paths[-1].write_text(text, encoding="utf-8")
        return read_in(book, plan_read_in(paths, on=ON, **told), ON, dry_run=dry_run)

    return reader


def codes(told: WasRead) -> dict[str, tuple[str, ...]]:
    return {question.code: question.tags for question in told.questions}


def rows(book: Book, *columns: Any) -> list[tuple[Any, ...]]:
    with book.read() as conn:
        return [tuple(row) for row in conn.execute(select(*columns))]


def parents(book: Book) -> dict[str, tuple[str | None, str | None]]:
    """Return sire and dam of each animal, as the calculations will see them."""
    with book.read() as conn:
        pedigree = load_pedigree(conn)
        tags = dict(tuple(row) for row in conn.execute(select(t.Animal.id, t.Animal.tag)))
    words: list[str | None] = [tags[i] for i in pedigree.ids]
    words.append(None)
    return {
        tags[i]: (words[s], words[d])
        for i, s, d in zip(pedigree.ids, pedigree.sire, pedigree.dam, strict=True)
    }


def test_parents_may_come_later_or_have_no_row(book: Book, read: Reader) -> None:
    told = read("tag,sex,born,dam,sire\n3,F,2020-01-01,2,Cheviot\n2,F,2016-01-01,0,?\n4,F,2021-01-01,NA,\n")
    assert told.skipped == ()
    assert told.added == {"animals": 3, "known_by_name": 1}
    assert parents(book)["3"] == ("Cheviot", "2")
    with book.read() as conn:
        here = {facts.tag for facts in load_herd(conn, ON).values()}
    assert here == {"2", "3", "4"}


def test_a_calf_with_a_birth_makes_its_dam_a_cow(book: Book, read: Reader) -> None:
    read("tag,sex,born,dam\n1,F,2018-01-01,\n2,M,2020-04-01,1\n3,F,2020-04-01,1\n4,F,2024-04-02,\n")
    with book.read() as conn:
        herd = {facts.tag: facts for facts in load_herd(conn, ON).values()}
    assert herd["1"].class_on(ON) == "cow"
    assert [(c.day, len(c.calves)) for c in herd["1"].calvings] == [(date(2020, 4, 1), 2)]
    assert herd["4"].class_on(ON) == "heifer"
    assert herd["3"].freemartin == "probable"  # twin of a bull calf


def test_steers_are_castrated_and_plain_males_are_asked_about(book: Book, read: Reader) -> None:
    told = read(
        "tag,sex,born,sire\n1,M,2024-01-01,\n2,steer,2024-01-01,\n3,bullock,2024-01-01,\n"
        "4,bull,2022-01-01,\n5,M,2020-01-01,\n6,F,2024-01-01,5\n7,bull calf,2025-12-01,\n"
    )
    assert codes(told)["entire"] == ("1", "7")
    with book.read() as conn:
        herd = {facts.tag: str(facts.class_on(ON)) for facts in load_herd(conn, ON).values()}
    assert (herd["2"], herd["3"], herd["4"], herd["7"]) == ("steer", "steer", "bull", "calf")


def test_a_loop_is_cut_and_named_and_the_other_parents_stay(book: Book, read: Reader) -> None:
    told = read("tag,sex,dam,sire\nA,F,B,S\nB,F,C,S\nC,F,A,\nD,F,A,S\nE,F,E,S\n")
    loops = sorted(question.tags for question in told.questions if question.code == "loop")
    assert loops == [("A", "B", "C"), ("E",)]
    assert parents(book) | {"S": (None, None)} == {
        "A": ("S", None), "B": ("S", None), "C": (None, None),
        "D": ("S", "A"), "E": ("S", None), "S": (None, None),
    }  # fmt: skip


def test_a_loop_through_what_the_book_has_is_cut(book: Book, read: Reader) -> None:
    read("tag,sex,dam\n1,F,Nith\n")
    told = read("tag,sex,dam\nNith,F,1\n")
    assert set(codes(told)["loop"]) == {"1", "Nith"}
    assert parents(book) == {"1": (None, "Nith"), "Nith": (None, None)}


def test_an_animal_as_sire_and_dam_is_named(read: Reader) -> None:
    told = read("tag,dam,sire\nA,X,Y\nB,Z,X\n")
    assert codes(told)["sire_and_dam"] == ("X",)


def test_a_sire_written_as_a_female_is_left_blank_and_named(book: Book, read: Reader) -> None:
    told = read("tag,sex,sire\n1,F,\n2,F,1\n")
    assert codes(told)["parent_sex"] == ("2", "1")
    assert parents(book)["2"] == (None, None)


def test_the_same_tag_twice_and_impossible_days_are_skipped(read: Reader) -> None:
    told = read(
        "tag,sex,born,entered,left,reason_left\n1,F,2020-01-01,,,\n1,F,2021-01-01,,,\n"
        "2,F,2020-01-01,2019-01-01,,\n3,F,2020-01-01,,2019-06-01,sold\n"
    )
    assert [(s.row, s.column) for s in told.skipped] == [(3, "tag"), (4, "entered"), (5, "left")]
    assert told.added["animals"] == 1


def test_tags_that_differ_by_capitals_are_two_animals_if_each_has_its_row(book: Book, read: Reader) -> None:
    told = read("tag,sex,dam\na,F,\nA,F,\nc,F,A\nd,F,a\ne,F,C\n")
    assert codes(told)["tags_alike"] == ("a", "A")
    assert {tag: dam for tag, (_, dam) in parents(book).items()} == {
        "a": None, "A": None, "c": "A", "d": "a", "e": "c",
    }  # fmt: skip


def test_coming_and_leaving_make_the_stay(book: Book, read: Reader) -> None:
    told = read(
        "tag,sex,born,entered,left,reason_left\n1,F,2018,2020-05-01,2024-02-01,sold at market\n"
        "2,M,2022-03-03,,2024-02-01,butcher\n3,F,2020-01-01,,,died\n"
    )
    assert rows(book, t.Stay.from_day, t.Stay.to_day) == [
        (date(2020, 5, 1), date(2024, 2, 1)),
        (date(2022, 3, 3), date(2024, 2, 1)),
    ]
    assert rows(book, t.Departure.kind) == [("sold",), ("slaughtered",)]
    assert rows(book, t.Arrival.day, t.Arrival.medicines_known) == [(date(2020, 5, 1), False)]
    assert codes(told)["gone_when"] == ("3",)


def test_without_birth_or_arrival_an_animal_is_here_on_any_day(book: Book, read: Reader) -> None:
    told = read("tag,sex\n1,F\n")
    assert codes(told)["no_dates"] == ("1",)
    with book.read() as conn:
        assert len(load_herd(conn, date(2015, 1, 1))) == 1


def test_a_calf_that_stands_twice_goes_in_once(book: Book, read: Reader) -> None:
    told = read(
        "tag,sex,born\n1,F,2018\nc,F,2024-04-01\n",
        "dam,date,calf,sex,weight\n1,2024-04-01,c,F,36\n1,2024-04-01,d,M,34\n1,2024-04-01,d,M,34\n1,2024-04-01,c,F,36\n",
    )
    assert [(s.row, s.column) for s in told.skipped] == [(4, "calf"), (5, "calf")]
    with book.read() as conn:
        assert conn.scalar(select(func.count()).select_from(t.Weighing)) == 2


def test_a_calf_born_dead_is_told_from_one_that_died(book: Book, read: Reader) -> None:
    read(
        "tag,sex,born\n1,F,2018\n2,F,2018\n3,F,2018\n",
        "dam,date,calf,sex\n1,2024-04-01,,stillborn\n2,2024-04-02,,died\n3,2024-04-03,born dead,\n",
    )
    with book.read() as conn:
        herd = {facts.tag: facts for facts in load_herd(conn, ON).values()}
    fates = {tag: herd[tag].calvings[0].calves[0][2] for tag in "123"}
    assert fates == {"1": "stillborn", "2": "died", "3": "stillborn"}


def test_all_kinds_of_sheet_together_in_any_order(book: Book, read: Reader) -> None:
    told = read(
        "tag,date,weight,unit\n24-1,2024-10-01,500,lb\n1,2024-10-01,600,kg\n9,2024-10-01,600,kg\n",
        "dam,date,ease,calf,sex,weight\n1,2024-04-01,2,24-1,bull calf,36\n1,DNC,,,,\n2,2024-04-03,,,died,\n",
        "sire,dam,in,out\nB,1,2024-06-01,2024-08-02\nB,2,2024-06-01,2024-08-02\n",
        "dam,date,result,days\n1,2024-10-01,pregnant,90\n2,2024-10-01,empty,\n",
        "dam,sire,date\n2,AI Nevis,2024-06-10\n",
        "tag,date,product,days_meat\n24-1,2025-12-01,drench,\n",
        "tag,sex,born\n1,F,2018-01-01\n2,F,2019-01-01\nB,bull,2019-01-01\n",
    )
    assert told.added == {
        "animals": 3, "bull_runs": 2, "services": 1, "pregnancy_checks": 2, "calvings": 2, "weights": 2,
        "treatments": 1, "calves": 2, "known_by_name": 1,
    }  # fmt: skip
    assert sorted((s.sheet, s.row, s.column) for s in told.skipped) == [
        ("s0.csv", 4, "tag"),
        ("s1.csv", 3, "date"),
    ]
    with book.read() as conn:
        herd = {facts.tag: facts for facts in load_herd(conn, ON).values()}
        assert conn.scalar(select(func.count()).select_from(t.BullRun)) == 1
    assert set(herd) == {"1", "2", "B", "24-1"}  # the calf that died is not here
    assert [c.calves[0][1:] for c in herd["1"].calvings] == [(2, "alive")]
    assert [c.calves[0][1:] for c in herd["2"].calvings] == [(None, "died")]
    assert [(w.kg, w.stage) for w in herd["24-1"].weighings] == [(36, "birth"), (500 * 0.45359237, None)]
    assert herd["24-1"].treatments[0].meat_days is None
    assert len(herd["1"].runs) == 1
    assert codes(told)["sex_unknown"] == ("2 calf 2024-04-03",)


def test_a_calf_of_both_sheets_is_one_animal(book: Book, read: Reader) -> None:
    animals = "tag,sex,born,dam\n1,F,2018-01-01,\nC,M,2024-04-01,1\n"
    calvings = "dam,date,ease,calf,sex,weight\n1,2024-04-01,3,C,M,40\n"
    read(animals)
    told = read(calvings)
    assert (told.added, told.skipped) == ({"calvings": 1}, ())
    assert rows(book, t.CalvingCalf.ease, t.CalvingCalf.fate) == [(3, "alive")]
    assert rows(book, t.Weighing.kg, t.Weighing.stage) == [(40.0, "birth")]
    assert len(rows(book, t.Animal.id)) == 2


def test_reading_the_same_again_adds_nothing(book: Book, read: Reader) -> None:
    sheets = (
        "tag,sex,born,dam,sire\n1,F,2018-01-01,,\n2,F,2020-01-01,1,B\n",
        "tag,date,weight,unit\n1,2024-10-01,600,kg\n",
        "dam,date,ease,calf,sex,weight\n1,2024-04-01,2,24-1,F,36\n2,2024-04-01,1,,M,\n2,2024-04-01,1,,F,\n",
        "sire,dam,in,out\nB,1,2024-06-01,2024-08-02\n",
    )
    first = read(*sheets)
    before = rows(book, func.count(t.Animal.id))
    again = read(*sheets)
    assert first.skipped == ()
    assert set(again.added.values()) == {0}
    assert len(again.skipped) == 7
    assert rows(book, func.count(t.Animal.id)) == before
    assert len(book.history()) == 1


def test_an_ancestor_known_by_name_becomes_an_animal(book: Book, read: Reader) -> None:
    read("tag,sex,born,sire\n1,F,2022-01-01,B\n")
    told = read("tag,name,sex,born\nB,Cheviot,bull,2018-02-02\n")
    assert told.added == {"animals": 1}
    assert rows(book, func.count(t.Animal.id)) == [(2,)]
    assert rows(book, t.Identity.value) == [("1",), ("B",)]
    assert parents(book)["1"] == ("B", None)


def test_a_parent_is_found_by_name_and_number_too(book: Book, read: Reader) -> None:
    told = read(
        "tag,name,sex,born,electronic_id,dam,sire\n1,Eden,F,2018-01-01,982000123456789,,\n2,Pentland,bull,2018,,,\n"
        "3,,F,2021-01-01,,eden,PENTLAND\n4,,F,2022-01-01,,982 000123456789,2\n"
    )
    assert "known_by_name" not in told.added
    assert parents(book)["3"] == ("2", "1")
    assert parents(book)["4"] == ("2", "1")


def test_doubtful_rows_go_in_and_stand_under_questions(read: Reader) -> None:
    told = read(
        "tag,sex,born,dam\n1,F,2023-06-01,\n2,F,2024-01-01,1\n",
        "tag,date,weight,unit\n2,2024-01-20,1200,kg\n1,2025-01-01,400,kg\n1,2025-01-01,410,kg\n",
    )
    assert told.added == {"animals": 2, "weights": 3}
    assert codes(told) == {
        "parent_young": ("2", "1"), "weight_doubtful": ("2",), "weighed_twice": ("1",),
    }  # fmt: skip


def test_births_that_look_guessed_are_asked_about(read: Reader) -> None:
    guessed = [f"{n},F,2020-{n % 12 + 1:02d}-{(1, 10, 15, 20, 7, 23)[n % 6]:02d}" for n in range(1, 37)]
    assert len(codes(read("\n".join(["tag,sex,born", *guessed])))["round_births"]) == 24


def test_births_spread_over_the_month_are_not_asked_about(read: Reader) -> None:
    spread = [f"{n},F,2020-{n % 12 + 1:02d}-{n % 28 + 1:02d}" for n in range(1, 85)]
    assert "round_births" not in codes(read("\n".join(["tag,sex,born", *spread])))


def test_a_spreadsheet_with_several_sheets(book: Book, tmp_path: Path) -> None:
    file = tmp_path / "herd.xlsx"
    with xlsxwriter.Workbook(file) as made:
        day = made.add_format({"num_format": "dd/mm/yyyy"})
        animals, weights = made.add_worksheet("Animals"), made.add_worksheet("Weights")
        animals.write_row(0, 0, ["tag", "sex", "born", "EID"])
        animals.write_row(1, 0, [12, "F"])
        animals.write_datetime(1, 2, date(2020, 3, 4), day)
        animals.write_number(1, 3, 982000123456789)
        animals.write_datetime(2, 0, date(2024, 12, 24), day)
        animals.write_row(2, 1, ["F", 2024])
        weights.write_row(0, 0, ["tag", "date", "weight"])
        weights.write_row(1, 0, [12, "2024-01-02", 512.5])
    told = read_in(book, plan_read_in([file], on=ON), ON)
    assert told.skipped == ()
    assert told.added == {"animals": 2, "weights": 1}
    assert rows(book, t.Animal.tag, t.Animal.born, t.Animal.born_precision) == [
        ("12", date(2020, 3, 4), "day"),
        ("2024-12-24", date(2024, 1, 1), "year"),
    ]
    assert ("electronic", "982000123456789") in rows(book, t.Identity.scheme, t.Identity.value)
    assert codes(told)["tag_like_date"] == ("2024-12-24",)  # the tag 12/24, made a date by the spreadsheet


def test_what_happened_before_its_birth_or_to_nobody_is_skipped(read: Reader) -> None:
    told = read(
        "tag,sex,born\n1,F,2023-06-01\nM,bull,2020-01-01\n",
        "dam,sire,date\n1,M,2020-01-01\n7,M,2024-01-01\nM,M,2024-01-01\n1,1,2025-01-01\n",
    )
    assert [(s.row, s.column) for s in told.skipped] == [(2, "date"), (3, "dam"), (4, "dam"), (5, "sire")]


def test_a_dry_run_tells_the_same_and_changes_nothing(book: Book, read: Reader) -> None:
    sheets = (
        "tag,sex,born,dam\n1,F,2018-01-01,\n2,zebra,,\n3,M,2024-01-01,1\n",
        "dam,date,calf\n1,2025-02-02,25-1\n",
    )
    dry = read(*sheets, dry_run=True)
    assert rows(book, t.Animal.id) == []
    assert book.history() == []
    assert read(*sheets) == dry


def test_a_reading_is_one_act_that_can_be_undone(book: Book, read: Reader) -> None:
    read(
        "tag,sex,born,dam,sire\n1,F,2018-01-01,,\n2,steer,2024-01-01,1,B\n",
        "tag,date,weight\n2,2025-01-01,300\n",
    )
    book.undo()
    for table in (t.Animal, t.Identity, t.Stay, t.Weighing, t.Castration, t.Calving, t.ParentEvidence):
        assert rows(book, func.count(table.id)) == [(0,)]
    book.redo()
    assert rows(book, func.count(t.Animal.id)) == [(3,)]


def test_nothing_is_written_while_something_must_be_asked(book: Book, read: Reader) -> None:
    with pytest.raises(Refused, match="03/04/2024"):
        read("tag,date,weight\n1,03/04/2024,300\n", "tag,sex\n1,F\n")
    assert rows(book, t.Animal.id) == []


def test_the_json_names_sheet_row_and_column(read: Reader) -> None:
    told = read("tag,sex,born\n1,M,2018-01-01\n2,F,DNC\n").as_json()
    assert told["added"] == {"animals": 1}
    (skipped,) = told["skipped"]
    assert (skipped["sheet"], skipped["row"], skipped["column"]) == ("s0.csv", 3, "born")
    assert "DNC" in skipped["reason"]
    assert [(q["code"], q["tags"]) for q in told["questions"]] == [("entire", ["1"])]


@pytest.mark.parametrize("n", [3000])
def test_many_generations_go_in_at_once(book: Book, read: Reader, n: int) -> None:
    lines = [f"{i},F,,{i + 1}" for i in range(1, n + 1)]
    told = read("\n".join(["tag,sex,born,dam", *lines]) + "\n")
    assert told.added == {"animals": n, "known_by_name": 1}
    assert rows(book, func.count(t.Animal.dam_id)) == [(n,)]
