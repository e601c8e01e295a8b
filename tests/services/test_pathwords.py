"""Paths between two animals as people read them."""

from __future__ import annotations

from datetime import date

from herdbook.services.commands.running import TurnIn
from herdbook.services.pathwords import assumed_words, path_lines
from herdbook.services.queries.kin import explain
from tests.services.conftest import Herd


def _cousins_and_half_sibs(h: Herd) -> None:
    """Half sibs by Ythan whose dams are half sisters by Dee: 1/8 and 1/32 (Lynch and Walsh 1998, 7.1)."""
    h.add("B1", "M", date(2010, 3, 1), name="Dee")
    h.add("B2", "M", date(2010, 3, 1), name="Ythan")
    for tag in ("1", "2"):
        h.add(tag, "F", date(2013, 3, 1), sire=h.id["B1"])
    h.add("3", "F", date(2016, 3, 1), dam=h.id["1"], sire=h.id["B2"])
    h.add("4", "M", date(2016, 3, 1), dam=h.id["2"], sire=h.id["B2"])


def test_each_path_goes_up_to_the_ancestor_and_down_again(empty: Herd) -> None:
    _cousins_and_half_sibs(empty)
    with empty.book.read() as conn:
        told = explain(conn, empty.id["3"], empty.id["4"])
    assert path_lines(told, 3) == ("By Ythan: 3 – Ythan – 4, 12.5 %", "By Dee: 3 – 1 – Dee – 2 – 4, 3.1 %")


def test_what_is_not_told_is_counted_and_summed(empty: Herd) -> None:
    _cousins_and_half_sibs(empty)
    with empty.book.read() as conn:
        told = explain(conn, empty.id["3"], empty.id["4"])
    assert path_lines(told, 1) == ("By Ythan: 3 – Ythan – 4, 12.5 %", "and 1 more path, 3.1 %")
    assert path_lines(told, 0) == ("and 2 more paths, 15.6 % together",)


def test_a_parent_is_its_own_path(empty: Herd) -> None:
    _cousins_and_half_sibs(empty)
    with empty.book.read() as conn:
        told = explain(conn, empty.id["3"], empty.id["B2"])
    assert path_lines(told, 3) == ("By Ythan: 3 – Ythan, 25 %",)  # sire and daughter, the same table


def test_of_two_possible_sires_it_is_said_which_is_taken(empty: Herd) -> None:
    h = empty
    for tag in ("Cheviot", "Pentland"):
        h.add(tag, "M", date(2018, 3, 1))
    h.add("Eden", "F", date(2018, 3, 1))
    h.do(TurnIn((h.id["Cheviot"], h.id["Pentland"]), (h.id["Eden"],), date(2022, 6, 1), date(2022, 8, 2)))
    h.calve("Eden", date(2023, 4, 1), "Kent")
    with h.book.read() as conn:
        told = explain(conn, h.id["Kent"], h.id["Pentland"])
    assert path_lines(told, 3) == ("By Pentland: Kent – Pentland, 25 %",)
    assert [assumed_words(one) for one in told.assumed] == [
        "Kent is taken to be by Pentland (50 %), the worst case."
    ]
