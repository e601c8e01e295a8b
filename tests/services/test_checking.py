"""The check of the records finds each thing that is planted, and nothing in a sound book."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import date, timedelta

import pytest

from herdbook.husbandry.partday import PartDay
from herdbook.services.book import Book
from herdbook.services.checking import LEVELS, Finding, check_book
from herdbook.services.commands.animals import AddAnimal, ChangeAnimal, NameParent
from herdbook.services.commands.happenings import Leave, Lose, Serve, Treat, Weigh
from herdbook.store import tables as t
from tests.services.conftest import ON, Herd


def _found(herd: Herd, code: str) -> list[Finding]:
    return [finding for finding in herd.ask(check_book) if finding.code == code]


def _dam(herd: Herd, calf: str, dam: str) -> None:
    """Write a dam as a sheet or an older program may have left it, past every question."""
    with herd.book.act("test") as work:
        work.session.get_one(t.Animal, herd.id[calf]).dam_id = herd.id[dam]


def test_a_sound_book_has_no_findings(herd: Herd, empty: Herd) -> None:
    assert herd.ask(check_book) == []
    assert empty.ask(check_book) == []


def test_loops(herd: Herd) -> None:
    _dam(herd, "12", "23/4")  # Eden is the dam of Nith
    (finding,) = _found(herd, "loop")
    assert finding.level == "wrong"
    assert set(finding.tags) == {"12", "23/4"}


def test_everything_wrong_with_a_pedigree_is_told_at_once(empty: Herd) -> None:
    """Two loops, one an own dam; a sire that is a dam; parents of the other sex, and born too late."""
    for tag, born in (("Nith", 2018), ("Eden", 2020), ("Kent", 2022), ("Lune", 2023)):
        empty.add(tag, "F", date(born, 3, 1))
    empty.add("Moor", "F", date(2024, 1, 1))
    empty.add("Ochil", "M", date(2015, 1, 1))
    for pair in ("Eden Nith", "Kent Eden", "Nith Kent", "Moor Moor", "Lune Ochil"):
        _dam(empty, *pair.split())
    empty.do(NameParent(empty.id["Ochil"], empty.id["Eden"]))
    found = {(finding.code, frozenset(finding.tags)) for finding in empty.ask(check_book)}
    assert found >= {
        ("loop", frozenset({"Nith", "Eden", "Kent"})),
        ("loop", frozenset({"Moor"})),
        ("sire_and_dam", frozenset({"Eden"})),
        ("dam_male", frozenset({"Ochil", "Lune"})),
        ("sire_female", frozenset({"Eden", "Ochil"})),
        ("born_before_parent", frozenset({"Nith", "Kent"})),
        ("born_before_parent", frozenset({"Ochil", "Eden"})),
    }


def test_an_animal_as_sire_and_dam(herd: Herd) -> None:
    herd.do(NameParent(herd.id["26/1"], herd.id["12"]))
    (both,) = _found(herd, "sire_and_dam")
    assert (both.tags, both.level) == (("12",), "wrong")
    (female,) = _found(herd, "sire_female")
    assert female.tags == ("12", "26/1")
    assert _found(herd, "dam_male") == []
    herd.do(NameParent(herd.id["25/2"], herd.id["7"], kind="excluded"))
    assert len(_found(herd, "sire_female")) == 1


def test_a_male_dam(herd: Herd) -> None:
    _dam(herd, "26/1", "B1")
    (finding,) = _found(herd, "dam_male")
    assert finding.tags == ("B1", "26/1")


@pytest.mark.parametrize(
    ("sex", "born", "code"),
    [
        ("F", PartDay(date(2024, 11, 25)), None),  # 15 months on the day of the birth
        ("F", PartDay(date(2024, 11, 26)), "dam_too_young"),
        ("F", PartDay(date(2024, 12, 1), "month"), "dam_too_young"),
        ("F", PartDay(date(2024, 1, 1), "year"), None),
        ("F", PartDay(date(2026, 2, 25)), "dam_too_young"),
        ("F", PartDay(date(2026, 2, 26)), "born_before_parent"),
        ("M", PartDay(date(2025, 1, 24)), None),
        ("M", PartDay(date(2025, 1, 26)), "sire_too_young"),
        ("M", PartDay(date(2025, 6, 1), "before"), None),
    ],
)
def test_parents_too_young(empty: Herd, sex: str, born: PartDay, code: str | None) -> None:
    parent = empty.add("P", sex, born)
    empty.add("C", "F", date(2026, 2, 25), **{"dam" if sex == "F" else "sire": parent})
    assert [finding.code for finding in empty.ask(check_book)] == ([code] if code else [])


def test_births_after_leaving(herd: Herd) -> None:
    herd.add("26/7", "F", date(2026, 1, 1), dam=herd.id["9"])  # Tamar left on 3 November
    (finding,) = _found(herd, "born_after_dam_left")
    assert finding.tags == ("26/7", "9")
    with herd.book.act("test") as work:
        work.session.get_one(t.Animal, herd.id["9"]).born = date(2026, 1, 1)
    assert [f.tags for f in _found(herd, "born_after_left")] == [("9",)]


def test_calvings_too_close(herd: Herd) -> None:
    herd.calve("7", date(2026, 2, 24) + timedelta(days=269), "x")
    assert [f.level for f in _found(herd, "calved_twice")] == ["doubtful"]
    herd.book.undo()
    herd.calve("7", date(2026, 2, 24) + timedelta(days=270), "x")
    assert _found(herd, "calved_twice") == []


def test_happenings_out_of_their_time(herd: Herd) -> None:
    herd.do(Weigh(herd.id["25/1"], date(2025, 3, 19), kg=40.0))
    (before,) = _found(herd, "before_birth")
    assert (before.tags, before.level) == (("25/1",), "wrong")
    assert before.where.startswith("weighing ")
    herd.do(Treat(herd.id["9"], date(2025, 11, 4), product="Drench", meat_days=1))
    assert [f.tags for f in _found(herd, "after_leaving")] == [("9",)]
    herd.do(Treat(herd.id["9"], date(2025, 11, 3), product="Drench", meat_days=1))
    assert len(_found(herd, "after_leaving")) == 1  # the day of leaving counts
    herd.do(Serve(herd.id["12"], ON + timedelta(days=1)))
    assert [f.tags for f in _found(herd, "in_future")] == [("12",)]
    herd.do(Lose(herd.id["12"], ON))
    assert len(herd.ask(check_book)) == 3


def test_two_that_bear_one_tag(herd: Herd) -> None:
    herd.add("b 1", "M", date(2024, 1, 1))
    (finding,) = _found(herd, "tag_of_several")
    assert sorted(finding.tags) == ["B1", "b 1"]
    herd.do(Leave(herd.id["b 1"], ON))
    assert _found(herd, "tag_of_several") == []
    herd.add("9", "F", date(2024, 1, 1))  # Tamar, who bore it, has left
    assert _found(herd, "tag_of_several") == []


def test_unlikely_weights_and_medicine_without_days(herd: Herd) -> None:
    herd.do(Weigh(herd.id["26/1"], ON, kg=400.0))
    assert [f.tags for f in _found(herd, "unlikely_weight")] == [("26/1",)]
    herd.do(Treat(herd.id["26/1"], ON, product="Drench"))
    (finding,) = _found(herd, "days_not_known")
    assert finding.level == "note"


def test_gaps_and_heaped_births(empty: Herd) -> None:
    for n in range(40):
        day = 15 if n < 9 else 2 + n % 7
        empty.do(AddAnimal(tag=f"{n}", sex="F", born=PartDay(date(2020, 1 + n % 12, day))))
    assert [f.level for f in _found(empty, "births_heaped")] == ["note"]  # 9 of 40
    empty.do(ChangeAnimal(1, sex="F", born=PartDay(date(2020, 1, 16))))
    assert _found(empty, "births_heaped") == []  # 8 of 40 is not over a fifth
    empty.do(AddAnimal(tag="n", entered=ON))
    assert {f.code for f in empty.ask(check_book)} == {"no_sex", "no_birth"}


def test_the_worst_stands_first(herd: Herd) -> None:
    herd.do(Treat(herd.id["7"], ON, product="Drench"))
    herd.do(Weigh(herd.id["26/1"], ON, kg=400.0))
    _dam(herd, "26/1", "B1")
    levels = [finding.level for finding in herd.ask(check_book)]
    assert levels == sorted(levels, key=LEVELS.index)
    assert set(levels) == set(LEVELS)


def test_links_that_lead_nowhere(herd: Herd) -> None:
    path = herd.book.path
    herd.book.close()
    with closing(sqlite3.connect(path)) as raw, raw:
        raw.execute("PRAGMA foreign_keys=OFF")
        raw.execute("UPDATE weighing SET animal_id = 9999 WHERE id = 1")
    raw.close()
    with Book.open(path, read_only=True) as book, book.read() as conn:
        (finding,) = check_book(conn, ON)
    assert (finding.code, finding.level, finding.where) == ("file", "wrong", "file")
