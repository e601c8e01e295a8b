"""When the calves of a sort would come."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.queries.sort import AskedBull, AskedGroup, Choice, SortAsk, solve
from herdbook.services.queries.sort_due import due_of_all, due_of_group
from herdbook.services.queries.sort_hand import moved
from tests.services.conftest import Herd

ON = date(2026, 5, 1)
IN, OUT = date(2026, 6, 1), date(2026, 8, 2)


def _herd(h: Herd) -> SortAsk:
    """Two bulls follow one another, one runs alone; Eden and Lune go to the two."""
    for bull in ("Cheviot", "Fell", "Ochil"):
        h.add(bull, "M", date(2021, 3, 1))
    for cow in ("Eden", "Lune"):
        h.add(cow, "F", date(2018, 3, 1))
    first = AskedBull(h.id["Cheviot"], None, IN, date(2026, 7, 1))
    second = AskedBull(h.id["Fell"], None, date(2026, 7, 2), OUT)
    groups = (AskedGroup((first, second)), AskedGroup((AskedBull(h.id["Ochil"]),)))
    both = {h.id[cow]: Choice("bull", h.id["Cheviot"]) for cow in ("Eden", "Lune")}
    return SortAsk(bull_in=IN, bull_out=OUT, groups=groups, choices=both)


def test_first_and_last_due_of_a_group(empty: Herd) -> None:
    """283 days from the first day of its first bull and from the last of its last: printed gestation tables.

    1 June + 283 days is 11 March; 2 August + 283 days is 12 May.
    """
    result = empty.ask(solve, _herd(empty), on=ON)
    assert due_of_group(result, 0) == (date(2027, 3, 11), date(2027, 5, 12))
    assert due_of_group(result, 1) is None
    assert due_of_all(result) == due_of_group(result, 0)
    apart = moved(result, empty.id["Lune"], Choice("bull", empty.id["Ochil"]))
    assert due_of_group(apart, 1) == (date(2027, 3, 11), date(2027, 5, 12))


def test_a_breed_or_the_books_own_figure_moves_it(empty: Herd) -> None:
    """A Limousin cow carries longer than 283 days; the book's own figure stands above all."""
    ask = _herd(empty)
    empty.do(ChangeAnimal(empty.id["Eden"], sex="F", breed="Limousin"))
    result = empty.ask(solve, ask, on=ON)
    first, last = due_of_group(result, 0) or (IN, IN)
    assert first == date(2027, 3, 11), "Lune, of no known breed, is due as before"
    assert last > date(2027, 5, 12)
    empty.do(ChangeSetting("gestation_days", 280))
    result = empty.ask(solve, replace(ask), on=ON)
    assert due_of_group(result, 0) == (date(2027, 3, 8), date(2027, 5, 9))
