"""What is asked before a service, a bull run or a test is saved."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from herdbook.services.commands.genetics import SeeCondition, TestGenes
from herdbook.services.commands.happenings import Serve
from herdbook.services.commands.running import TurnIn
from herdbook.services.doubts import doubts
from tests.services.conftest import Herd

DAY = date(2026, 2, 1)


@pytest.fixture
def herd(empty: Herd) -> Herd:
    """Return a tested carrier bull and five cows, of whom Tarn and Mere are carriers too."""
    h = empty
    h.add("Cheviot", "M", date(2019, 3, 1))
    for tag in ("Tarn", "Mere", "Esk", "Lune", "Nith"):
        h.add(tag, "F", date(2019, 3, 1))
    for tag in ("Cheviot", "Tarn", "Mere"):
        h.do(TestGenes(h.id[tag], date(2026, 1, 1), "am", "carrier"))
    return h


def asked(herd: Herd, command: Any) -> dict[str, str]:
    """Return what is asked, by code."""
    return {reason.code: str(reason) for reason in herd.ask(doubts, command)}


def test_a_service_that_can_give_an_affected_calf(herd: Herd) -> None:
    found = asked(herd, Serve(herd.id["Tarn"], DAY, herd.id["Cheviot"]))
    assert found["affected_calf"].startswith("Tarn by Cheviot: 25.0% of an affected calf, Arthrogryposis")
    assert found["affected_calf"].endswith("ask your vet")


def test_of_an_embryo_the_donor_counts(herd: Herd) -> None:
    """Who carries the calf gives it no gene."""
    bull, carrier = herd.id["Cheviot"], herd.id["Tarn"]
    put_in = Serve(carrier, DAY, bull, "embryo", donor=herd.id["Esk"], embryo_days=7)
    assert "0.5%" in asked(herd, put_in)["affected_calf"]
    assert "affected_calf" not in asked(herd, Serve(carrier, DAY, bull, "embryo", embryo_days=7))


def test_a_bull_run_names_the_worst_and_counts_the_rest(herd: Herd) -> None:
    """Two carriers first; the untested cows behind them, of whom one is only counted."""
    females = tuple(herd.id[tag] for tag in ("Esk", "Lune", "Nith", "Tarn", "Mere"))
    told = [str(r) for r in herd.ask(doubts, TurnIn((herd.id["Cheviot"],), females, DAY))]
    risks = [words for words in told if "affected calf" in words or "more pairs" in words]
    assert ["25.0%" in words for words in risks] == [True, True, False, False, False]
    assert risks[-1] == "more pairs that can give one: 1"


def test_nothing_is_asked_of_an_untested_herd(empty: Herd) -> None:
    empty.add("Cheviot", "M", date(2019, 3, 1))
    empty.add("Tarn", "F", date(2019, 3, 1))
    assert asked(empty, Serve(empty.id["Tarn"], DAY, empty.id["Cheviot"])) == {}


@pytest.mark.parametrize(
    ("condition", "genotype", "code"),
    [
        ("am", "free", None),
        ("AM", "unknown", None),
        ("am", "Pp", "result_of_another"),
        ("polled", "Pp", None),
        ("polled", "free", "result_of_another"),
        ("extension", "e/e", None),
        ("crooked tail", "free", "condition_unknown"),
    ],
)
def test_a_result_must_be_of_the_gene(herd: Herd, condition: str, genotype: str, code: str | None) -> None:
    found = asked(herd, TestGenes(herd.id["Esk"], DAY, condition, genotype))
    assert set(found) == ({code} if code else set())


def test_a_result_against_what_is_known_is_asked_about(herd: Herd) -> None:
    """A second, different result; and a calf of two parents that cannot have it."""
    found = asked(herd, TestGenes(herd.id["Tarn"], DAY, "am", "free"))
    assert "Tarn cannot all be true" in found["results_clash"]
    herd.do(TestGenes(herd.id["Esk"], DAY, "am", "free"))
    herd.add("Kent", "F", date(2025, 3, 1), dam=herd.id["Esk"], sire=herd.id["Cheviot"])
    assert "Esk" in asked(herd, SeeCondition(herd.id["Kent"], DAY, "am", "looks_affected"))["results_clash"]
    assert asked(herd, SeeCondition(herd.id["Kent"], DAY, "am", "looks_normal")) == {}


def test_one_copy_of_a_recessive_is_not_seen(herd: Herd) -> None:
    found = asked(herd, SeeCondition(herd.id["Esk"], DAY, "am", "looks_carrier"))
    assert "is not seen on an animal" in found["result_of_another"]
    assert asked(herd, SeeCondition(herd.id["Esk"], DAY, "acan", "looks_carrier")) == {}
