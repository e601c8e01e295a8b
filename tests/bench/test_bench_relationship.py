"""How long it takes to tell how two animals are related: the shared ancestors, the paths, the words.

In an old closed herd two animals share thousands of ancestors through more paths than can be listed: the work
stays bounded (`MOST_STEPS`), and what is not listed is told as a share. Wanted: within 0.3 s, above which
the window would have to show progress.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from herdbook.husbandry.kinship import inbreeding, shared_ancestors
from herdbook.husbandry.relationship import Relationship, relationship
from herdbook.services.book import Book
from herdbook.services.pedigree import load_pedigree
from herdbook.services.queries.kin import Explained, explain
from tests.bench.herds import SMALL, Kept
from tests.oracle.pedigrees import herd

pytestmark = pytest.mark.bench

CROPS = (5, 10, 20, 60)
ANIMALS = 10_000


@cache
def known(crops: int) -> tuple[Any, Any, Any]:
    """Return the links of a herd of so many yearly crops, and its inbreeding."""
    sire, dam = herd(ANIMALS, crops)
    return sire, dam, inbreeding(sire, dam)


def last_two(crops: int) -> Relationship:
    """Return how the two youngest animals are related."""
    return relationship(*known(crops), ANIMALS - 2, ANIMALS - 1)


@pytest.mark.parametrize("crops", CROPS)
def test_relationship(benchmark: BenchmarkFixture, crops: int) -> None:
    """From few generations to sixty crops; the shares are whole however many paths there are."""
    known(crops)
    told = benchmark(last_two, crops)
    shares = sum(part.share for part in shared_ancestors(*known(crops), ANIMALS - 2, ANIMALS - 1))
    assert told.coancestry == pytest.approx(shares, abs=1e-12)
    benchmark.extra_info["ancestors"] = len(told.through)
    benchmark.extra_info["paths"] = sum(len(each.paths) for each in told.through)


def test_what_is_not_listed_is_told(say_figures: Callable[[str], None]) -> None:
    """In an old herd the listing stops; how many paths there are besides, and what they bring, is told."""
    told = last_two(CROPS[-1])
    listed = sum(len(each.paths) for each in told.through)
    more = sum(each.more or 0 for each in told.through)
    say_figures(f"{len(told.through)} shared ancestors, {listed} paths listed, {more:.3g} counted besides")
    assert more > listed
    assert told.rest > 0


def test_a_pair_of_a_book_explained(benchmark: BenchmarkFixture, herd_of: Kept) -> None:
    """All that the window tells of a pair of a herd of 2,000, whose pedigree is kept; many sires doubtful."""
    with Book.open(herd_of(SMALL), read_only=True) as book, book.read() as conn:
        pedigree = load_pedigree(conn)
        pair = [animal for animal in pedigree.ids if pedigree.doubt_behind(animal)][-2:] or pedigree.ids[-2:]

        def told() -> Explained:
            return explain(conn, pair[0], pair[1], pedigree)

        assert benchmark(told).relationship
