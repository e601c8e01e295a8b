"""How long the risks of 2,000 females by 60 bulls take with 40 tests of one condition in the book.

Wanted: seconds at most. Tests of bulls are the usual case; of cows the pedigree may be too entangled for all
of them, and the time then includes finding how many can be summed exactly.
"""

from __future__ import annotations

import random
import shutil
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import Connection

from herdbook.services.book import Book
from herdbook.services.commands.genetics import TestGenes
from herdbook.services.commands.happenings import RecordRound
from herdbook.services.facts import load_herd
from herdbook.services.pedigree import Pedigree, load_pedigree
from herdbook.services.queries.risks import RiskTable, mating_risks, risk_table
from tests.bench.herds import ON, SORTED, Kept

pytestmark = pytest.mark.bench
WANTED_SECONDS = 5.0
TESTS = 40
Say = Callable[[str], None]


@pytest.mark.parametrize("tested", ["bulls", "cows", "both"])
def test_risks_of_2000_by_60(herd_of: Kept, tmp_path: Path, say_figures: Say, tested: str) -> None:
    """Write the tests into a copy, then ask for the whole table and for one mating."""
    path = tmp_path / "sorted.herdbook"
    shutil.copyfile(herd_of(SORTED), path)
    with Book.open(path) as book:
        with book.read() as conn:
            herd = load_herd(conn, ON)
            pedigree = load_pedigree(conn)
        females = [f.id for f in herd.values() if f.sex == "F"][:2000]
        males = [f for f in herd.values() if f.sex == "M" and f.castrated is None and f.born]
        bulls = [f.id for f in sorted(males, key=lambda f: f.born or ON)[:60]]
        sires = sorted({pedigree.ids[row] for row in pedigree.sire.tolist() if row >= 0})
        pool = {"bulls": sires, "cows": females, "both": [*sires, *females]}[tested]
        dice = random.Random(4)
        chosen = dice.sample(pool, TESTS)
        # A tenth are carriers.
        carriers = set(chosen[: TESTS // 10])
        results = tuple(
            TestGenes(animal, ON, "am", "carrier" if animal in carriers else "free") for animal in chosen
        )
        book.do(RecordRound(ON, "gene tests", results))
        with book.read() as conn:
            began = time.perf_counter()
            table = risk_table(conn, pedigree, females, bulls, ON)
            seconds = time.perf_counter() - began
            one = _one(conn, pedigree, females[0], bulls[0])
    _tell(say_figures, tested, len(pedigree.ids), table, seconds, one)
    assert seconds < WANTED_SECONDS


def _one(conn: Connection, pedigree: Pedigree, dam: int, sire: int) -> float:
    began = time.perf_counter()
    mating_risks(conn, pedigree, dam, sire, ON)
    return time.perf_counter() - began


def _tell(say_figures: Say, tested: str, animals: int, table: RiskTable, seconds: float, one: float) -> None:
    words = "the results contradict each other" if table.clashes else ""
    if table.conditions:
        risk = table.at(0, 0)[0]
        words = f"{table.any_marked().sum()} marked, {risk.used} of {risk.results} results used"
    say_figures(
        f"risks of {len(table.females)} x {len(table.bulls)}, {animals} in the book, {TESTS} {tested} "
        f"tested: {seconds:.2f} s; one mating {1000 * one:.0f} ms; {words}"
    )
