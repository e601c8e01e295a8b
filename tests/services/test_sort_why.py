"""The sort explains itself, and is stopped with the best it has found."""

from __future__ import annotations

from datetime import date
from itertools import count

import pytest

from herdbook.services.queries import sort_place
from herdbook.services.queries.sort import AskedBull, Choice, SortAsk, SortResult, each_alone, place, solve
from herdbook.services.queries.sort_hand import moved
from herdbook.services.queries.sort_why import Why, Whys
from tests.services.conftest import Herd

ON = date(2026, 5, 1)


@pytest.fixture
def herd(empty: Herd) -> Herd:
    """Kent and Nith are Cheviot's daughters; Lune is Pentland's half sister; Tees is of unknown parents."""
    h = Herd(empty.book, ON)
    for bull in ("Cheviot", "Pentland"):
        h.add(f"{bull}'s sire", "M", date(2016, 3, 1), here=False)
        h.add(f"{bull}'s dam", "F", date(2016, 3, 1), here=False)
        h.add(bull, "M", date(2020, 3, 1), sire=h.id[f"{bull}'s sire"], dam=h.id[f"{bull}'s dam"])
    for tag, sire in (("Kent", "Cheviot"), ("Nith", "Cheviot"), ("Lune", "Pentland's sire")):
        h.add(f"{tag}'s dam", "F", date(2017, 3, 1), here=False)
        h.add(tag, "F", date(2022, 4, 1), sire=h.id[sire], dam=h.id[f"{tag}'s dam"])
    h.add("Tees", "F", date(2022, 4, 1))
    for tag in ("Kent", "Nith", "Lune", "Tees"):
        h.calve(tag, date(2026, 3, 20), f"{tag} calf", sex="M")
    return h


def _sorted(h: Herd, places: int, **more: object) -> SortResult:
    bulls = each_alone([AskedBull(h.id["Cheviot"], 5), AskedBull(h.id["Pentland"], places)])
    season = {"bull_in": date(2026, 6, 1), "bull_out": date(2026, 8, 2)}
    return h.ask(solve, SortAsk(groups=bulls, **season, **more))  # type: ignore[arg-type, no-any-return]


def _why(h: Herd, result: SortResult, tag: str) -> Why:
    told = Whys(result).of(h.id[tag])
    assert told is not None
    return told


def _words(h: Herd, result: SortResult, tag: str) -> list[str]:
    return [str(reason) for reason in _why(h, result, tag).reasons]


def test_who_is_placed_says_who_comes_next(herd: Herd) -> None:
    result = _sorted(herd, 3)
    assert _words(herd, result, "Kent") == ["0.0% with Pentland; next best Cheviot with 25.0%"]
    assert _words(herd, result, "Lune") == ["0.0% with Cheviot; next best Pentland with 12.5%"]


def test_a_bull_that_she_is_kept_from_is_no_next_best(herd: Herd) -> None:
    """Lune is kept from Pentland, so that there is no other bull for her; Kent's next best stands."""
    result = _sorted(herd, 3, apart={(herd.id["Lune"], herd.id["Pentland"]): "he hurt her"})
    notes = {f.tag: [str(note) for note in f.notes] for group in result.groups for f in group.females}
    assert notes["Lune"] == []
    assert notes["Kent"] == ["0.0% here; next best Cheviot 25.0%"]
    assert _words(herd, result, "Lune") == ["0.0% with Cheviot"]


def test_who_is_moved_says_that_the_first_choice_is_full(herd: Herd) -> None:
    result = _sorted(herd, 1, limit=0.25)
    (left,) = ({"Kent", "Nith"} & {f.tag for f in result.groups[0].females},)
    told = _why(herd, result, *left)
    assert told.placed is not None
    assert told.placed.better is not None
    assert (told.placed.better.code, told.placed.better.rise) == ("full", 0.0)
    assert _words(herd, result, *left)[1] == (
        "with Pentland she would give 0.0%; a sort with her there would be as good as this one"
    )


def test_a_nil_that_rests_on_nothing_is_not_told_as_nil(herd: Herd) -> None:
    assert _words(herd, _sorted(herd, 3), "Tees")[0].startswith("not known with ")


def test_a_nil_from_nothing_is_not_told_of_who_has_no_place(herd: Herd) -> None:
    (tees,) = (one for one in _sorted(herd, 0, choices=_all_with_cheviot(herd)).not_bred if one.tag == "Tees")
    assert str(tees.reason) == "no place left with a bull she may have; with Cheviot not known"


def _all_with_cheviot(h: Herd) -> dict[int, Choice]:
    """Fill him by hand to more than his five places, so that none is left for Tees."""
    for tag in ("Wear", "Ure"):
        h.add(tag, "F", date(2019, 4, 1), calved_before=True)
    tags = ("Kent", "Nith", "Lune", "Wear", "Ure")
    return {h.id[tag]: Choice("bull", h.id["Cheviot"]) for tag in tags}


def test_who_has_no_bull_says_what_would_be_enough(herd: Herd) -> None:
    result = _sorted(herd, 1)
    (out,) = (one.tag for one in result.not_bred if one.tag in ("Kent", "Nith"))
    told = _why(herd, result, out)
    assert told.unplaced is not None
    assert (told.unplaced.limit, told.unplaced.place_with) == (0.25, (1,))
    assert _words(herd, result, out) == [
        "one more place with Pentland would be enough",
        "one more bull would be enough, no more related to her than 6.25%",
        "a limit of 25.00% would be enough",
    ]


def test_what_is_named_is_enough(herd: Herd) -> None:
    before = _sorted(herd, 1)
    assert not [one for one in _sorted(herd, 1, limit=0.25).not_bred if one.tag in ("Kent", "Nith")]
    assert not [one for one in _sorted(herd, 2).not_bred if one.tag in ("Kent", "Nith")]
    assert before.most_placed == sum(len(group.females) for group in before.groups)


def test_of_fewer_groups_another_is_named(herd: Herd) -> None:
    result = _sorted(herd, 3, most_groups=1)
    (used,) = (group.tag for group in result.groups if group.females)
    assert used == "Pentland"
    assert "she would have a place if Cheviot were used too" in _words(herd, result, "Lune")


def test_kept_apart_and_moved_by_hand(herd: Herd) -> None:
    apart = {(herd.id["Kent"], herd.id["Pentland"]): "he hurt her last year"}
    result = _sorted(herd, 3, apart=apart)
    assert "she would have a place if what keeps her from Pentland were lifted" in _words(
        herd, result, "Kent"
    )
    by_hand = moved(result, herd.id["Kent"], Choice("bull", herd.id["Cheviot"], "no other"))
    assert _words(herd, by_hand, "Kent") == [
        "25.0% with Cheviot",
        "chosen by hand; with Pentland she would give 0.0%",
    ]


def test_whom_the_sort_does_not_ask_has_no_explanation(herd: Herd) -> None:
    result = moved(_sorted(herd, 3), herd.id["Kent"], Choice("sell"))
    assert Whys(result).of(herd.id["Kent"]) is None
    assert Whys(result).of(herd.id["Lune"]) is not None


@pytest.mark.parametrize("apart", [False, True])
def test_a_stop_keeps_the_best_found(herd: Herd, apart: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also in a process apart; the answer keeps every rule, and says that it is not proven."""
    ready = _sorted(herd, 1, most_groups=2, least_group=1).ready
    if apart:
        monkeypatch.setattr(sort_place, "APART_FROM", 0)
    stopped = place(ready, {}, stopping=lambda: True)
    assert not stopped.proven_optimal
    assert 0 <= stopped.gap <= 1
    assert stopped.most_placed is not None
    assert sum(len(group.females) for group in stopped.groups) <= stopped.most_placed
    assert all(len(group.females) <= group.capacity for group in stopped.groups)
    assert all(f.inbreeding <= stopped.limit for group in stopped.groups for f in group.females)
    assert place(ready, {}).proven_optimal


def test_what_going_raises_keeps_nothing(herd: Herd) -> None:
    calls = count()

    def going() -> None:
        next(calls)
        raise KeyError

    with pytest.raises(KeyError):
        place(_sorted(herd, 1).ready, {}, going)
    assert next(calls) == 1
