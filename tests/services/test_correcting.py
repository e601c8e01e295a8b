"""Putting a happening right, or taking it back, with all that hangs on its day."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from herdbook.services.commands.correcting import Correct, TakeBack
from herdbook.services.commands.happenings import Arrive, Foster, Leave, Weigh
from herdbook.services.queries.animal import AnimalCard, card
from herdbook.services.registry import Refused
from tests.services.conftest import ON, Herd


def known(herd: Herd, tag: str, on: date = ON) -> AnimalCard:
    found: AnimalCard = herd.ask(card, herd.id[tag], on=on)
    return found


def test_a_departure_on_another_day(herd: Herd) -> None:
    """Tamar left on 3 November; it was the 10th: on the 5th she was still here."""
    tamar = known(herd, "9")
    row = next(h.row for h in tamar.happenings if h.kind == "departure")
    herd.do(Correct(row, Leave(herd.id["9"], date(2025, 11, 10), departure_kind="sold")))
    assert known(herd, "9").left_on == date(2025, 11, 10)
    assert known(herd, "9", date(2025, 11, 5)).present
    with pytest.raises(Refused, match="cannot leave before"):
        herd.do(Correct(row, Leave(herd.id["9"], date(2010, 1, 1))))
    assert known(herd, "9").left_on == date(2025, 11, 10)


def test_an_arrival_on_another_day(herd: Herd) -> None:
    """She came back on 1 February, not January."""
    back = herd.do(Arrive(herd.id["9"], date(2026, 1, 1), arrival_kind="returned"))
    herd.do(Correct(back, Arrive(herd.id["9"], date(2026, 2, 1), arrival_kind="returned")))
    assert not known(herd, "9", date(2026, 1, 15)).present
    assert known(herd, "9").here_since == date(2026, 2, 1)


def test_a_fostering_put_right_and_taken_back(herd: Herd) -> None:
    """Bora was put to Eden, not to Nith; and in the end to nobody."""
    calf, day = herd.id["26/1"], ON - timedelta(days=2)
    row = herd.do(Foster(calf, day, by=herd.id["23/4"]))
    herd.do(Correct(row, Foster(calf, day, by=herd.id["12"])))
    assert known(herd, "26/1").reared_by.tag == "12"
    herd.do(TakeBack("fostering", row))
    assert known(herd, "26/1").reared_by is None
    herd.book.undo()
    assert known(herd, "26/1").reared_by.tag == "12"


def test_a_weight_changes_nothing_else(herd: Herd) -> None:
    before = known(herd, "25/1")
    herd.do(Correct(before.weights[0].row, Weigh(herd.id["25/1"], date(2026, 1, 28), kg=315.0)))
    after = known(herd, "25/1")
    assert [w.kg for w in after.weights] == [315.0, *(w.kg for w in before.weights[1:])]
    assert after.here_since == before.here_since
