"""How long it takes to read in a very large sheet of animals."""

from __future__ import annotations

import random
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from herdbook.exchange.read_in import plan_read_in
from herdbook.services.book import Book
from herdbook.services.reading import WasRead, read_in

pytestmark = pytest.mark.bench
ON = date(2026, 3, 1)
ANIMALS = 100_000


def sheet(path: Path) -> None:
    """Write a sheet of animals of which most have both parents in it."""
    chance = random.Random(7)
    with path.open("w", encoding="utf-8") as file:
        file.write("tag,name,sex,born,dam,sire\n")
        for n in range(ANIMALS):
            born = date(1990, 1, 1) + timedelta(days=n * 13_000 // ANIMALS)
            earlier = (
                [chance.randrange(max(0, n - 20_000), n - 8_000) // 2 * 2 for _ in "ds"] if n > 9_000 else []
            )
            dam, sire = (f"T{earlier[0]}", f"T{earlier[1] + 1}") if earlier else ("", "")
            file.write(f"T{n},,{'FM'[n % 2]},{born:%d/%m/%Y},{dam},{sire}\n")


def test_read_in_100_000_animals(benchmark: Any, tmp_path: Path) -> None:
    sheet(tmp_path / "animals.csv")
    books = iter(range(100))

    def read() -> WasRead:
        with Book.create(tmp_path / f"{next(books)}.herd") as book:
            return read_in(book, plan_read_in([tmp_path / "animals.csv"], on=ON), ON)

    told = benchmark.pedantic(read, rounds=1, iterations=1)
    assert told.added == {"animals": ANIMALS}
