"""How a bull's calves came, from births written down by the commands."""

from __future__ import annotations

from datetime import date, timedelta

from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.calves_of_bulls import BullCalves, calves_of_bulls, calves_words
from tests.services.conftest import Herd

ON = date(2026, 11, 1)


def _herd(h: Herd) -> None:
    for bull in ("Cheviot", "Pentland"):
        h.add(bull, "M", date(2020, 3, 1))
    for tag, born in (("Kent", date(2023, 4, 1)), ("Tay", date(2023, 4, 2)), ("Eden", date(2016, 4, 1))):
        h.add(tag, "F", born)
    h.add("Lune", "F", date(2016, 4, 1), calved_before=True)


def _born(h: Herd, dam: str, day: date, *calves: NewCalf, sire: str | None = "Cheviot") -> None:
    h.do(RecordBirth(h.id[dam], day, calves, sire=h.id[sire] if sire else None))


def _of(h: Herd, bull: str = "Cheviot", on: date = ON) -> BullCalves:
    found: dict[int, BullCalves] = h.ask(calves_of_bulls, [h.id[bull]], on=on)
    assert list(found) == [h.id[bull]]
    return found[h.id[bull]]


def test_first_calvers_and_cows_are_told_apart(empty: Herd) -> None:
    _herd(empty)
    _born(empty, "Kent", date(2025, 4, 1), NewCalf("F", kg=34.0, ease=1))
    _born(empty, "Tay", date(2025, 4, 9), NewCalf("M", kg=42.0, ease=3, fate="stillborn"))
    _born(empty, "Kent", date(2026, 4, 1), NewCalf("M", kg=40.0, ease=1))
    _born(empty, "Lune", date(2026, 4, 2), NewCalf("M", ease=2))
    _born(empty, "Eden", date(2026, 4, 3), NewCalf("M"))
    told = _of(empty)
    assert (told.first_calvers.born, told.first_calvers.dead) == (2, 1)
    assert told.first_calvers.ease == ((1, 1), (3, 1))
    weights = told.first_calvers.weights
    assert weights is not None
    assert (weights.n, weights.mean, weights.least, weights.most) == (2, 38.0, 34.0, 42.0)
    # Kent's second calf, and the first in the book of a cow of whom the keeper says that she had calved.
    assert (told.cows.born, told.cows.ease) == (2, ((1, 1), (2, 1)))
    # Ten years old at the first calving that the book knows: nobody says whether it was her first.
    assert (told.unknown.born, told.unknown.ease_unknown, told.unknown.weights) == (1, 1, None)


def test_twins_and_later_births_are_not_counted(empty: Herd) -> None:
    _herd(empty)
    _born(empty, "Lune", date(2025, 4, 1), NewCalf("F", kg=28.0, ease=1), NewCalf("F", kg=27.0, ease=5))
    _born(empty, "Lune", date(2026, 4, 2), NewCalf("M", kg=41.0, ease=1))
    assert _of(empty).twins == 2
    assert _of(empty).cows.ease == ((1, 1),)
    before = _of(empty, on=date(2026, 4, 1))
    assert (before.twins, before.cows.born) == (2, 0)


def test_a_calf_that_may_be_anothers_is_counted_in_nothing(empty: Herd) -> None:
    """Two bulls together: nobody knows whose it is until a test or the keeper says so."""
    _herd(empty)
    both = (empty.id["Cheviot"], empty.id["Pentland"])
    empty.do(TurnIn(bulls=both, females=(empty.id["Lune"],), day=date(2025, 6, 1), out=date(2025, 8, 1)))
    empty.do(
        TurnIn(
            bulls=(empty.id["Pentland"],),
            females=(empty.id["Kent"],),
            day=date(2025, 6, 1),
            out=date(2025, 8, 1),
        )
    )
    born = date(2025, 6, 20) + timedelta(days=283)
    _born(empty, "Lune", born, NewCalf("M", kg=50.0, ease=4), sire=None)
    _born(empty, "Kent", born, NewCalf("M", kg=35.0, ease=1), sire=None)
    assert _of(empty) == BullCalves(empty.id["Cheviot"], doubtful=1)
    his = _of(empty, "Pentland")
    assert (his.doubtful, his.first_calvers.born, his.cows.born) == (1, 1, 0)


def test_how_calves_came_in_words(empty: Herd) -> None:
    _herd(empty)
    assert calves_words(_of(empty).cows) == "none"
    _born(empty, "Lune", date(2025, 4, 1), NewCalf("F", kg=36.0, ease=1))
    _born(empty, "Lune", date(2026, 4, 2), NewCalf("M", kg=42.0, ease=4, fate="died"))
    assert calves_words(_of(empty).cows) == (
        "2 calves; no help: 1, caesarean: 1; 1 dead at birth; birth weight 39 kg (36 kg to 42 kg, 2 weighed)"
    )
    _born(empty, "Kent", date(2025, 4, 1), NewCalf("F"))
    assert calves_words(_of(empty).first_calvers) == "1 calf; help not written down; no birth weights"
