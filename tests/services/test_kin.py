"""Inbreeding and kinship read from a book: the calf of a pair, the shared ancestors, loops taken apart."""

from __future__ import annotations

import math
from datetime import date

import pytest
from sqlalchemy import update

from herdbook.husbandry.trust import Trust
from herdbook.services.commands.breeding import Serve
from herdbook.services.commands.diary import ChangeSettings
from herdbook.services.commands.running import TurnIn
from herdbook.services.pedigree import load_pedigree, sires_of
from herdbook.services.queries.kin import explain, inbreeding_list, kin, kin_of_parents
from herdbook.services.registry import Refused
from herdbook.store.tables import Animal
from tests.services.conftest import Herd


def _half_sibs(h: Herd) -> None:
    h.add("Nith", "F", date(2015, 3, 1))
    h.add("Cheviot", "M", date(2015, 3, 1))
    h.add("Moffat", "F", date(2015, 3, 1))
    h.add("Eden", "F", date(2018, 3, 1), dam=h.id["Nith"], sire=h.id["Cheviot"])
    h.add("Pentland", "M", date(2019, 3, 1), dam=h.id["Moffat"], sire=h.id["Cheviot"])


def test_half_sibs_share_one_eighth_through_their_sire(empty: Herd) -> None:
    """Half sibs: 1/8 (Lynch and Walsh 1998, table 7.1)."""
    _half_sibs(empty)
    with empty.book.read() as conn:
        told = kin(conn, empty.id["Eden"], empty.id["Pentland"])
    assert told.inbreeding == 0.125
    assert [(s.tag, s.share) for s in told.shared] == [("Cheviot", 0.125)]


def test_of_two_possible_sires_the_worst_case_is_told_with_its_ancestor(empty: Herd) -> None:
    """Sire and daughter: 1/4 (Lynch and Walsh 1998, table 7.1), whichever of the bulls that ran together."""
    h = empty
    for tag in ("Cheviot", "Pentland"):
        h.add(tag, "M", date(2018, 3, 1))
    h.add("Eden", "F", date(2018, 3, 1))
    h.do(TurnIn((h.id["Cheviot"], h.id["Pentland"]), (h.id["Eden"],), date(2022, 6, 1), date(2022, 8, 2)))
    h.calve("Eden", date(2023, 4, 1), "Kent")
    with h.book.read() as conn:
        told = {tag: kin(conn, h.id["Kent"], h.id[tag]) for tag in ("Cheviot", "Pentland")}
    for tag, pair in told.items():
        assert pair.doubtful
        assert pair.worst == 0.25
        assert [(s.tag, s.share) for s in pair.worst_shared] == [(tag, 0.25)]
    assert {pair.inbreeding for pair in told.values()} == {0.125}  # either bull, one chance in two


def test_a_pair_is_explained_by_paths_and_in_words(empty: Herd) -> None:
    """Half sibs by Cheviot whose dams are half sisters by Dee: 1/8 and 1/32 (Lynch and Walsh 1998, 7.1)."""
    h = empty
    h.add("B1", "M", date(2010, 3, 1), name="Dee")
    h.add("B2", "M", date(2010, 3, 1), name="Ythan")
    for tag in ("1", "2"):
        h.add(tag, "F", date(2013, 3, 1), sire=h.id["B1"])
    h.add("3", "F", date(2016, 3, 1), dam=h.id["1"], sire=h.id["B2"])
    h.add("4", "M", date(2016, 3, 1), dam=h.id["2"], sire=h.id["B2"])
    with h.book.read() as conn:
        told = explain(conn, h.id["3"], h.id["4"])
        back = explain(conn, h.id["4"], h.id["3"])
        with pytest.raises(Refused, match="two different"):
            explain(conn, h.id["3"], h.id["3"])
    assert (told.held, told.expected, told.worst) == (0.15625, 0.15625, 0.15625)
    assert told.relationship == (
        "Half brother and sister through Ythan (12.5 %); also half first cousins through Dee (3.1 %): 15.6 %"
    )
    assert back.relationship == told.relationship
    assert [(each.ancestor.tag, each.share, each.more, each.rest) for each in told.through] == [
        ("B2", 0.125, 0, 0.0),
        ("B1", 0.03125, 0, 0.0),
    ]
    lines = [
        [[one.tag for one in line] for line in (path.one, path.other)]
        for each in told.through
        for path in each.paths
    ]
    assert lines == [[["3", "B2"], ["4", "B2"]], [["3", "1", "B1"], ["4", "2", "B1"]]]
    assert [(known.maximum, known.complete, known.equivalent) for known in told.known] == [(2, 1, 1.25)] * 2
    assert told.assumed == ()


def test_an_animals_own_parents_are_told_in_words(empty: Herd) -> None:
    _half_sibs(empty)
    empty.add("Kent", "F", date(2022, 3, 1), dam=empty.id["Eden"], sire=empty.id["Pentland"])
    with empty.book.read() as conn:
        told = {tag: kin_of_parents(conn, empty.id[tag]).relationship for tag in ("Kent", "Eden", "Nith")}
    assert told == {"Kent": "Half brother and sister through Cheviot: 12.5 %", "Eden": "", "Nith": ""}


def test_the_worst_case_says_which_sire_it_takes(empty: Herd) -> None:
    h = empty
    for tag in ("Cheviot", "Pentland"):
        h.add(tag, "M", date(2018, 3, 1))
    h.add("Eden", "F", date(2018, 3, 1))
    h.do(TurnIn((h.id["Cheviot"], h.id["Pentland"]), (h.id["Eden"],), date(2022, 6, 1), date(2022, 8, 2)))
    h.calve("Eden", date(2023, 4, 1), "Kent")
    with h.book.read() as conn:
        told = [explain(conn, h.id["Kent"], h.id[tag]) for tag in ("Cheviot", "Pentland")]
    for pair, tag in zip(told, ("Cheviot", "Pentland"), strict=True):
        assert pair.worst == 0.25
        assert pair.relationship == "Sire and daughter: 25 %"
        assert [(a.animal.tag, a.sire.tag, a.chance) for a in pair.assumed] == [("Kent", tag, 0.5)]


def test_zero_from_nothing_known_says_so(empty: Herd) -> None:
    empty.add("Lune", "F", date(2018, 3, 1))
    empty.add("Ochil", "M", date(2018, 3, 1))
    with empty.book.read() as conn:
        told = kin(conn, empty.id["Lune"], empty.id["Ochil"])
    assert (told.inbreeding, told.known_dam, told.known_sire) == (0.0, 0.0, 0.0)


def test_the_list_holds_every_animal(empty: Herd) -> None:
    _half_sibs(empty)
    empty.add("Kent", "F", date(2022, 3, 1), dam=empty.id["Eden"], sire=empty.id["Pentland"])
    with empty.book.read() as conn:
        rows = {row.tag: row for row in inbreeding_list(conn)}
    assert rows["Kent"].inbreeding == 0.125
    assert rows["Kent"].known_generations == 2.0
    assert rows["Nith"].inbreeding == 0.0


def test_a_loop_is_named_and_taken_apart(empty: Herd) -> None:
    empty.add("Eden", "F", date(2018, 3, 1))
    empty.add("Kent", "F", date(2020, 3, 1), dam=empty.id["Eden"])
    with empty.book.act("damage") as work:
        work.session.execute(update(Animal).where(Animal.tag == "Eden").values(dam_id=empty.id["Kent"]))
    with empty.book.read() as conn:
        pedigree = load_pedigree(conn)
    assert [sorted(loop) for loop in pedigree.loops] == [sorted([empty.id["Eden"], empty.id["Kent"]])]
    assert pedigree.inbreeding.tolist() == [0.0, 0.0]


def test_what_descends_from_a_loop_is_never_shown_as_known(empty: Herd) -> None:
    """The figures are worked out from what is left, and every one of them says so."""
    empty.add("Eden", "F", date(2018, 3, 1))
    empty.add("Kent", "F", date(2020, 3, 1), dam=empty.id["Eden"])
    empty.add("Lune", "F", date(2022, 3, 1), dam=empty.id["Kent"])
    empty.add("Nith", "F", date(2022, 3, 1))
    empty.add("Ochil", "M", date(2022, 3, 1), dam=empty.id["Nith"])
    with empty.book.act("damage") as work:
        work.session.execute(update(Animal).where(Animal.tag == "Eden").values(dam_id=empty.id["Kent"]))
    calf = empty.add("Tamar", "F", date(2024, 4, 1), dam=empty.id["Nith"], sire=empty.id["Ochil"])
    with empty.book.read() as conn:
        pedigree = load_pedigree(conn)
        rows = {row.tag: row.depth.trust for row in inbreeding_list(conn)}
    assert {tag for tag, trust in rows.items() if trust is Trust.FAULT} == {"Eden", "Kent", "Lune"}
    assert pedigree.trust(empty.id["Lune"], empty.id["Ochil"]) is Trust.FAULT
    assert not pedigree.depth(calf).fault


def test_dna_settles_and_an_excluded_bull_is_out(empty: Herd) -> None:
    from herdbook.services.commands.animals import NameParent
    from herdbook.services.commands.running import TurnIn

    h = empty
    for tag in ("Cheviot", "Pentland"):
        h.add(tag, "M", date(2020, 3, 1))
    h.add("Eden", "F", date(2018, 3, 1))
    h.do(TurnIn((h.id["Cheviot"], h.id["Pentland"]), (h.id["Eden"],), date(2025, 6, 1), date(2025, 8, 2)))
    calf = h.calve("Eden", date(2026, 4, 1), "Kent")
    with h.book.read() as conn:
        both = sires_of(conn, calf)
    assert {(s.chance, s.basis) for s in both} == {(0.5, "together")}
    h.do(NameParent(calf, h.id["Cheviot"], kind="excluded"))
    with h.book.read() as conn:
        assert [(s.sire, s.chance) for s in sires_of(conn, calf)] == [(h.id["Pentland"], 1.0)]
    h.do(NameParent(calf, h.id["Pentland"], kind="dna"))
    with h.book.read() as conn:
        assert [(s.sire, s.basis) for s in sires_of(conn, calf)] == [(h.id["Pentland"], "dna")]


def test_two_bulls_one_after_the_other_are_both_told_with_their_chances(empty: Herd) -> None:
    """A 1 May to 1 Jun, B 2 Jun to 15 Jul; born 25 Feb: A nearly sure, B told of and not held against her.

    The published answer, all days counted alike, is 98 % and 2 % (trade press, "Which bull sired that calf").
    """
    from herdbook.services.commands.running import TurnIn

    h = empty
    for tag in ("A", "B"):
        h.add(tag, "M", date(2022, 3, 1))
    h.add("Eden", "F", date(2018, 3, 1), calved_before=True)
    h.do(TurnIn((h.id["A"],), (h.id["Eden"],), date(2026, 5, 1), date(2026, 6, 1)))
    h.do(TurnIn((h.id["B"],), (h.id["Eden"],), date(2026, 6, 2), date(2026, 7, 15)))
    calf = h.calve("Eden", date(2027, 2, 25), "Kent")
    with h.book.read() as conn:
        chances = {s.sire: s.chance for s in sires_of(conn, calf)}
        worst = load_pedigree(conn).calves([calf], [h.id["B"]])
    assert chances[h.id["A"]] > 0.97
    assert 0.001 < chances[h.id["B"]] < 0.03
    assert worst[0, 0] == 0.0


def _later_bull(h: Herd, calf: int) -> float:
    """Return the chance of the bull L, who served after A."""
    with h.book.read() as conn:
        return next(s.chance for s in sires_of(conn, calf) if s.sire == h.id["L"])


def test_breeds_weigh_in_sires_by_dates_unless_the_book_has_its_own_days(empty: Herd) -> None:
    """Born 293 days after A's service and 272 after L's, three weeks on.

    Angus 281 and Limousin 289 days: University of Nevada Cooperative Extension; 285 for their cross. The
    Angus cow's calf is 12 days late by A or 13 early by L, the Limousin's 8 late or 17 early. With a spread
    of 6 days the normal law sets their odds apart by exp((17^2 - 8^2 - 13^2 + 12^2) / 72); by one figure for
    all breeds the two cows cannot differ.
    """
    h = empty
    h.add("A", "M", date(2020, 3, 1), breed="Angus")
    h.add("L", "M", date(2020, 3, 1), breed="Limousin")
    calves = {}
    for dam, breed in (("Eden", "Angus"), ("Lune", "Limousin")):
        h.add(dam, "F", date(2018, 3, 1), breed=breed, calved_before=True)
        h.do(Serve(h.id[dam], date(2025, 6, 1), h.id["A"], "ai"))
        h.do(Serve(h.id[dam], date(2025, 6, 22), h.id["L"], "ai"))
        calves[dam] = h.calve(dam, date(2026, 3, 21), f"{dam} 1")
    chances = [_later_bull(h, calf) for calf in calves.values()]
    odds = [chance / (1 - chance) for chance in chances]
    assert odds[0] / odds[1] == pytest.approx(math.exp(200 / 72), rel=0.02)
    h.do(ChangeSettings((("gestation_days", 283),)))
    alike = [_later_bull(h, calf) for calf in calves.values()]
    assert alike[0] == alike[1]


def test_an_embryos_age_is_counted_off_before_sires_are_told_by_dates(empty: Herd) -> None:
    h = empty
    for tag in ("A", "L"):
        h.add(tag, "M", date(2020, 3, 1))
    calves = []
    for dam, day, how, age in (
        ("Eden", date(2025, 6, 22), "ai", None),
        ("Lune", date(2025, 6, 29), "embryo", 7),
    ):
        h.add(dam, "F", date(2018, 3, 1), calved_before=True)
        h.do(Serve(h.id[dam], date(2025, 6, 1), h.id["A"], "ai"))
        h.do(Serve(h.id[dam], day, h.id["L"], how, embryo_days=age))
        calves.append(h.calve(dam, date(2026, 3, 23), f"{dam} 1"))
    chances = [_later_bull(h, calf) for calf in calves]
    assert 0.1 < chances[0] == chances[1] < 0.99
