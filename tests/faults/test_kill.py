"""The program killed while it saves: the file opens, is whole, and holds every save that was confirmed."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import select, text

import herdbook.store.migrations
from herdbook.services.book import Book
from herdbook.store.bare import connect
from herdbook.store.errors import BookMissing
from herdbook.store.health import findings
from herdbook.store.migrate import Chain
from herdbook.store.open import form_of, open_store
from herdbook.store.tables import Animal, Identity, Weighing

pytestmark = pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")

SAVES = 50
SAVE = """
import sys
from datetime import date
from herdbook.services.book import Book
from herdbook.store.tables import Animal, Identity, Weighing
book = Book.open(sys.argv[1])
print("open", flush=True)
for number in range(int(sys.argv[2])):
    with book.act("birth", number=number) as work:
        calf = Animal(tag=f"26-{number}", tag_key=f"26-{number}", sex="F", born=date(2026, 3, 3))
        work.session.add(calf)
        work.session.flush()
        work.session.add(Identity(animal_id=calf.id, scheme="farm", value=calf.tag))
        work.session.add(Weighing(animal_id=calf.id, day=date(2026, 3, 3), kg=30 + number / 3))
    print(number, flush=True)
"""


def confirmed_until_killed(path: Path, wait: float) -> list[int]:
    """Let a process save, kill it `wait` seconds after it opened the book; return what it had confirmed."""
    command = [sys.executable, "-c", SAVE, str(path), str(SAVES)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "open\n"
        time.sleep(wait)
        os.kill(process.pid, signal.SIGKILL)
        return [int(line) for line in process.stdout.read().split()]


def require_whole(path: Path) -> None:
    """Run every check of the database on the closed file."""
    conn = connect(path, "rw")
    assert findings(conn) == []
    conn.close()


def test_killed_during_fifty_saves(tmp_path: Path, count: Callable[[int, int], int]) -> None:
    """Every confirmed birth is there with its three rows; at most one more that was not yet confirmed."""
    times = random.Random(7)
    cut_short = 0
    for run in range(count(5, 40)):
        path = tmp_path / f"herd{run}"
        Book.create(path).close()
        confirmed = confirmed_until_killed(path, times.uniform(0.0, 0.25))
        cut_short += len(confirmed) < SAVES
        with Book.open(path, read_only=True) as reader:
            seen = len(reader.history(SAVES))
        with Book.open(path) as book:
            assert len(book.history(SAVES)) == seen
            with book.read() as conn:
                calves = conn.execute(
                    select(Animal.tag, Identity.value, Weighing.kg)
                    .join(Identity, Identity.animal_id == Animal.id)
                    .join(Weighing, Weighing.animal_id == Animal.id)
                    .order_by(Animal.id)
                ).all()
                assert conn.scalar(text("SELECT count(*) FROM animal")) == len(calves)
            assert calves == [(f"26-{n}", f"26-{n}", 30 + n / 3) for n in range(len(calves))]
            assert len(confirmed) <= len(calves) <= len(confirmed) + 1
            assert len(book.history(SAVES)) == len(calves)
            for _ in calves:
                book.undo()
            with book.read() as conn:
                assert conn.scalar(text("SELECT count(*) FROM animal")) == 0
        require_whole(path)
        assert [found.name for found in tmp_path.glob(f"{path.name}*")] == [path.name]
    assert cut_short > 0


CREATE = (
    "import sys; from herdbook.services.book import Book; print('x', flush=True); Book.create(sys.argv[1])"
)


def test_killed_while_making_a_book(tmp_path: Path, count: Callable[[int, int], int]) -> None:
    """There is either no book yet or a whole one, and what was left half done does not stand in the way."""
    times = random.Random(8)
    for run in range(count(4, 30)):
        path = tmp_path / f"herd{run}"
        command = [sys.executable, "-c", CREATE, str(path)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(times.uniform(0.0, 0.08))
            process.kill()
        try:
            Book.open(path).close()
        except BookMissing:
            Book.create(path).close()
        require_whole(path)
        assert [found.name for found in tmp_path.glob(f"{path.name}*")] == [path.name]


UPDATE = """
import sys
from pathlib import Path
import alembic.command, alembic.config
from herdbook.store.migrate import Chain
from herdbook.store.open import open_store
print("x", flush=True)
open_store(Path(sys.argv[1]), chain=Chain(2, sys.argv[2]))
"""
SECOND = """
import sqlalchemy as sa
from alembic import op
revision, down_revision = "0002", "0001"
def upgrade():
    op.add_column("animal", sa.Column("nickname", sa.String(40)))
"""


def test_killed_while_bringing_a_file_up(tmp_path: Path, count: Callable[[int, int], int]) -> None:
    """The file is whole in the old form or the new, with every row, and opens the next time."""
    revisions = tmp_path / "revisions"
    shutil.copytree(Path(herdbook.store.migrations.__file__).parent, revisions)
    (revisions / "versions" / "0002_second.py").write_text(SECOND)
    times = random.Random(9)
    for run in range(count(4, 30)):
        path = tmp_path / f"herd{run}"
        with Book.create(path) as book, book.act("add") as work:
            work.session.add_all(Animal(tag=str(n), tag_key=str(n)) for n in range(500))
        command = [sys.executable, "-c", UPDATE, str(path), str(revisions)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(times.uniform(0.0, 0.25))
            process.kill()
        assert form_of(path) in (1, 2)
        with Book(open_store(path, chain=Chain(2, str(revisions)))) as book, book.read() as conn:
            assert conn.scalar(text("SELECT count(*) FROM animal WHERE nickname IS NULL")) == 500
        require_whole(path)
        left = {found.name for found in tmp_path.glob(f"{path.name}*")}
        assert left == {path.name, f"{path.name} copies"}
