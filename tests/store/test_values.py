"""Any value that a column can hold comes back from the journal as it was."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import insert, select, text

from herdbook.services.book import Book
from herdbook.store.journal import ActRow
from herdbook.store.undo import read_row
from tests.store.toy import BEAST, dump, toy_book

TEXTS = st.text(st.characters(exclude_categories=["Cs"]))
ROWS = st.fixed_dictionaries(
    {
        "weight": st.none() | st.floats(allow_nan=False, allow_infinity=False),
        "picture": st.none() | st.binary(),
        "present": st.none() | st.booleans(),
        "born": st.none() | st.dates(),
        "seen": st.none() | st.datetimes(),
        "order": st.none() | TEXTS,
    }
)


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    """Yield one book for all examples."""
    with toy_book(tmp_path_factory.mktemp("values") / "toy") as made:
        yield made


def test_values(book: Book) -> None:
    """What is written, what the journal says, and what redo brings back are equal, and floats bit for bit."""

    @given(row=ROWS, name=TEXTS)
    def check(row: dict[str, object], name: str) -> None:
        with book.act("add") as work:
            work.conn.execute(insert(BEAST).values(name=name, **row))
        assert work.changes is not None
        with book.read() as conn:
            after = conn.scalar(select(ActRow.after).where(ActRow.act_id == work.changes.act_id))
            key = conn.scalar(text("SELECT max(id) FROM beast"))
            stored = conn.execute(text("SELECT * FROM beast WHERE id = :key"), {"key": key}).one()._mapping
        assert after is not None
        found = read_row(after)
        assert found == dict(stored)
        assert found["name"] == name
        assert found["order"] == row["order"]
        assert found["picture"] == row["picture"]
        if isinstance(row["weight"], float):
            assert float(found["weight"]).hex() == abs_zero(row["weight"]).hex()  # type: ignore[arg-type]
        state = dump(book)
        book.undo()
        assert dump(book)["beast"] == []
        book.redo()
        assert dump(book) == state
        book.undo()

    check()


def abs_zero(value: float) -> float:
    """Return the number as SQLite keeps it: it knows no minus zero."""
    return math.fabs(value) if value == 0 else value


def test_infinity(tmp_path: Path) -> None:
    """SQLite's words for the infinities are understood."""
    with toy_book(tmp_path / "toy") as book:
        with book.act("add") as work:
            work.conn.execute(
                insert(BEAST), [{"name": str(one), "weight": one} for one in (math.inf, -math.inf)]
            )
        state = dump(book)
        book.undo()
        book.redo()
        assert dump(book) == state


def test_days_and_times(tmp_path: Path) -> None:
    """Dates and times keep the text in which the store writes them."""
    with toy_book(tmp_path / "toy") as book:
        with book.act("add") as work:
            work.conn.execute(
                insert(BEAST).values(name="a", born=date(2026, 3, 3), seen=datetime(2026, 3, 3, 4, 5))  # noqa: DTZ001
            )
        with book.read() as conn:
            row = read_row(conn.scalars(select(ActRow.after)).one() or "")
        assert (row["born"], row["seen"]) == ("2026-03-03", "2026-03-03 04:05:00.000000")
