"""The search box finds animals by everything they are or were called."""

from __future__ import annotations

from datetime import date

import pytest

from herdbook.services.commands.animals import AddAnimal, GiveTag
from herdbook.services.queries.find import find
from herdbook.store import tables as t
from herdbook.store.textsearch import holds
from tests.services.conftest import ON, Herd


def _find(herd: Herd, text: str, **more: object) -> list[str]:
    with herd.book.read() as conn:
        return [found.tag for found in find(conn, text, ON, **more)]  # type: ignore[arg-type]


def test_whole_tags_before_beginnings_before_middles(herd: Herd) -> None:
    herd.add("2", "F", date(2020, 1, 1), name="Ouse")
    assert _find(herd, "2") == ["2", "23/4", "25/1", "25/2", "26/1", "12", "B2"]
    assert _find(herd, "25/1") == ["25/1"]
    assert _find(herd, "2", limit=3) == ["2", "23/4", "25/1"]


def test_names_whatever_the_capitals(herd: Herd) -> None:
    assert _find(herd, "NITH") == ["23/4"]
    assert _find(herd, "lu") == ["7"]
    assert _find(herd, "7 lune") == ["7"]
    herd.add("31", "F", date(2020, 1, 1), name="Ångerån")
    assert _find(herd, "ånger") == ["31"]
    assert _find(herd, "ÅNGERÅN") == ["31"]


@pytest.mark.parametrize(
    "spelling",
    ["999000000000012", "999 000000000012", "1999000000000012", "A0000000999000000000012", "000012"],
)
def test_electronic_numbers_in_any_spelling(herd: Herd, spelling: str) -> None:
    with herd.book.read() as conn:
        (found,) = find(conn, spelling, ON)
    assert (found.tag, found.why) == ("12", "electronic 999 000000000012")


def test_an_earlier_tag_finds_its_bearer_after_the_one_who_wears_it_now(herd: Herd) -> None:
    herd.do(GiveTag(herd.id["7"], "107", day=date(2026, 1, 5)))
    herd.add("7", "F", date(2024, 1, 1), name="Esk")
    with herd.book.read() as conn:
        now, then = find(conn, "7", ON, limit=2)
    assert (now.name, now.why) == ("Esk", "")
    assert (then.name, then.tag, then.why) == ("Lune", "107", "wore 7")
    # Of two that answer wholly the one that is here comes first, even if it only wore the tag.
    herd.do(GiveTag(herd.id["12"], "9", day=date(2026, 1, 5)))
    herd.do(GiveTag(herd.id["12"], "112", day=date(2026, 1, 6)))
    assert _find(herd, "9")[:2] == ["112", "9"]


def test_registrations_and_animals_known_by_name(herd: Herd) -> None:
    herd.do(AddAnimal(tag="Aire", sex="M", registration="HB-4711", here=False))
    with herd.book.read() as conn:
        (found,) = find(conn, "hb-47", ON)
        (dam,) = find(conn, "severn", ON)
        (sold,) = find(conn, "tamar", ON)
    assert (found.tag, found.class_, found.here, found.why) == (
        "Aire",
        "known by name",
        False,
        "registration HB-4711",
    )
    assert (dam.class_, dam.here) == ("known by name", False)
    assert (sold.class_, sold.here) == ("heifer", False)


def test_only_one_sex(herd: Herd) -> None:
    assert _find(herd, "2", sex="M") == ["25/1", "26/1", "B2"]
    for n in range(70):
        herd.add(f"3{n:03d}", "F", date(2024, 1, 1))
    herd.add("x3", "M", date(2024, 1, 1))
    assert _find(herd, "3", sex="M") == ["x3"]  # not crowded out by the heifers that fit better


@pytest.mark.parametrize("text", ["", "   ", "%", "_", "zebra", "\\", "'"])
def test_nothing_found(herd: Herd, text: str) -> None:
    assert _find(herd, text) == []


def test_each_database_looks_in_its_own_way() -> None:
    from sqlalchemy.dialects import postgresql, sqlite

    condition = holds(t.Animal.tag, "1%_/")
    told = {d.name: condition.compile(dialect=d) for d in (sqlite.dialect(), postgresql.dialect())}
    assert "animal.tag LIKE ? ESCAPE '/'" in str(told["sqlite"])
    assert "animal.tag ILIKE" in str(told["postgresql"])
    assert [list(each.params.values()) for each in told.values()] == [["%1/%/_//%"]] * 2
