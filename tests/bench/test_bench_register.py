"""How fast the register answers on 100,000 animals. Wanted: first page in 60 ms, all ids in 100 ms."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import insert

from herdbook.husbandry.ids import tag_key
from herdbook.services.book import Book
from herdbook.services.queries import classes, find, register
from herdbook.services.queries.register import RegisterAsk
from herdbook.store import tables as t

ANIMALS = 100_000
ON = date(2026, 3, 3)
NAMES = "Eden Lune Kent Nith Wharfe Tamar Severn Caldew Lowther Esk Tees Derwent Wear Swale Ure Nidd".split()

pytestmark = pytest.mark.bench


def fill(book: Book, animals: int, on: date = ON) -> None:
    """Write a large herd in one act, each animal with a tag, an electronic number, a stay and a weight."""
    dice = random.Random(1)
    herd, ids, stays, weights, calvings, checks, weaned = [], [], [], [], [], [], []
    for n in range(1, animals + 1):
        born = on - timedelta(days=dice.randrange(20, 4000))
        tag, sex = f"{born.year % 100:02d}/{n}", "F" if n % 2 else "M"
        mother = max(1, n - dice.randrange(200, 2000)) | 1
        herd.append(
            {
                "id": n, "tag": tag, "tag_key": tag_key(tag), "name": dice.choice(NAMES), "sex": sex,
                "born": born, "born_precision": "day", "dam_id": mother if n > 2000 else None,
            }
        )  # fmt: skip
        ids += [
            {"animal_id": n, "scheme": "farm", "value": tag, "from_day": born},
            {"animal_id": n, "scheme": "electronic", "value": f"999{n:012d}", "from_day": born},
        ]
        left = None if n % 2 or dice.random() < 0.5 else born + timedelta(days=(on - born).days // 2)
        stays.append({"animal_id": n, "holding_id": 1, "from_day": born, "to_day": left, "why": "home"})
        day = born + timedelta(days=210)
        if day < on:
            weights.append(
                {"animal_id": n, "day": day, "kg": dice.gauss(220, 25), "unit": "kg", "method": "scale"}
            )
            weaned.append({"animal_id": n, "day": day})
        if sex == "F" and (on - born).days > 900:
            calvings.append({"animal_id": n, "day": born + timedelta(days=800)})
            checks.append({"animal_id": n, "day": on - timedelta(days=90), "result": "pregnant"})
    with book.act("bench") as work:
        tables: list[tuple[Any, list[dict[str, Any]]]] = [
            (t.Holding, [{"id": 1, "name": "home", "ours": True}]),
            (t.Animal, herd), (t.Identity, ids), (t.Stay, stays), (t.Weighing, weights), (t.Weaning, weaned),
            (t.Calving, calvings), (t.PregnancyCheck, checks),
        ]  # fmt: skip
        for table, rows in tables:
            work.conn.execute(insert(table), rows)


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    path: Path = tmp_path_factory.mktemp("large") / "large.herdbook"
    with Book.create(path) as book:
        fill(book, ANIMALS)
        yield book


ASKS = {
    "here": RegisterAsk(),
    "all": RegisterAsk(here="all"),
    "tag": RegisterAsk(text="25/1"),
    "name": RegisterAsk(text="wear"),
    "nothing": RegisterAsk(text="zzz"),
    "number": RegisterAsk(text="999000000012345"),
    "digits": RegisterAsk(text="1234", here="all"),
    "cows": RegisterAsk(class_="cow"),
    "by name": RegisterAsk(sort="name"),
    "by born": RegisterAsk(sort="born", descending=True),
    "by weight": RegisterAsk(sort="weight"),
    "by class": RegisterAsk(sort="class"),
}


@pytest.mark.parametrize("ask", ASKS)
def test_first_page(benchmark: Any, large: Book, ask: str) -> None:
    def page() -> list[register.RegisterRow]:
        with large.read() as conn:
            return register.rows(conn, register.ids(conn, ASKS[ask], ON, limit=60), ON)

    assert len(benchmark(page)) <= 60


@pytest.mark.parametrize("ask", ASKS)
def test_all_ids(benchmark: Any, large: Book, ask: str) -> None:
    def everything() -> int:
        with large.read() as conn:
            return len(register.ids(conn, ASKS[ask], ON))

    assert benchmark(everything) >= 0


def test_counts_by_class(benchmark: Any, large: Book) -> None:
    def counts() -> list[tuple[str, int]]:
        with large.read() as conn:
            return classes.herd_by_class(conn, ON)

    assert dict(benchmark(counts))["total"] > 0


@pytest.mark.parametrize("text", ["25/1", "eden", "999000000012345", "zzz"])
def test_search(benchmark: Any, large: Book, text: str) -> None:
    def search() -> list[find.Found]:
        with large.read() as conn:
            return find.find(conn, text, ON)

    assert len(benchmark(search)) <= 12
