"""A small herd, made by hand through the commands, and a book to put more into."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection

from herdbook.husbandry.partday import PartDay
from herdbook.services.book import Book
from herdbook.services.commands.animals import AddAnimal, Move, NewGroup
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.happenings import Castrate, CheckPregnancy, Leave, Treat, Wean, Weigh
from herdbook.services.commands.running import TurnIn

ON = date(2026, 3, 3)


@dataclass
class Herd:
    """A book with the ids of its animals by tag."""

    book: Book
    on: date = ON
    id: dict[str, int] = field(default_factory=dict)

    def do(self, command: Any) -> Any:
        """Carry out a command; return what it made."""
        return self.book.do(command).made

    def add(self, tag: str, sex: str | None, born: PartDay | date | None = None, **more: Any) -> int:
        """Enter an animal and remember it by its tag."""
        if isinstance(born, date):
            born = PartDay(born)
        self.id[tag] = self.do(AddAnimal(tag=tag, sex=sex, born=born, **more))
        return self.id[tag]

    def calve(
        self, dam: str, day: date, tag: str, sex: str = "F", kg: float | None = 36.0, **more: Any
    ) -> int:
        """Record the birth of one calf and remember the calf by its tag."""
        calf = NewCalf(sex=sex, tag=tag, kg=kg, ease=more.pop("ease", 1), **more)
        (self.id[tag],) = self.do(RecordBirth(self.id[dam], day, (calf,)))
        return self.id[tag]

    def ask(self, query: Any, *arguments: Any, on: date | None = None, **named: Any) -> Any:
        """Run a query of the book for the herd's day."""
        with self.book.read() as conn:
            return query(conn, *arguments, on or self.on, **named)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """Return an empty book."""
    with Book.create(tmp_path / "herd.herdbook", who="keeper") as made:
        yield made


@pytest.fixture
def empty(book: Book) -> Herd:
    """Return an empty herd."""
    return Herd(book)


@pytest.fixture
def herd(book: Book) -> Herd:
    """Return the small herd, as it stands on `ON`.

    Eden (cow) has Wharfe (steer born 2025) and Nith (heifer in calf to Cheviot, due within the fortnight);
    Lune (cow) ran with both bulls and calved in February; Tamar was sold; Severn is known by name only; Bora
    is a bull calf, entire still.
    """
    h = Herd(book)
    h.add("Severn", "F", here=False)
    h.add(
        "B1", "M", PartDay(date(2021, 4, 1), "month"), name="Cheviot", entered=date(2022, 5, 1), breed="Angus"
    )
    h.add("B2", "M", date(2022, 3, 9), name="Pentland", entered=date(2023, 5, 1))
    h.add("12", "F", PartDay(date(2018, 1, 1), "year"), name="Eden", dam=h.id["Severn"],
          electronic="999000000000012")  # fmt: skip
    h.add("7", "F", date(2020, 3, 1), name="Lune")
    h.add("9", "F", date(2019, 4, 1), name="Tamar")
    h.add("23/4", "F", date(2023, 4, 10), name="Nith", dam=h.id["12"], sire=h.id["B1"])
    h.calve("12", date(2025, 3, 20), "25/1", sex="M", name="Wharfe")
    h.calve("7", date(2025, 4, 2), "25/2", name="Kent")
    h.do(Castrate(h.id["25/1"], date(2025, 5, 1), method="ring"))
    cows = (h.id["12"], h.id["7"])
    h.do(
        TurnIn(
            bulls=(h.id["B1"],), females=(*cows, h.id["23/4"]), day=date(2025, 5, 10), out=date(2025, 6, 9)
        )
    )
    h.do(TurnIn(bulls=(h.id["B2"],), females=cows, day=date(2025, 6, 10), out=date(2025, 7, 10)))
    for tag in ("25/1", "25/2"):
        h.do(Weigh(h.id[tag], date(2025, 10, 20), kg=230.0))
        h.do(Wean(h.id[tag], date(2025, 10, 20)))
    h.do(Weigh(h.id["25/1"], date(2026, 1, 28), kg=310.0))
    h.do(CheckPregnancy(h.id["23/4"], date(2025, 9, 1), result="pregnant", days=85, method="scan"))
    h.do(CheckPregnancy(h.id["12"], date(2025, 9, 1), result="pregnant", method="scan"))
    h.do(Leave(h.id["9"], date(2025, 11, 3), departure_kind="sold", reason="age"))
    h.calve("7", date(2026, 2, 24), "26/1", sex="M", name="Bora")
    h.do(Treat(h.id["7"], date(2026, 2, 25), product="Long-acting penicillin", meat_days=28))
    group = h.do(NewGroup(name="Finishing", purpose="finishing"))
    h.do(Move((h.id["25/1"],), date(2025, 11, 1), group))
    return h


def rows_of(conn: Connection, query: Any) -> list[Any]:
    """Return the rows of a query as a list."""
    return list(conn.execute(query))
