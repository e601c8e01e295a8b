"""Plans of 3,000 females: listed, read and compared in a small part of the time that a sort takes."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from herdbook.services.book import Book
from herdbook.services.commands.accepting import AcceptPlan
from herdbook.services.queries.plan_compare import compare
from herdbook.services.queries.plans import keep_command, plan, plans
from herdbook.services.queries.sort import SortAsk, solve
from tests.bench.herds import ON, SORTED, Kept

pytestmark = pytest.mark.bench
PART = 0.1
"""Of the time that the sort takes."""


def timed(work: Callable[[], object]) -> float:
    """Return the seconds of the best of three."""
    best = float("inf")
    for _ in range(3):
        begun = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - begun)
    return best


def test_plans_are_read_in_a_small_part_of_a_sort(
    herd_of: Kept, tmp_path: Path, say_figures: Callable[[str], None]
) -> None:
    path = Path(shutil.copy(herd_of(SORTED), tmp_path / "herd.herdbook"))
    with Book.open(path) as book:
        with book.read() as conn:
            begun = time.perf_counter()
            result = solve(conn, SortAsk(), ON)
            sorting = time.perf_counter() - begun
        ids = [book.do(keep_command(result, ask=SortAsk())).made for _ in range(2)]
        with book.read() as conn:
            reading = {
                "list": timed(lambda: plans(conn)),
                "read": timed(lambda: plan(conn, ids[0])),
                "compare": timed(lambda: compare(conn, ids)),
            }
        begun = time.perf_counter()
        book.do(AcceptPlan(ids[0], ON))
        accepting = time.perf_counter() - begun
        begun = time.perf_counter()
        book.undo()
        undoing = time.perf_counter() - begun
    told = ", ".join(f"{what} {seconds * 1000:.0f} ms" for what, seconds in reading.items())
    say_figures(
        f"{len(result.females)} females, {len(result.bulls)} bulls: sort {sorting:.1f} s; {told}; "
        f"accept {accepting:.2f} s, undo {undoing:.2f} s"
    )
    assert max(reading.values()) < PART * sorting
    assert accepting < sorting
    assert undoing < sorting
