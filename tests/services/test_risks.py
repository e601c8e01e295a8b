"""What matings can give of heritable conditions, from results in a book."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from herdbook.husbandry.carriers import Carriers
from herdbook.husbandry.conditions import STARTING_LIST
from herdbook.husbandry.elimination import Elimination
from herdbook.husbandry.inheritance import summable
from herdbook.services.commands.animals import NameParent
from herdbook.services.commands.genetics import SeeCondition, SetCondition, TestGenes
from herdbook.services.commands.happenings import Serve
from herdbook.services.genewords import carrier_words
from herdbook.services.pedigree import load_pedigree
from herdbook.services.queries.animal import card
from herdbook.services.queries.conditions import condition_choices, load_conditions
from herdbook.services.queries.risks import MatingRisk, RiskTable, carrier_chances, mating_risks, risk_table
from herdbook.services.registry import Refused
from tests.services.conftest import ON, Herd

DAY = date(2026, 1, 10)


@pytest.fixture
def line(empty: Herd) -> Herd:
    """Two bulls; Tarn's dam is free and her sire is Cheviot; Mere's parents are not known."""
    h = empty
    h.add("Cheviot", "M", date(2019, 3, 1))
    h.add("Pentland", "M", date(2019, 3, 1))
    h.add("Esk", "F", date(2017, 3, 1))
    h.add("Tarn", "F", date(2021, 3, 1), dam=h.id["Esk"], sire=h.id["Cheviot"])
    h.add("Mere", "F", date(2020, 3, 1))
    return h


def risks(herd: Herd, dam: str, sire: str, on: date = ON) -> tuple[MatingRisk, ...]:
    """Return the risks of one mating."""
    with herd.book.read() as conn:
        return mating_risks(conn, load_pedigree(conn), herd.id[dam], herd.id[sire], on)


def result(herd: Herd, tag: str, genotype: str, condition: str = "am", day: date = DAY) -> None:
    """Write down a test."""
    herd.do(TestGenes(herd.id[tag], day, condition, genotype, "North laboratory", "N 12"))


def table(herd: Herd, females: list[str], bulls: list[str]) -> RiskTable:
    """Return the table of some females and bulls."""
    with herd.book.read() as conn:
        dams, sires = [herd.id[tag] for tag in females], [herd.id[tag] for tag in bulls]
        return risk_table(conn, load_pedigree(conn), dams, sires, ON)


def test_nothing_tested_says_nothing(line: Herd) -> None:
    """A condition of which the book holds no result is no news at any mating."""
    assert risks(line, "Tarn", "Cheviot") == ()


def test_a_carrier_on_his_daughter(line: Herd) -> None:
    """One in eight: the rule of seven eighths (derived), marked, and told in words."""
    result(line, "Cheviot", "carrier")
    result(line, "Esk", "free")
    (risk,) = risks(line, "Tarn", "Cheviot")
    assert (risk.affected, risk.carrier, risk.clear) == pytest.approx((1 / 8, 1 / 2, 3 / 8), abs=1e-12)
    assert risk.marked
    assert risk.exact
    assert str(risk.reason).startswith("12.5% of an affected calf: Arthrogryposis")
    (other,) = risks(line, "Tarn", "Pentland")
    assert other.affected == pytest.approx(0.5 * 0.5 * 0.01, abs=1e-12)
    assert other.marked
    (free,) = risks(line, "Esk", "Pentland")
    assert free.affected == 0
    assert not free.marked


def test_results_of_later_days_are_not_known_yet(line: Herd) -> None:
    result(line, "Cheviot", "carrier")
    assert risks(line, "Tarn", "Cheviot", on=date(2026, 1, 9)) == ()


def test_unrelated_untested_stock_is_not_marked(line: Herd) -> None:
    """The frequency in unknown stock alone marks no mating."""
    result(line, "Cheviot", "carrier")
    (risk,) = risks(line, "Mere", "Pentland")
    assert risk.affected == pytest.approx(0.01**2, rel=1e-9)
    assert not risk.marked


def test_an_affected_calf_makes_carriers_of_its_parents(line: Herd) -> None:
    """An affected calf, though dead, proves both parents carriers; a normal one proves less."""
    line.calve("Mere", date(2026, 2, 1), "26/1", kg=None)
    line.do(NameParent(line.id["26/1"], line.id["Pentland"], "sire", "dna"))
    line.do(SeeCondition(line.id["26/1"], date(2026, 2, 1), "AM", "looks_affected", "the vet"))
    (risk,) = risks(line, "Mere", "Pentland")
    # Parents of an affected calf are carriers, or rarely affected themselves.
    assert risk.affected == pytest.approx(((1 + 0.01) / 2) ** 2, abs=1e-12)
    words = [h.words for h in line.ask(card, line.id["26/1"]).happenings]
    assert any(w.endswith("(curly calf, AM): affected, the vet") for w in words)


def test_normal_calves_lower_her_chance(line: Herd) -> None:
    """After three normal calves by a carrier, a carrier's daughter: 27 in 91 (derived)."""
    result(line, "Cheviot", "carrier")
    result(line, "Esk", "free")
    result(line, "Pentland", "carrier")
    for n in range(3):
        line.add(f"calf {n}", "F", date(2023 + n, 3, 1), dam=line.id["Tarn"], sire=line.id["Pentland"])
        line.do(SeeCondition(line.id[f"calf {n}"], DAY, "am", "looks_normal"))
    with line.book.read() as conn:
        (chance,), clashes = carrier_chances(conn, load_pedigree(conn), line.id["Tarn"], ON)
    assert clashes == ()
    assert chance.carrier == pytest.approx(27 / 91, abs=1e-12)
    assert not chance.tested


def test_doubtful_sires_enter_with_their_chances(herd: Herd) -> None:
    """A calf of a cow that ran with two bulls: the mean over them."""
    result(herd, "B1", "carrier")
    result(herd, "B2", "free")
    result(herd, "7", "free")
    with herd.book.read() as conn:
        pedigree = load_pedigree(conn)
        sires = {s.sire: s.chance for s in pedigree.sires[herd.id["26/1"]]}
        (chance,), _ = carrier_chances(conn, pedigree, herd.id["26/1"], ON)
    assert chance.carrier == pytest.approx(sires.get(herd.id["B1"], 0) / 2, abs=1e-9)


def test_contradicting_results_are_named_and_nothing_is_said(line: Herd) -> None:
    """Both parents free and the calf a carrier: no figure, but a sentence with the animals."""
    for tag, genotype in (("Cheviot", "free"), ("Esk", "free"), ("Tarn", "carrier"), ("Mere", "carrier")):
        result(line, tag, genotype)
    found = table(line, ["Tarn", "Mere"], ["Pentland"])
    assert found.conditions == ()
    (clash,) = found.clashes
    assert "Tarn" in str(clash)
    assert "Mere" not in str(clash)
    assert "cannot all be true" in str(clash)


def test_a_table_says_what_single_matings_say(line: Herd) -> None:
    """Marks over all pairs at once, and each pair as asked alone."""
    result(line, "Cheviot", "carrier")
    result(line, "Esk", "free")
    result(line, "Mere", "carrier", "dd")
    females, bulls = ["Tarn", "Esk", "Mere"], ["Cheviot", "Pentland"]
    found = table(line, females, bulls)
    for f, dam in enumerate(females):
        for b, sire in enumerate(bulls):
            alone = risks(line, dam, sire)
            assert [r.key for r in found.at(f, b)] == [r.key for r in alone]
            for one, other in zip(found.at(f, b), alone, strict=True):
                assert one.affected == pytest.approx(other.affected, abs=1e-12)
            assert found.any_marked()[f, b] == any(risk.marked for risk in alone)
    assert found.any_marked().dtype == np.bool_


def test_dominant_and_half_shown_conditions(line: Herd) -> None:
    """One copy affects where it is dominant; of the duplications half of the affected look normal."""
    line.do(SetCondition("Curl", "dominant", frequency=0.02))
    result(line, "Cheviot", "carrier", "curl")
    result(line, "Mere", "free", "curl")
    result(line, "Cheviot", "carrier", "dd")
    result(line, "Mere", "carrier", "dd")
    by_key = {risk.key: risk for risk in risks(line, "Mere", "Cheviot")}
    assert (by_key["curl"].affected, by_key["curl"].carrier) == pytest.approx((0.5, 0.0))
    assert (by_key["dd"].affected, by_key["dd"].showing) == pytest.approx((0.25, 0.125))


def test_the_starting_list_and_its_changes(line: Herd) -> None:
    """Every fact has its status; a keeper changes a frequency, hides one, adds one, and takes it back."""
    assert len(STARTING_LIST) == 13
    assert all(c.mode_status for c in STARTING_LIST)
    assert all(c.omia_status for c in STARTING_LIST)
    assert all(c.omia.endswith("-9913") for c in STARTING_LIST if c.omia)
    line.do(SetCondition("Curly calf", frequency=0.03, omia="002135-9913", key="am"))
    line.do(SetCondition("Tibial hemimelia", watched=False, key="th"))
    line.do(SetCondition("Short tail", "dominant"))
    with line.book.read() as conn:
        now = {c.key: c for c in load_conditions(conn)}
        offered = dict(condition_choices(conn))
    assert now["am"].frequency == 0.03
    assert now["am"].omia_status == "seen on OMIA page"
    assert now["am"].answers_to("AM")
    assert now["short tail"].mode == "dominant"
    assert "th" not in offered
    assert offered["polled"] == "Polled or horned"
    with pytest.raises(Refused, match="in the list already"):
        line.do(SetCondition("short TAIL"))
    with pytest.raises(Refused, match="between 0 and 100"):
        line.do(SetCondition("None", frequency=0.0))
    line.book.undo()
    with line.book.read() as conn:
        assert "short tail" not in {c.key for c in load_conditions(conn)}


def test_a_condition_not_watched_judges_no_mating(line: Herd) -> None:
    result(line, "Cheviot", "carrier")
    line.do(SetCondition("Curly calf", watched=False, key="am"))
    assert risks(line, "Tarn", "Cheviot") == ()


def test_a_served_cow_has_nothing_to_do_with_it(line: Herd) -> None:
    """A service is no evidence."""
    line.do(Serve(line.id["Mere"], DAY, line.id["Pentland"]))
    assert risks(line, "Mere", "Pentland") == ()


def test_an_entangled_pedigree_says_at_least_and_at_most(line: Herd, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where tables may not grow, the chances rest on part of the results, and the rest is told as bounds."""
    result(line, "Cheviot", "carrier")
    line.add("Kent", "F", date(2024, 3, 1), dam=line.id["Tarn"], sire=line.id["Pentland"])
    line.add("Nith", "F", date(2024, 3, 1), dam=line.id["Mere"], sire=line.id["Pentland"])
    line.add("Wye", "F", date(2026, 3, 1), dam=line.id["Kent"], sire=line.id["Pentland"])
    for tag in ("Nith", "Wye"):
        line.do(SeeCondition(line.id[tag], DAY, "am", "looks_normal"))
    (whole,) = risks(line, "Tarn", "Cheviot")
    monkeypatch.setattr(Carriers.__init__, "__defaults__", (9,))
    monkeypatch.setattr(summable, "__defaults__", (9,))
    monkeypatch.setattr(Elimination.bounds, "__defaults__", (3,))
    (risk,) = risks(line, "Tarn", "Cheviot")
    assert not risk.exact
    assert risk.used < risk.results == 3
    assert risk.least <= whole.affected <= risk.most
    assert risk.least < risk.most
    words = str(risk.reason)
    assert f"by {risk.used} of 3 results" in words
    assert "Not computable exactly from all: at least" in words
    with line.book.read() as conn:
        (chance,), _ = carrier_chances(conn, load_pedigree(conn), line.id["Tarn"], ON)
    assert not chance.exact
    assert "results: not computable from all" in carrier_words(chance)
