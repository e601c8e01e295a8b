"""Beginning a book from paper: what the grid's rows become, and what is said of rows that cannot be."""

from __future__ import annotations

from datetime import date

import pytest

from herdbook.husbandry.partday import PartDay
from herdbook.services.book import Book
from herdbook.services.commands.starting import FirstRow, NameSteers, StartBook, known_by_name, look_over
from herdbook.services.facts import load_herd
from herdbook.services.queries.due import due_list
from herdbook.services.queries.tags import animal_by_tag
from herdbook.services.registry import Refused
from herdbook.services.settings import load_settings

ON = date(2026, 3, 3)


def year(number: int) -> PartDay:
    """Return a birth known by its year."""
    return PartDay(date(number, 1, 1), "year")


BULL = FirstRow(1, "7", "M", name="Cheviot", born=year(2021))
RUN = FirstRow(
    2, "388", "F", born=year(2019), dam="Nith", last_calved=PartDay(date(2025, 4, 2)),
    in_calf_to="Cheviot", bull_in=date(2025, 6, 1), bull_out=date(2025, 8, 2),
)  # fmt: skip
MONTH = FirstRow(3, "401", "F", born=year(2020), in_calf_to="7", due=PartDay(date(2026, 4, 1), "month"))
OPEN = FirstRow(4, "412", "F", born=PartDay(date(2024, 3, 1), "month"), dam="388", sire="7")


def start(book: Book, *rows: FirstRow, settings: tuple[tuple[str, object], ...] = ()) -> None:
    """Begin a book with these rows."""
    book.do(StartBook(rows, settings, ON))


def test_everything_in_one_act(book: Book) -> None:
    """Settings, animals, parents, runs and the keeper's word are one act, and undone as one."""
    start(book, BULL, RUN, MONTH, OPEN, settings=(("weight_unit", "lb"), ("country", "GB")))
    with book.read() as conn:
        settings = load_settings(conn)
        herd = {facts.tag: facts for facts in load_herd(conn, ON).values()}
        due = {row.tag: row for row in due_list(conn, ON)}
    assert (settings.weight_unit, settings.country, settings.book_began) == ("lb", "GB", ON)
    assert set(herd) == {"7", "388", "401", "412"}
    assert due["388"].basis == "run"
    assert due["388"].sires[0].tag == "7"
    assert due["388"].first_due == date(2026, 3, 11)  # 1 Jun 2025 + 283 days: plain calendar addition
    assert due["401"].basis == "statement"
    assert (due["401"].first_due, due["401"].last_due) == (date(2026, 4, 1), date(2026, 4, 30))
    assert [sire.tag for sire in due["401"].sires] == ["7"]
    assert herd["401"].class_on(ON).value == "in-calf heifer"
    assert len(book.history()) == 1
    book.undo()
    with book.read() as conn:
        assert load_herd(conn, ON) == {}
        assert load_settings(conn).weight_unit == "kg"


def test_parents_without_a_row_are_known_by_name(book: Book) -> None:
    """The dam's dam has a record, and no place in the herd."""
    assert known_by_name((BULL, RUN, MONTH, OPEN)) == ["Nith"]
    start(book, BULL, RUN, OPEN)
    with book.read() as conn:
        nith = animal_by_tag(conn, "Nith", ON)
        assert nith not in load_herd(conn, ON)
        assert load_herd(conn, ON)[animal_by_tag(conn, "388", ON)].dam == nith


def test_last_calving_told_twice_is_one(book: Book) -> None:
    """A cow's last calving and the birth month of her calf are one calving, not two."""
    calf = FirstRow(2, "26-1", "F", born=PartDay(date(2026, 2, 1), "month"), dam="388")
    cow = FirstRow(1, "388", "F", born=year(2019), last_calved=PartDay(date(2026, 2, 17)))
    start(book, cow, calf)
    with book.read() as conn:
        facts = load_herd(conn, ON)[animal_by_tag(conn, "388", ON)]
    assert len(facts.calvings) == 1


@pytest.mark.parametrize(
    ("row", "field", "code"),
    [
        (FirstRow(2, "7", "F", born=year(2020)), "tag", "tag_twice"),
        (FirstRow(2, "8", "F", born=year(2027)), "born", "to_come"),
        (FirstRow(2, "8", "F", born=year(2020), dam="8"), "dam", "own_parent"),
        (FirstRow(2, "8", "F", born=year(2020), dam="Cheviot"), "dam", "parent_sex"),
        (FirstRow(2, "8", "M", born=year(2020), last_calved=year(2025)), "sex", "male_in_calf"),
        (FirstRow(2, "8", "F", born=year(2020), bull_in=date(2025, 6, 1)), "in_calf_to", "which_bull"),
        (
            FirstRow(2, "8", "F", in_calf_to="7", bull_in=date(2025, 6, 1), bull_out=date(2025, 5, 1)),
            "bull_out",
            "out_before_in",
        ),
        (FirstRow(2, "8", "F", due=PartDay(date(2026, 1, 1), "month")), "due", "due_past"),
        (FirstRow(2, "8", "F", due=PartDay(date(2027, 3, 1), "month")), "due", "due_far"),
    ],
)
def test_what_cannot_be_is_said_and_not_saved(book: Book, row: FirstRow, field: str, code: str) -> None:
    """Each impossible row is named by its cell, and a book is not begun with it."""
    wrong = [doubt for doubt in look_over((BULL, row), ON) if doubt.wrong]
    assert [(doubt.number, doubt.field, doubt.reason.code) for doubt in wrong] == [(2, field, code)]
    with pytest.raises(Refused):
        start(book, BULL, row)
    assert book.history() == []


def test_what_is_only_doubtful_is_saved(book: Book) -> None:
    """A calf with no birth, and a heifer in calf with no day, go in; each is asked about."""
    heifer = FirstRow(2, "412", "F", born=PartDay(date(2024, 3, 1)), in_calf_to="7")
    calf = FirstRow(3, "9")
    codes = {(doubt.number, doubt.reason.code) for doubt in look_over((BULL, heifer, calf), ON)}
    assert codes == {(2, "when_due"), (3, "no_sex"), (3, "no_birth")}
    start(book, BULL, heifer, calf)
    with book.read() as conn:
        assert len(load_herd(conn, ON)) == 3


def test_males_named_as_castrated(book: Book) -> None:
    """Who is ticked off the list of entire males is a steer from his first day here."""
    start(book, BULL, FirstRow(2, "301", "M", born=PartDay(date(2024, 5, 1))))
    with book.read() as conn:
        steer = animal_by_tag(conn, "301", ON)
    book.do(NameSteers((steer,)))
    with book.read() as conn:
        assert load_herd(conn, ON)[steer].class_on(ON).value == "steer"
        assert load_herd(conn, date(2025, 6, 1))[steer].class_on(date(2025, 6, 1)).value == "steer"
