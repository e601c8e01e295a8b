"""Inbreeding and kinship read from a book: the calf of a pair, the shared ancestors, loops taken apart."""

from __future__ import annotations

from datetime import date

from sqlalchemy import update

from herdbook.services.commands.running import TurnIn
from herdbook.services.pedigree import load_pedigree, sires_of
from herdbook.services.queries.kin import inbreeding_list, kin
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
    assert {pair.inbreeding for pair in told.values()} == {0.25, 0.0}


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
