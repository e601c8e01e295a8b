"""How honest a book's kinship is: doubtful sires, outside bulls, nothing known, matings that are close."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from herdbook.husbandry.trust import Depth, Trust
from herdbook.services.commands.animals import AddAnimal, NameParent
from herdbook.services.commands.breeding import Serve
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.running import TurnIn
from herdbook.services.doubts import doubts
from herdbook.services.pedigree import Pedigree, load_pedigree, sires_of
from herdbook.services.queries.animal import card
from herdbook.services.queries.kin import inbreeding_list, kin_of_parents
from herdbook.services.queries.sort import SortAsk, each_alone, solve, trust_of
from herdbook.services.queries.written import animal_as_written
from tests.services.conftest import Herd

RAN = (date(2022, 6, 1), date(2022, 8, 2))
CALVED = date(2023, 4, 1)


def pedigree_of(herd: Herd) -> Pedigree:
    with herd.book.read() as conn:
        return load_pedigree(conn)


def reasons(herd: Herd, command: object) -> list[tuple[str, str]]:
    with herd.book.read() as conn:
        return [(reason.code, str(reason)) for reason in doubts(conn, command, herd.on)]


@pytest.fixture
def together(empty: Herd) -> Herd:
    """Return a herd in which the bulls A and B ran together with two cows, and each has a daughter since."""
    h = empty
    for tag in ("A", "B"):
        h.add(tag, "M", date(2018, 3, 1))
    for tag in ("Eden", "Lune"):
        h.add(tag, "F", date(2018, 3, 1), calved_before=True)
    h.do(TurnIn((h.id["A"], h.id["B"]), (h.id["Eden"], h.id["Lune"]), *RAN))
    h.calve("Eden", CALVED, "Kent")
    h.calve("Lune", CALVED, "Nith")
    return h


# -- two bulls together --


def test_of_bulls_that_ran_together_the_worse_is_held_against_the_mating(together: Herd) -> None:
    """Sire and daughter 1/4 (Lynch and Walsh 1998, table 7.1), by either bull; neither is ever left out.

    DNA work found 0 to 64 calves a bull in groups of several (doi 10.2527/jas.2013-7217): an even chance is
    for the mean only, and the limit is held against the worse of the two.
    """
    h, p = together, pedigree_of(together)
    pairs = ([h.id["Kent"]], [h.id["A"], h.id["B"]])
    assert p.worst(*pairs).tolist() == [[0.25, 0.25]]
    assert p.expected(*pairs).tolist() == [[0.125, 0.125]]
    assert p.calves(*pairs).tolist() == [[0.25, 0.25]]
    whole, dam, sire = p.worst_pair(h.id["Kent"], h.id["B"])
    assert whole.ids[whole.sire[dam]] == h.id["B"]
    assert whole.ids[sire] == h.id["B"]
    bulls = (h.id["A"], h.id["B"])
    ask = SortAsk(limit=0.2, groups=each_alone(bulls), heifer_bulls=bulls)
    result = h.ask(solve, ask)
    assert {n.tag: n.code for n in result.not_bred}["Kent"] == "over_limit"


def test_the_book_may_hold_the_expected_figure_against_the_mating(together: Herd) -> None:
    h = together
    h.do(ChangeSetting("inbreeding_held", "expected"))
    p = pedigree_of(h)
    assert p.calves([h.id["Kent"]], [h.id["A"]]).tolist() == [[0.125]]
    result = h.ask(solve, SortAsk(limit=0.2, groups=each_alone([h.id["A"]]), heifer_bulls=(h.id["A"],)))
    female = next(f for f in result.females if f.tag == "Kent")
    assert (female.calves, female.expected, female.worst) == ((0.125,), (0.125,), (0.25,))
    assert "Kent" in {f.tag for group in result.groups for f in group.females}


def test_doubt_follows_down_the_generations(together: Herd) -> None:
    """A granddaughter of A or B, and a grandson: half cousins at worst; each doubt is its own."""
    h = together
    h.add("Clyde", "M", date(2021, 3, 1))
    h.add("Esk", "F", date(2025, 3, 1), dam=h.id["Kent"], sire=h.id["Clyde"])
    h.add("Tay", "M", date(2025, 3, 1), dam=h.id["Nith"])
    p = pedigree_of(h)
    assert p.worst([h.id["Esk"]], [h.id["A"]]).tolist() == [[0.125]]
    assert p.expected([h.id["Esk"]], [h.id["A"]]).tolist() == [[0.0625]]
    # Both by the same bull with chance 1/2; then half first cousins, 1/32.
    assert p.worst([h.id["Esk"]], [h.id["Tay"]]).tolist() == [[1 / 32]]
    assert p.expected([h.id["Esk"]], [h.id["Tay"]]).tolist() == [[1 / 64]]
    assert not p.doubtful(h.id["Esk"])
    assert p.doubt_behind(h.id["Esk"])


def test_an_animals_own_inbreeding_is_expected_with_the_worst_beside_it(together: Herd) -> None:
    """Kent ran with A and B again: her calf is by her own sire or by the other, and he by either."""
    h = together
    h.do(TurnIn((h.id["A"], h.id["B"]), (h.id["Kent"],), date(2025, 6, 1), date(2025, 8, 2)))
    calf = h.calve("Kent", date(2026, 3, 1), "Wear")
    with h.book.read() as conn:
        own = kin_of_parents(conn, calf)
        row = next(row for row in inbreeding_list(conn) if row.tag == "Wear")
    assert (own.inbreeding, own.worst) == (0.125, 0.25) == (row.inbreeding, row.worst)
    assert own.depth == Depth(maximum=2, complete=1, equivalent=1.5)


def test_dna_takes_the_doubt_away(together: Herd) -> None:
    h = together
    h.do(NameParent(h.id["Kent"], h.id["A"], kind="dna"))
    p = pedigree_of(h)
    assert p.calves([h.id["Kent"]], [h.id["A"], h.id["B"]]).tolist() == [[0.25, 0.0]]
    assert not p.doubtful(h.id["Kent"])


# -- a neighbour's bull --


@pytest.fixture
def strayed(empty: Herd) -> Herd:
    """Return a herd whose two heifers were found across the river with a neighbour's bull for nine days."""
    h = empty
    h.add("Cheviot", "M", date(2014, 3, 1))
    h.add("Nith", "F", date(2013, 3, 1))
    for tag in ("Eden", "Lune"):
        h.add(tag, "F", date(2021, 3, 1), dam=h.id["Nith"], sire=h.id["Cheviot"])
    stray = AddAnimal(
        tag="Neighbour's black bull", sex="M", breed="Galloway cross", here=False, placeholder=True
    )
    h.id["stray"] = h.do(stray)
    h.do(TurnIn((h.id["stray"],), (h.id["Eden"], h.id["Lune"]), date(2023, 6, 10), date(2023, 6, 18)))
    h.calve("Eden", date(2024, 3, 22), "Wear")
    h.calve("Lune", date(2024, 3, 24), "Tees", sex="M")
    return h


def test_a_neighbours_bull_is_the_sire_and_not_known(strayed: Herd) -> None:
    h, p = strayed, pedigree_of(strayed)
    with h.book.read() as conn:
        assert [(s.sire, s.basis) for s in sires_of(conn, h.id["Wear"])] == [(h.id["stray"], "dates")]
    # The dam's side two generations deep, the sire's not at all.
    assert p.depth(h.id["Wear"]) == Depth(maximum=2, complete=0, equivalent=1.0)
    assert p.depth(h.id["Wear"]).trust is Trust.LITTLE


def test_one_placeholder_is_one_bull(strayed: Herd) -> None:
    """His calves are half brother and sister through him, as well as out of full sisters.

    Half sibs 1/8 and first cousins 1/16 (Lynch and Walsh 1998, table 7.1), through their dams alone 1/16.
    """
    h, p = strayed, pedigree_of(strayed)
    assert p.expected([h.id["Wear"]], [h.id["Tees"]]).tolist() == [[1 / 8 + 1 / 16]]


def test_what_an_unknown_side_could_be(strayed: Herd) -> None:
    """The stray as kin to nobody, or of parents like this herd's own: worked by hand.

    Low: Wear is Cheviot's granddaughter, 1/8. High: the stray's parents are averages of five daughters of
    Cheviot, 1/4 each with him, so the stray is as near as they are, and adds half of that.
    """
    h = strayed
    for tag in ("Ure", "Wharfe", "Kent"):
        h.add(tag, "F", date(2020, 3, 1), dam=h.id["Nith"], sire=h.id["Cheviot"])
    p = pedigree_of(h)
    found = p.range_of(h.id["Wear"], h.id["Cheviot"])
    assert found.low == 0.125 == p.expected([h.id["Wear"]], [h.id["Cheviot"]])[0, 0]
    assert found.high == 0.125 + (1 / 4) / 2
    assert p.trust(h.id["Wear"], h.id["Cheviot"]) is Trust.NOTHING


def test_a_stray_who_is_found_out_is_a_bull_like_any_other(strayed: Herd) -> None:
    h = strayed
    assert h.ask(card, h.id["stray"]).placeholder
    with h.book.read() as conn:
        now = animal_as_written(conn, h.id["stray"])
    assert now.placeholder
    h.do(replace(now, placeholder=None, name="Criffel"))
    assert not h.ask(card, h.id["stray"]).placeholder
    p = pedigree_of(h)
    assert p.depth(h.id["Wear"]) == Depth(maximum=2, complete=1, equivalent=1.5)
    h.book.undo()
    assert pedigree_of(h).depth(h.id["Wear"]) == Depth(maximum=2, complete=0, equivalent=1.0)


def test_own_bull_and_stray_leave_a_doubt(strayed: Herd) -> None:
    """The own bull cannot be assumed: he ran with her in the same weeks, so each may be it."""
    h = strayed
    h.do(TurnIn((h.id["Cheviot"],), (h.id["Eden"],), date(2024, 6, 1), date(2024, 8, 1)))
    h.do(TurnIn((h.id["stray"],), (h.id["Eden"],), date(2024, 6, 10), date(2024, 6, 18)))
    calf = h.calve("Eden", date(2025, 3, 24), "Ure")
    p = pedigree_of(h)
    assert p.doubtful(calf)
    with h.book.read() as conn:
        assert {s.sire for s in sires_of(conn, calf)} == {h.id["Cheviot"], h.id["stray"]}
    row = p.row[calf]
    assert p.worst_of(calf) == 0.25
    assert 0 < p.inbreeding[row] < 0.25
    assert p.depth(calf).complete == 0


# -- nothing known --


def test_nil_from_nothing_known_is_not_unrelated(empty: Herd) -> None:
    """Unknown ancestry gives 0 by arithmetic only: it comes with its 0 known generations and the word."""
    h = empty
    h.add("Lune", "F", date(2020, 3, 1), calved_before=True)
    h.add("Ochil", "M", date(2020, 3, 1))
    p = pedigree_of(h)
    assert p.calves([h.id["Lune"]], [h.id["Ochil"]]).tolist() == [[0.0]]
    assert p.depth(h.id["Lune"]) == Depth(0, 0, 0.0)
    assert p.trust(h.id["Lune"], h.id["Ochil"]) is Trust.NOTHING
    result = h.ask(solve, SortAsk(groups=each_alone([h.id["Ochil"]])))
    (female,), (bull,) = result.females, result.bull_groups
    assert trust_of(female, bull) is Trust.NOTHING
    (placed,) = (f for group in result.groups for f in group.females)
    assert placed.trust is Trust.NOTHING
    assert [note.code for note in placed.notes] == ["not_known_here"]
    assert "0.0" not in " ".join(str(note) for note in placed.notes)


def test_a_bought_cow_could_be_as_near_as_the_herd(empty: Herd) -> None:
    """Low nil, high the mean of the herd's own calves, which are all the bull's: as near as a daughter."""
    h = empty
    h.add("Cheviot", "M", date(2010, 3, 1))
    h.add("Nith", "F", date(2010, 3, 1))
    for tag in ("Eden", "Tees", "Ure", "Wear", "Tyne"):
        h.add(tag, "F", date(2014, 3, 1), dam=h.id["Nith"], sire=h.id["Cheviot"])
    h.add("Bought", "F", date(2018, 3, 1), entered=date(2020, 5, 1))
    p = pedigree_of(h)
    found = p.range_of(h.id["Bought"], h.id["Cheviot"])
    assert (found.low, found.high) == (0.0, 0.25)


# -- close matings --


@pytest.fixture
def near(empty: Herd) -> Herd:
    """Return a bull with a daughter, a granddaughter, and a female of no kin."""
    h = empty
    h.add("Cheviot", "M", date(2015, 3, 1))
    for tag in ("Nith", "Tay"):
        h.add(tag, "F", date(2015, 3, 1), calved_before=True)
    h.add("Clyde", "M", date(2016, 3, 1))
    h.add("Eden", "F", date(2018, 3, 1), dam=h.id["Nith"], sire=h.id["Cheviot"], calved_before=True)
    h.add("Kent", "F", date(2021, 3, 1), dam=h.id["Eden"], sire=h.id["Clyde"])
    return h


def test_a_bull_to_his_daughter_is_told_before_the_mating(near: Herd) -> None:
    """Sire and daughter .25, grandsire .125 (Lynch and Walsh 1998, table 7.1); levels common practice."""
    h = near
    served = date(2026, 2, 20)
    ((code, words),) = reasons(h, Serve(h.id["Eden"], served, h.id["Cheviot"], "seen"))
    assert code == "close_kin"
    assert words == "Eden and Cheviot are very close kin: a calf 25.0% inbred; keep no replacement from it"
    found = reasons(h, TurnIn((h.id["Cheviot"],), (h.id["Tay"], h.id["Kent"], h.id["Eden"]), h.on))
    assert [(code, words.split(":")[0]) for code, words in found] == [
        ("close_kin", "Eden and Cheviot are very close kin"),
        ("close_kin", "Kent and Cheviot are very close kin"),
    ]
    assert reasons(h, TurnIn((h.id["Cheviot"],), (h.id["Tay"],), h.on)) == []


def test_the_levels_are_settings(near: Herd) -> None:
    h = near
    h.do(ChangeSetting("very_close_from", 0.3))
    run = TurnIn((h.id["Cheviot"],), (h.id["Kent"], h.id["Eden"]), h.on)
    assert [words.endswith("inbred") for _, words in reasons(h, run)] == [True, True]
    h.do(ChangeSetting("close_from", 0.2))
    assert len(reasons(h, run)) == 1
    result = h.ask(solve, SortAsk(groups=each_alone([h.id["Cheviot"]])))
    assert {f.tag: f.close for f in result.females} == {
        "Eden": ("close",), "Kent": ("",), "Nith": ("",), "Tay": ("",),
    }  # fmt: skip


def test_many_close_pairs_are_named_in_part(near: Herd) -> None:
    h = near
    for n in range(7):
        h.add(f"D{n}", "F", date(2020, 3, 1), dam=h.id["Tay"], sire=h.id["Cheviot"])
    run = TurnIn((h.id["Cheviot"],), tuple(h.id[f"D{n}"] for n in range(7)), h.on)
    found = reasons(h, run)
    assert [code for code, _ in found] == ["close_kin"] * 5 + ["more_close_kin"]
    assert found[-1][1] == "and 2 more pairs of close kin"


def test_a_common_ancestor_that_is_itself_inbred_adds_to_it(near: Herd) -> None:
    """A bull that is himself inbred 1/4, to his daughter: 1/4 (1 + 1/4) = 5/16 (Wright 1922, by his rule)."""
    h = near
    h.add("Inbred", "M", date(2021, 3, 1), dam=h.id["Eden"], sire=h.id["Cheviot"])
    h.add("Ure", "F", date(2024, 3, 1), dam=h.id["Tay"], sire=h.id["Inbred"])
    assert pedigree_of(h).expected([h.id["Ure"]], [h.id["Inbred"]]).tolist() == [[0.3125]]


def test_a_possible_sire_that_descends_from_his_calf_is_named_with_it(empty: Herd) -> None:
    """Dates entered wrongly: neither of several possible sires may be the calf's own descendant."""
    h = empty
    for tag in ("A", "B"):
        h.add(tag, "M", date(2018, 3, 1))
    h.add("Eden", "F", date(2018, 3, 1), calved_before=True)
    h.do(TurnIn((h.id["A"], h.id["B"]), (h.id["Eden"],), *RAN))
    calf = h.calve("Eden", CALVED, "Kent", sex="M")
    h.do(NameParent(h.id["B"], calf, kind="word"))
    p = pedigree_of(h)
    assert [sorted(loop) for loop in p.loops] == [sorted([h.id["B"], calf])]
    assert p.inbreeding.tolist() == [0.0] * 4
    assert not p.doubtful(calf)
