"""A book of its own for each situation, filled through the commands."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from herdbook.services.book import Book
from tests.services.conftest import Herd


@pytest.fixture
def herd(tmp_path: Path) -> Iterator[Herd]:
    """Return an empty herd in a real file."""
    with Book.create(tmp_path / "herd.herdbook", who="keeper") as book:
        yield Herd(book)
