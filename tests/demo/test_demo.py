"""The demonstration herd stands and shows what it should, on whatever day it is made."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from herdbook.husbandry.classes import AnimalClass
from herdbook.services.book import Book
from herdbook.services.demo import make_demo
from herdbook.services.facts import load_herd


def test_about_sixty_head(tmp_path: Path) -> None:
    """About 60 head, 26 breeding females and 3 bulls."""
    on = date(2026, 11, 25)
    make_demo(tmp_path / "demo.herd", on)
    with Book.open(tmp_path / "demo.herd", read_only=True) as book, book.read() as conn:
        classes = [facts.class_on(on) for facts in load_herd(conn, on).values()]
    assert 55 <= len(classes) <= 65
    assert 24 <= classes.count(AnimalClass.COW) + classes.count(AnimalClass.IN_CALF_HEIFER) <= 28
    assert classes.count(AnimalClass.BULL) == 3
