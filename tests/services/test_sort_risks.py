"""Heritable conditions in the sort."""

from __future__ import annotations

from datetime import date

import pytest

from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.genetics import TestGenes
from herdbook.services.queries.sort import Choice, SortAsk, SortResult, each_alone, gather, solve
from herdbook.services.queries.sort_hand import moved, rules_passed
from herdbook.services.queries.sort_why import Whys
from tests.services.conftest import Herd

ON = date(2026, 5, 1)


@pytest.fixture
def herd(empty: Herd) -> Herd:
    """Return a carrier bull, another bull, and two cows of whom Tarn carries it too."""
    h = Herd(empty.book, ON)
    h.add("Cheviot", "M", date(2021, 3, 1))
    h.add("Pentland", "M", date(2021, 3, 1))
    h.add("Tarn", "F", date(2019, 3, 1))
    h.add("Lune", "F", date(2019, 3, 1))
    for dam in ("Tarn", "Lune"):
        h.calve(dam, date(2026, 3, 10), f"{dam} calf", sex="M")
    for tag in ("Cheviot", "Tarn"):
        h.do(TestGenes(h.id[tag], date(2026, 4, 1), "am", "carrier"))
    return h


def placed(result: SortResult) -> dict[str, str]:
    """Return the bull of each female that has one."""
    return {f.tag: group.tag for group in result.groups for f in group.females}


def test_carriers_are_kept_apart(herd: Herd) -> None:
    """The sort does not join two carriers, though no other rule speaks against it."""
    result = herd.ask(solve, SortAsk())
    assert placed(result)["Tarn"] == "Pentland"
    tarn = next(f for f in result.females if f.tag == "Tarn")
    assert tarn.barred == (True, False)
    assert [risk.affected for risk in tarn.risks[0]] == pytest.approx([0.25])
    assert [risk.marked for risk in tarn.risks[1]] == [True]  # he is not tested: 0.5 % by the usual frequency
    assert tarn.risks[1][0].affected == pytest.approx(0.005)


def test_a_marked_mating_that_is_made_says_so(herd: Herd) -> None:
    """Below the limit a mating is made, and its note has the chance."""
    result = herd.ask(solve, SortAsk())
    notes = [str(n) for group in result.groups for f in group.females if f.tag == "Tarn" for n in f.notes]
    assert any("0.5% of an affected calf" in note for note in notes)


def test_what_would_place_her_says_that_it_is_a_risk(herd: Herd) -> None:
    """Cheviot alone is used, who carries what Tarn carries."""
    result = herd.ask(solve, SortAsk(groups=each_alone([herd.id["Cheviot"]])))
    told = [str(reason) for reason in Whys(result).words(herd.id["Tarn"])]
    assert told[-2:] == [
        "one more bull must be free of what could harm her calves",
        "it is the risk of an affected calf that keeps her from Cheviot",
    ]
    assert "she would have a place if what keeps her from Cheviot were lifted" in told


def test_with_carriers_alone_she_is_not_bred_and_is_told_why(herd: Herd) -> None:
    bull = herd.id["Cheviot"]
    result = herd.ask(solve, SortAsk(groups=each_alone([bull])))
    (out,) = [n for n in result.not_bred if n.tag == "Tarn"]
    assert out.code == "affected_calf"
    assert "Cheviot with 25.0%" in str(out.reason)
    assert placed(result)["Lune"] == "Cheviot"


def test_by_hand_a_reason_is_asked_and_the_mating_made(herd: Herd) -> None:
    result = herd.ask(solve, SortAsk())
    choice = Choice("bull", herd.id["Cheviot"], "the calves go to the butcher")
    asked = [str(reason) for reason in rules_passed(result, herd.id["Tarn"], choice)]
    assert any(words.startswith("25.0% of an affected calf") for words in asked)
    after = moved(result, herd.id["Tarn"], choice)
    assert placed(after)["Tarn"] == "Cheviot"
    again = herd.ask(solve, SortAsk(choices={herd.id["Tarn"]: choice}))
    assert placed(again)["Tarn"] == "Cheviot"


def test_the_limit_is_a_setting(herd: Herd) -> None:
    herd.do(ChangeSetting("affected_limit", 0.3))
    tarn = next(f for f in herd.ask(gather, SortAsk()).females if f.tag == "Tarn")
    assert tarn.barred == (False, False)


def test_results_that_clash_are_told(herd: Herd) -> None:
    herd.do(TestGenes(herd.id["Tarn"], date(2026, 4, 2), "am", "free"))
    ready = herd.ask(gather, SortAsk())
    assert ["Tarn" in str(clash) for clash in ready.clashes] == [True]
    assert all(not f.risks for f in ready.females)


def test_an_untested_herd_has_no_marks(empty: Herd) -> None:
    h = Herd(empty.book, ON)
    h.add("Cheviot", "M", date(2021, 3, 1))
    h.add("Lune", "F", date(2019, 3, 1))
    ready = h.ask(gather, SortAsk())
    assert all(not f.risks and not f.barred for f in ready.females)
