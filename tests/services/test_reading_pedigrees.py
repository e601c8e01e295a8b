"""Published pedigrees as sheets: read in, their inbreeding is the published one.

The pedigrees and the publication of each stand in tests/published/pedigrees.
"""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import select

from herdbook.exchange.read_in import plan_read_in
from herdbook.services.book import Book
from herdbook.services.pedigree import load_pedigree
from herdbook.services.reading import read_in
from herdbook.store.tables import Animal

PUBLISHED = Path(__file__).parent.parent / "published" / "pedigrees"
ON = date(2026, 3, 1)


@pytest.mark.parametrize("path", sorted(PUBLISHED.glob("ped_*.csv")), ids=lambda path: path.stem)
def test_inbreeding_of_a_published_pedigree(path: Path, tmp_path: Path) -> None:
    with path.open(encoding="utf-8", newline="") as file:
        published = {row["id"]: float(row["F"]) for row in csv.DictReader(file)}
    with Book.create(tmp_path / "b.herd") as book:
        told = read_in(book, plan_read_in([path], on=ON), ON)
        with book.read() as conn:
            pedigree = load_pedigree(conn)
            tags = {row[0]: row[1] for row in conn.execute(select(Animal.id, Animal.tag))}
    assert told.skipped == ()
    assert told.added["animals"] == len(published)
    found = {tags[animal]: float(f) for animal, f in zip(pedigree.ids, pedigree.inbreeding, strict=True)}
    assert {tag: found[tag] for tag in published} == published
