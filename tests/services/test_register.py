"""The register: filters, orders and rows; lists of groups, females and males."""

from __future__ import annotations

from datetime import date

import pytest

from herdbook.services.commands.animals import ChangeAnimal, GiveTag
from herdbook.services.queries import lists, register
from herdbook.services.queries.lists import Sire, sire_words
from herdbook.services.queries.register import SORTS, RegisterAsk
from tests.services.conftest import ON, Herd


def _tags(herd: Herd, on: date = ON, **ask: object) -> list[str]:
    with herd.book.read() as conn:
        asked = RegisterAsk(**ask)  # type: ignore[arg-type]
        found = register.ids(conn, asked, on)
        assert register.count(conn, asked, on) == len(found)
        return [row.tag for row in register.rows(conn, found, on)]


def test_those_here_stand_in_natural_order_of_tags(herd: Herd) -> None:
    assert _tags(herd) == ["7", "12", "23/4", "25/1", "25/2", "26/1", "B1", "B2"]
    assert _tags(herd, descending=True) == ["B2", "B1", "26/1", "25/2", "25/1", "23/4", "12", "7"]


def test_gone_and_known_by_name(herd: Herd) -> None:
    assert _tags(herd, here="gone") == ["9"]
    assert _tags(herd, here="known") == ["Severn"]
    assert len(_tags(herd, here="all")) == 10
    assert "9" in _tags(herd, on=date(2025, 11, 2))


@pytest.mark.parametrize(
    ("text", "tags"),
    [
        ("eden", ["12"]),
        ("EN", ["12", "25/2", "B2"]),  # Eden, Kent, Pentland
        ("25", ["25/1", "25/2"]),
        ("25 kent", ["25/2"]),
        ("000012", ["12"]),
        ("%", []),
        ("_", []),
        ("  ", ["7", "12", "23/4", "25/1", "25/2", "26/1", "B1", "B2"]),
    ],
)
def test_text(herd: Herd, text: str, tags: list[str]) -> None:
    assert _tags(herd, text=text) == tags


def test_classes_sexes_and_groups(herd: Herd) -> None:
    assert _tags(herd, class_="cow") == ["7", "12"]
    assert _tags(herd, class_="yearlings") == ["25/2"]
    assert _tags(herd, class_="calf", text="bora") == ["26/1"]
    assert _tags(herd, sex="M") == ["25/1", "26/1", "B1", "B2"]
    (group,) = herd.ask(lists.groups)
    assert (group.name, group.animals) == ("Finishing", 1)
    assert _tags(herd, group=group.id) == ["25/1"]


def test_every_order_keeps_every_animal_and_puts_the_empty_ones_last(herd: Herd) -> None:
    everyone = sorted(_tags(herd))
    for sort in SORTS:
        for descending in (False, True):
            assert sorted(_tags(herd, sort=sort, descending=descending)) == everyone
    assert _tags(herd, sort="name")[0] == "26/1"
    assert _tags(herd, sort="weight") == ["26/1", "25/2", "25/1", "7", "12", "23/4", "B1", "B2"]
    assert _tags(herd, sort="weight", descending=True)[:3] == ["25/1", "25/2", "26/1"]
    assert _tags(herd, sort="dam")[:2] == ["25/2", "26/1"]
    assert _tags(herd, sort="group")[0] == "25/1"
    with pytest.raises(ValueError, match="sorted by"):
        _tags(herd, sort="colour")


def test_pages_follow_each_other(herd: Herd) -> None:
    with herd.book.read() as conn:
        everyone = register.ids(conn, RegisterAsk(), ON)
        pages = [register.ids(conn, RegisterAsk(), ON, limit=3, offset=n) for n in (0, 3, 6, 9)]
    assert [animal for page in pages for animal in page] == list(everyone)


def test_a_row(herd: Herd) -> None:
    asked = herd.id["25/1"], herd.id["9"], 999, herd.id["23/4"]
    with herd.book.read() as conn:
        steer, gone, heifer = register.rows(conn, asked, ON)
    assert (steer.tag, steer.name, steer.sex, steer.class_) == ("25/1", "Wharfe", "M", "steer")
    assert (steer.born, steer.born_precision, steer.dam_tag) == (date(2025, 3, 20), "day", "12")
    assert (steer.weight_kg, steer.weighed_on, steer.weight_unit) == (310.0, date(2026, 1, 28), "kg")
    assert (steer.group, steer.here, steer.left_on, steer.sires) == ("Finishing", True, None, ())
    assert (gone.here, gone.left_on) == (False, date(2025, 11, 3))
    assert heifer.sires == (Sire(herd.id["B1"], "B1", "Cheviot", 1.0, "word"),)
    assert (heifer.sire_words, heifer.class_) == ("B1 Cheviot", "in-calf heifer")


def test_a_calf_of_two_bulls_one_after_the_other_shows_both(herd: Herd) -> None:
    # Conceived about 17 May 2025, when Cheviot was in; Pentland came on 10 June, 259 days before the birth.
    with herd.book.read() as conn:
        (row,) = register.rows(conn, [herd.id["26/1"]], ON)
    assert row.sires[0].tag == "B1"
    assert row.sires[0].chance > 0.9


def test_sires_in_words() -> None:
    a, b = Sire(1, "B1", "Cheviot", 0.98, "dates"), Sire(2, "B2", None, 0.02, "dates")
    assert sire_words((a, b)) == "B1 Cheviot 98%, B2 2%"
    assert sire_words((a,)) == "B1 Cheviot"
    together = [Sire(n, f"B{n}", None, 1 / 3, "together") for n in (1, 2, 3)]
    assert sire_words(together) == "B1, B2 or B3"
    assert sire_words(()) == ""
    assert sire_words((Sire(1, "Cheviot", "Cheviot", 1.0, "word"),)) == "Cheviot"


def test_marks_and_a_new_tag_show(herd: Herd) -> None:
    herd.do(ChangeAnimal(herd.id["7"], name="Lune", sex="F", care="kicks"))
    herd.do(GiveTag(herd.id["7"], "107", day=date(2026, 3, 1)))
    with herd.book.read() as conn:
        (row,) = register.rows(conn, [herd.id["7"]], ON)
    assert (row.care, row.tag) == ("kicks", "107")


def test_choices(herd: Herd) -> None:
    assert [c.words for c in herd.ask(lists.females)] == ["7 Lune", "12 Eden", "23/4 Nith", "25/2 Kent"]
    assert [c.tag for c in herd.ask(lists.females, here_only=False)][-2:] == ["9", "Severn"]
    assert [c.tag for c in herd.ask(lists.males)] == ["25/1", "26/1", "B1", "B2"]
    with herd.book.read() as conn:
        assert lists.tags_of(conn, [herd.id["7"]]) == {herd.id["7"]: "7"}
