"""Horns and colour of the calves of two animals of a book."""

from __future__ import annotations

from datetime import date

import pytest

from herdbook.services.commands.animals import ChangeAnimal, NameParent
from herdbook.services.commands.genetics import TestGenes
from herdbook.services.genewords import mating_trait_words, own_trait_words
from herdbook.services.pedigree import load_pedigree
from herdbook.services.queries.traits import MatingTrait, OwnTrait, mating_traits, own_traits
from tests.services.conftest import ON, Herd


def look(herd: Herd, tag: str, sex: str, colour: str, horns: str, dam: str | None = None) -> None:
    """Write an animal's looks; its dam is said again, since what is not said is taken off."""
    herd.do(
        ChangeAnimal(herd.id[tag], sex=sex, colour=colour, horns=horns, dam=herd.id[dam] if dam else None)
    )


def traits(herd: Herd, dam: str, sire: str) -> dict[str, MatingTrait]:
    """Return what a mating can give, by trait."""
    with herd.book.read() as conn:
        pedigree = load_pedigree(conn)
        return {m.key: m for m in mating_traits(conn, pedigree, herd.id[dam], herd.id[sire], ON)}


def chances(trait: MatingTrait) -> dict[str, float]:
    """Return the chance of each look."""
    return {each.look: each.chance for each in trait.looks}


@pytest.fixture
def pair(empty: Herd) -> Herd:
    """Return a black polled bull and a red horned cow."""
    h = empty
    h.add("Cheviot", "M", date(2019, 3, 1))
    h.add("Lune", "F", date(2019, 3, 1))
    look(h, "Cheviot", "M", "black", "polled")
    look(h, "Lune", "F", "red", "horned")
    return h


def test_looks_leave_open_what_a_test_settles(pair: Herd) -> None:
    """An untested polled black bull may carry horns and red; tested clean he gives neither."""
    open_ = traits(pair, "Lune", "Cheviot")
    assert chances(open_["polled"]) == pytest.approx({"polled": 2 / 3, "horned": 1 / 3})  # PP or Pp, 1 : 2
    for trait, result in (("polled", "PP"), ("extension", "ED/ED")):
        pair.do(TestGenes(pair.id["Cheviot"], date(2026, 1, 1), trait, result))
    sure = traits(pair, "Lune", "Cheviot")
    assert chances(sure["polled"]) == pytest.approx({"polled": 1.0})
    assert chances(sure["extension"]) == pytest.approx({"black": 1.0})
    assert chances(sure["roan"]) == pytest.approx({"solid": 1.0})


def test_a_horned_calf_tells_of_its_sire(pair: Herd) -> None:
    """One horned calf, and he is Pp: half of the calves of a horned cow are horned."""
    pair.add("26/1", "F", date(2026, 2, 1), dam=pair.id["Lune"], sire=pair.id["Cheviot"])
    look(pair, "26/1", "F", "black", "horned", "Lune")
    found = traits(pair, "Lune", "Cheviot")
    assert chances(found["polled"]) == pytest.approx({"polled": 0.5, "horned": 0.5})


def test_the_family_behind_a_parent_counts(pair: Herd) -> None:
    """A black cow out of a red one carries red: with a carrier bull one calf in four is red."""
    pair.add("Kent", "F", date(2022, 3, 1), dam=pair.id["Lune"])
    look(pair, "Kent", "F", "black", "polled", "Lune")
    pair.do(TestGenes(pair.id["Cheviot"], date(2026, 1, 1), "extension", "ED/e"))
    assert chances(traits(pair, "Kent", "Cheviot")["extension"]) == pytest.approx(
        {"black": 0.75, "red": 0.25}
    )


def test_what_is_not_written_down_is_not_known(pair: Herd) -> None:
    pair.add("Mere", "F", date(2020, 3, 1))
    found = traits(pair, "Mere", "Cheviot")
    assert found["polled"].looks == ()
    assert found["polled"].why_not == "not known of the dam"
    assert "Scurs" in found["polled"].hint
    pair.add("Pentland", "M", date(2020, 3, 1))
    assert traits(pair, "Lune", "Pentland")["polled"].why_not == "not known of the sire"
    assert traits(pair, "Mere", "Pentland")["polled"].why_not == "not known of either parent"


def test_looks_that_contradict_say_so(pair: Herd) -> None:
    """A polled calf of two horned animals."""
    pair.add("Pentland", "M", date(2020, 3, 1))
    look(pair, "Pentland", "M", "red", "horned")
    pair.add("26/1", "F", date(2026, 2, 1), dam=pair.id["Lune"])
    look(pair, "26/1", "F", "red", "polled", "Lune")
    pair.do(NameParent(pair.id["26/1"], pair.id["Pentland"], "sire", "word"))
    found = traits(pair, "Lune", "Pentland")
    assert found["polled"].looks == ()
    assert "cannot all be true" in found["polled"].why_not
    assert chances(found["extension"]) == pytest.approx({"red": 1.0})


def test_what_an_animal_carries_itself(pair: Herd) -> None:
    """A polled bull with a horned calf is Pp for certain; before it he is PP or Pp, one to two."""

    def own(tag: str) -> dict[str, OwnTrait]:
        with pair.book.read() as conn:
            return {o.key: o for o in own_traits(conn, load_pedigree(conn), pair.id[tag], ON)}

    before = own("Cheviot")
    assert dict(before["polled"].genotypes) == pytest.approx({"Pp": 2 / 3, "PP": 1 / 3})
    assert own_trait_words(before["polled"]).startswith("Pp 66.7")
    pair.add("26/1", "F", date(2026, 2, 1), dam=pair.id["Lune"], sire=pair.id["Cheviot"])
    look(pair, "26/1", "F", "black", "horned", "Lune")
    assert own("Cheviot")["polled"].sure
    assert own_trait_words(own("Cheviot")["polled"]) == "Pp"
    pair.add("Mere", "F", date(2020, 3, 1))
    assert own("Mere") == {}


def test_the_words_of_a_mating(pair: Herd) -> None:
    found = traits(pair, "Lune", "Cheviot")
    words = mating_trait_words(found["polled"])
    assert words.startswith("Polled or horned: polled 66.7")
    assert words.endswith("a polled calf may have them.")
    pair.add("Mere", "F", date(2020, 3, 1))
    words = mating_trait_words(traits(pair, "Mere", "Cheviot")["roan"])
    assert words == "Roan (KITLG): not known of the dam."
