"""Who is to calve, with the signs seen, and the possible sires in words."""

from __future__ import annotations

from datetime import date, timedelta

from herdbook.services.commands.genetics import TestGenes
from herdbook.services.commands.happenings import SeeSign, Serve
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.calving import coming_calvings, look_back, possible_sires
from herdbook.services.queries.due import SireOf
from tests.services.conftest import ON, Herd


def _served(herd: Herd, tag: str, due_in: int) -> None:
    herd.add(tag, "F", date(2020, 3, 1), calved_before=True)
    herd.do(Serve(herd.id[tag], ON + timedelta(days=due_in - 283)))


def test_close_up_and_past_due_are_apart(empty: Herd) -> None:
    """Close up from 14 days before her day (common practice), past due from the day after it."""
    for tag, due_in in (("past", -1), ("now", 0), ("near", 14), ("far", 40)):
        _served(empty, tag, due_in)
    found = empty.ask(coming_calvings)
    assert [(row.tag, row.close_up, row.past_due) for row in found.rows] == [
        ("past", False, True),
        ("now", True, False),
        ("near", True, False),
        ("far", False, False),
    ]
    assert found.females == 4


def test_the_latest_sign_of_this_birth_counts(empty: Herd) -> None:
    _served(empty, "Eden", 5)
    _served(empty, "Lune", 5)
    for days, what in ((40, "bulling"), (6, "udder filling"), (2, "bones slack"), (-1, "restless")):
        empty.do(SeeSign(empty.id["Eden"], ON - timedelta(days=days), what=what))
    empty.do(SeeSign(empty.id["Lune"], ON - timedelta(days=40), what="bulling"))
    seen = {row.tag: (row.sign, row.sign_on) for row in empty.ask(coming_calvings).rows}
    assert seen == {"Eden": ("bones slack", ON - timedelta(days=2)), "Lune": (None, None)}


def test_bulls_that_ran_together_are_named_without_a_chance(empty: Herd) -> None:
    for tag in ("B1", "B2"):
        empty.add(tag, "M", date(2021, 3, 1))
    empty.add("Eden", "F", date(2019, 3, 1))
    bulls = (empty.id["B1"], empty.id["B2"])
    empty.do(TurnIn(bulls, (empty.id["Eden"],), date(2025, 6, 1), date(2025, 8, 2)))
    (row,) = empty.ask(coming_calvings).rows
    assert possible_sires(row.sires) == "B1 or B2"


def test_sires_of_different_chance_have_theirs_said() -> None:
    sires = (SireOf(1, "B1", "Cheviot", 0.98), SireOf(2, "B2", None, 0.02))
    assert possible_sires(sires) == "Cheviot 98\N{NO-BREAK SPACE}%, B2 2\N{NO-BREAK SPACE}%"
    assert possible_sires(sires[:1]) == "Cheviot"
    assert possible_sires(()) == ""


def test_the_calf_may_have_what_its_parents_carry(herd: Herd) -> None:
    """Nith and Cheviot both carry: one in four by him; of an embryo the donor counts instead of her."""
    for tag in ("B1", "23/4"):
        herd.do(TestGenes(herd.id[tag], date(2026, 2, 1), "am", "carrier"))
    row = next(r for r in herd.ask(coming_calvings).rows if r.tag == "23/4")
    (told,) = herd.ask(look_back, row).risks
    assert told[0] == "B1 Cheviot"
    assert str(told[1]).startswith("25.0% of an affected calf")
    herd.do(TestGenes(herd.id["12"], date(2026, 2, 1), "am", "free"))
    herd.do(
        Serve(herd.id["23/4"], date(2025, 6, 12), herd.id["B1"], "embryo", donor=herd.id["12"], embryo_days=7)
    )
    row = next(r for r in herd.ask(coming_calvings).rows if r.tag == "23/4")
    assert herd.ask(look_back, row).risks == ()
