"""The demonstration herd stands and shows what it should, on whatever day it is made."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from sqlalchemy import Connection, func, select

from herdbook.husbandry.classes import AnimalClass
from herdbook.husbandry.days import add_months
from herdbook.services.book import Book
from herdbook.services.commands.births import RecordBirth
from herdbook.services.demo import SEED, Step, make_demo, story
from herdbook.services.facts import Herd, load_herd
from herdbook.services.pedigree import load_pedigree
from herdbook.services.queries.butcher import cull_list, finishing_list
from herdbook.services.queries.due import due_list
from herdbook.services.queries.genes import genes_of
from herdbook.services.queries.sort import SortAsk, solve
from herdbook.services.queries.today import today
from herdbook.store import tables as t
from herdbook.store.happenings import Happening
from herdbook.store.health import findings

DAYS = (
    date(2026, 11, 25),
    date(2028, 2, 29),
    date(2026, 12, 31),
    date(2027, 1, 1),
    date(2028, 2, 1),
    date(2028, 3, 1),
    date(2027, 3, 28),
    date(2026, 6, 15),
    date(2029, 1, 31),
    date(2024, 12, 30),
    date(2032, 8, 31),
    date(2100, 2, 28),
)


@contextmanager
def made(path: Path, on: date, seed: int = SEED) -> Iterator[Connection]:
    """Make the herd and read it."""
    make_demo(path, on, seed)
    with Book.open(path, read_only=True) as book, book.read() as conn:
        yield conn


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Connection]:
    """The herd on the first of the days."""
    with made(tmp_path_factory.mktemp("demo") / "demo.herd", DAYS[0]) as conn:
        yield conn


def classes(herd: Herd, on: date) -> list[AnimalClass]:
    """Return the class of each animal that is here."""
    return [facts.class_on(on) for facts in herd.values()]


def test_stands_on_any_day(tmp_path: Path, count: Callable[[int, int], int]) -> None:
    """About 60 head, 26 breeding females, 3 bulls, and something in every list, also on odd days."""
    for number, on in enumerate(DAYS[: count(3, len(DAYS))]):
        with made(tmp_path / f"{number}.herd", on) as conn:
            herd = load_herd(conn, on)
            found = classes(herd, on)
            assert 55 <= len(found) <= 65, on
            assert 24 <= found.count(AnimalClass.COW) + found.count(AnimalClass.IN_CALF_HEIFER) <= 28, on
            assert found.count(AnimalClass.BULL) == 3, on
            heifers_close = [
                row
                for row in due_list(conn, on)
                if row.first_calving and 0 <= (row.expected - on).days <= 14 and not herd[row.animal].calvings
            ]
            assert len(heifers_close) >= 2, on
            codes = {errand.code for errand in today(conn, on)}
            assert {"due", "past_due", "castrate", "sort", "medicine", "medicine_days", "booked"} <= codes, on
            latest = conn.scalar(select(func.max(t.Weighing.day)))
            assert latest is not None
            assert latest <= on
        with closing(sqlite3.connect(tmp_path / f"{number}.herd")) as file:
            assert findings(file) == []


def births(steps: list[Step]) -> list[Step]:
    """Return the steps that are births."""
    return [step for step in steps if isinstance(step.command, RecordBirth)]


def test_nothing_impossible_whatever_the_seed_and_day(count: Callable[[int, int], int]) -> None:
    """No dam calves twice within 300 days or under 20 months; nothing is ahead; no tag or name twice."""
    for seed in range(count(12, 200)):
        on = DAYS[seed % len(DAYS)] + timedelta(days=seed)
        steps = story().steps(on, seed)
        days = [step.day for step in steps]
        assert days == sorted(days)
        assert days[-1] <= on
        born: dict[int, date] = {}
        calved: defaultdict[int, list[date]] = defaultdict(list)
        words: list[str] = []
        for step in births(steps):
            calved[step.command.dam].append(step.command.day)
            for calf, ref in zip(step.command.calves, step.makes, strict=True):
                born[ref] = step.command.day
                words += [word for word in (calf.tag, calf.name) if word]
        assert len(words) == len(set(words))
        for dam, on_days in calved.items():
            assert all((b - a).days > 300 for a, b in pairwise(on_days)), (seed, dam)
            assert dam not in born or add_months(born[dam], 20) < on_days[0], (seed, dam)


@pytest.mark.parametrize("kind", sorted(Happening.__subclasses__(), key=lambda kind: kind.__name__))
def test_nothing_happens_to_an_animal_that_is_not_here(demo: Connection, kind: type[Happening]) -> None:
    """Every happening falls into a stay of its animal, the day of leaving counted."""
    row, stay = kind.__table__.c, t.Stay.__table__.c  # type: ignore[attr-defined]
    here = select(stay.id).where(
        stay.animal_id == row.animal_id,
        stay.from_day <= row.day,
        stay.to_day.is_(None) | (stay.to_day >= row.day),
    )
    assert demo.execute(select(row.animal_id, row.day).where(~here.exists())).all() == []


def test_who_runs_with_a_bull_is_here(demo: Connection) -> None:
    """No female is with a bull before she came or after she left, and each bull run has an end by now."""
    f, s = t.BullRunFemale, t.Stay
    here = select(s.id).where(
        s.animal_id == f.animal_id, s.from_day <= f.from_day, s.to_day.is_(None) | (s.to_day >= f.to_day)
    )
    assert demo.execute(select(f.animal_id, f.from_day).where(~here.exists())).all() == []
    assert demo.scalar(select(func.count()).where(f.to_day.is_(None))) == 0


def test_same_seed_same_herd(tmp_path: Path) -> None:
    """Every row is the same again, but for the time of writing; another seed is another herd."""

    def rows(name: str, seed: int) -> dict[str, list[tuple[object, ...]]]:
        with made(tmp_path / name, DAYS[1], seed) as conn:
            return {
                table.name: [
                    tuple(row)
                    for row in conn.execute(
                        select(*(c for c in table.columns if c.name != "recorded")).order_by(
                            *table.primary_key
                        )
                    )
                ]
                for table in (t.Animal.__table__, t.Weighing.__table__, t.Calving.__table__, t.Stay.__table__)
            }

    first = rows("a.herd", 3)
    assert first == rows("b.herd", 3)
    assert first != rows("c.herd", 4)


def test_pedigree_has_no_loop_and_shows_relations(demo: Connection) -> None:
    """Inbred calves, unknown parents and doubtful sires are all there to be looked at."""
    pedigree = load_pedigree(demo)
    assert pedigree.loops == []
    assert 0.0625 <= max(pedigree.inbreeding) <= 0.25
    assert sum(len(sires) > 1 for sires in pedigree.sires.values()) >= 3
    bases = {chance.basis for sires in pedigree.sires.values() for chance in sires}
    assert {"word", "dates", "dna"} <= bases
    assert demo.scalar(select(func.min(t.Animal.born))) < DAYS[0] - timedelta(days=8 * 365)  # type: ignore[operator]


def test_the_sort_has_something_to_weigh(demo: Connection) -> None:
    """Bull-in is within the month; two of three bulls are related to females; not every calf can be at 0."""
    result = solve(demo, SortAsk(), DAYS[0])
    assert 0 < (result.bull_in - DAYS[0]).days <= 31
    assert len(result.bulls) == 3
    related = [any(female.calves[bull] > 0 for female in result.females) for bull in range(3)]
    assert related.count(True) == 2
    assert result.proven_optimal
    assert result.worst_inbreeding is not None
    assert 0 < result.worst_inbreeding <= result.limit
    assert {"chosen", "other"} <= {left.code for left in result.not_bred}


def test_finishing_and_culls_say_something(demo: Connection) -> None:
    """A steer is ready within weeks, one held by a medicine, one not known; the cull reasons are there."""
    rows = [row for row in finishing_list(demo, DAYS[0]) if row.group == "Finishing"]
    soon = DAYS[0] + timedelta(days=60)
    assert [row for row in rows if row.ready_on is not None and row.ready_on <= soon]
    assert [row for row in rows if row.clear_on is not None and row.clear_on > DAYS[0]]
    assert [row for row in rows if not row.medicine_known]
    booked = [row for row in rows if row.booked_on is not None]
    assert len(booked) == 1
    assert booked[0].cautions == ()
    codes = {reason.code for row in cull_list(demo, DAYS[0]) for reason in row.reasons}
    assert {"age", "udder", "teat", "feet", "temper", "open", "late", "lost_calf"} <= codes


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        (t.Fostering, None, None),
        (t.Loss, None, None),
        (t.Heat, None, None),
        (t.Sign, None, None),
        (t.Quarantine, None, None),
        (t.BullExam, "result", "deferred"),
        (t.Service, "how", "ai"),
        (t.Arrival, "kind", "hired"),
        (t.Arrival, "kind", "bought"),
        (t.PregnancyCheck, "result", "open"),
        (t.PregnancyCheck, "result", "multiple"),
        (t.PregnancyCheck, "method", "statement"),
        (t.CalvingCalf, "fate", "stillborn"),
        (t.Departure, "kind", "slaughtered"),
        (t.Departure, "reason", "not in calf"),
        (t.Animal, "freemartin", "probable"),
        (t.Identity, "scheme", "electronic"),
    ],
)
def test_shows_this_situation(
    demo: Connection, table: type[t.Base], column: str | None, value: str | None
) -> None:
    """Situations that a keeper meets are in the book."""
    query = select(func.count()).select_from(table)
    if column is not None:
        query = query.where(getattr(table, column) == value)
    assert demo.scalar(query)


def test_weights_are_plausible(demo: Connection) -> None:
    """Birth 28-43 kg, weaning 160-260 kg, and hanging weights at 50-58 % of live (common practice)."""
    weights = demo.execute(select(t.Weighing.kg, t.Weighing.stage)).all()
    assert all(28 <= kg <= 43 for kg, stage in weights if stage == "birth")
    assert all(160 <= kg <= 260 for kg, stage in weights if stage == "weaning")
    hung = demo.execute(
        select(t.Departure.live_kg, t.Departure.hanging_kg).where(t.Departure.hanging_kg.is_not(None))
    ).all()
    assert len(hung) >= 12
    assert all(0.50 <= hanging / live <= 0.58 and 460 <= live <= 600 for live, hanging in hung)


def test_the_last_entry_can_be_undone(tmp_path: Path) -> None:
    """The latest entries are acts of their own; older ones are a year each."""
    make_demo(tmp_path / "demo.herd", DAYS[0])
    with Book.open(tmp_path / "demo.herd") as book:
        kinds = [entry.kind for entry in book.history(1000)]
        assert 8 <= kinds.count("demonstration_year") <= 9
        assert kinds.count("record_birth") >= 12
        undone = book.undo()
        assert undone.tables
        assert book.redo().tables == undone.tables


def test_a_condition_runs_in_a_line(demo: Connection) -> None:
    """The own bull carries it through his sire: his matings are marked, his sire's line is kept apart."""
    result = solve(demo, SortAsk(), DAYS[0])
    marked = {
        bull.tag: [f for f in result.females if f.risks and f.risks[at]]
        for at, bull in enumerate(result.bull_groups)
    }
    barred = {f.tag for f in result.females if any(f.barred)}
    assert sorted(map(bool, marked.values())) == [False, False, True]
    assert len(barred) >= 3
    placed = {f.tag: group.tag for group in result.groups for f in group.females}
    (his,) = [tag for tag, females in marked.items() if females]
    assert not {tag for tag in barred if placed.get(tag) == his}


def test_looks_and_tests_are_told_of_the_bulls(demo: Connection) -> None:
    """The cards of the bulls have results and looks to show."""
    result = solve(demo, SortAsk(), DAYS[0])
    told = {bull.tag: genes_of(demo, bull.animal, DAYS[0]) for bull in result.bulls}
    assert all(any(one.tested for one in genes.conditions) for genes in told.values())
    assert all(genes.traits for genes in told.values())
    assert not any(genes.clashes for genes in told.values())
