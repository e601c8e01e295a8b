"""The pedigree kept between queries is the one that would be read anew, whatever was done meanwhile."""

from __future__ import annotations

import contextlib
import random
import re
import threading
from collections.abc import Callable
from dataclasses import fields
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from sqlalchemy import event
from sqlalchemy.exc import IntegrityError

from herdbook.husbandry.partday import PartDay
from herdbook.services import kept as kept_module
from herdbook.services.commands.animals import AddAnimal, ChangeAnimal, NameParent
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.breeding import Serve
from herdbook.services.commands.correcting import TakeBack
from herdbook.services.commands.diary import ChangeSettings
from herdbook.services.commands.happenings import Castrate, Weigh
from herdbook.services.commands.running import JoinRun, TurnIn
from herdbook.services.kept import NO_BEARING, NO_BEARING_COLUMNS
from herdbook.services.pedigree import Pedigree, load_pedigree, read_pedigree
from herdbook.services.registry import Refused
from herdbook.store import tables as t
from herdbook.store.errors import NothingToRedo, NothingToUndo
from herdbook.store.tables import METADATA
from tests.services.conftest import Herd


class GivenUp(Exception):
    """An act is given up half way."""


PER_ROW = {"sire", "dam", "years"}


def by_animal(pedigree: Pedigree) -> dict[str, Any]:
    """Return all that a pedigree holds by animal, not by row: new animals may stand in other places."""
    told: dict[str, Any] = {}
    for each in fields(Pedigree):
        value = getattr(pedigree, each.name)
        if each.name in ("sire", "dam"):
            value = [pedigree.ids[row] if row >= 0 else None for row in value.tolist()]
        if each.name in PER_ROW:
            value = dict(zip(pedigree.ids, list(value), strict=True))
        told[each.name] = sorted(value) if each.name == "ids" else value
    assert all(len(getattr(pedigree, name)) == len(pedigree.ids) for name in PER_ROW)
    return told


def in_order(pedigree: Pedigree) -> bool:
    """Whether all possible parents stand before their offspring."""
    rows = np.arange(len(pedigree.ids))
    links = pedigree.links
    return bool(
        (pedigree.sire < rows).all() and (pedigree.dam < rows).all() and (links.parent < links.child).all()
    )


def look(herd: Herd, *, inbreeding: bool = True) -> Pedigree:
    """Read the kept pedigree and compare it with one read anew."""
    with herd.book.read() as conn:
        kept, anew = load_pedigree(conn), read_pedigree(conn)
    assert by_animal(kept) == by_animal(anew)
    assert in_order(kept)
    assert kept.row == {animal: row for row, animal in enumerate(kept.ids)}
    if inbreeding:
        wanted = [anew.inbreeding[anew.row[animal]] for animal in kept.ids]
        assert kept.inbreeding == pytest.approx(wanted, abs=1e-14)
    return kept


def some_command(herd: Herd, dice: random.Random) -> Any:
    """Return a command about animals and days at random; many will be refused."""
    with herd.book.read() as conn:
        animals = list(conn.execute(t.Animal.__table__.select().with_only_columns(t.Animal.id, t.Animal.sex)))
    cows = [animal for animal, sex in animals if sex == "F"]
    bulls = [animal for animal, sex in animals if sex == "M"]
    name = f"N{dice.randrange(10**6)}"
    if not cows or not bulls:  # all was undone
        return AddAnimal(tag=name, sex="M" if cows else "F", born=PartDay(date(2016, 3, 1)))
    one, own_sex = dice.choice(animals)
    cow, bull = dice.choice(cows), dice.choice(bulls)
    day = date(2020, 1, 1) + timedelta(days=dice.randrange(1_500))
    sex = dice.choice("FM")
    makers: list[Callable[[], Any]] = [
        lambda: RecordBirth(cow, day, (NewCalf(sex=sex, tag=name),), sire=dice.choice((None, bull))),
        lambda: RecordBirth(cow, day, (NewCalf(sex="F", tag=name), NewCalf(sex="M", tag=name + "b"))),
        lambda: AddAnimal(tag=name, sex=sex, born=PartDay(day), dam=cow, sire=dice.choice((None, bull))),
        lambda: Weigh(cow, day, kg=400.0),
        lambda: ChangeAnimal(one, sex=own_sex, name=name),
        lambda: ChangeAnimal(one, sex=own_sex, born=PartDay(day, dice.choice(("day", "month")))),
        lambda: ChangeAnimal(one, sex=own_sex, dam=cow),
        lambda: ChangeAnimal(one, sex=own_sex, breed=dice.choice(("Angus", "Hereford"))),
        lambda: NameParent(one, bull, kind=dice.choice(("word", "dna", "excluded"))),
        lambda: Serve(cow, day, sire=bull),
        lambda: TurnIn((bull,), (cow, dice.choice(cows)), day, day + timedelta(days=dice.randrange(5, 90))),
        lambda: TurnIn((bull, dice.choice(bulls)), (cow,), day, day + timedelta(days=60)),
        lambda: JoinRun(1 + dice.randrange(3), (one,), day),
        lambda: Castrate(bull, day, method="ring"),
        lambda: TakeBack("service", 1 + dice.randrange(3)),
        lambda: ChangeSettings((("inbreeding_held", dice.choice(("worst", "expected"))),)),
    ]
    return dice.choice(makers)()


@pytest.mark.parametrize("seed", range(3))
def test_random_acts_undone_and_done_again(empty: Herd, count: Callable[[int, int], int], seed: int) -> None:
    """After each act, undoing and redoing; sometimes several acts pass between two looks."""
    dice = random.Random(seed)
    for tag, sex in (("Eden", "F"), ("Lune", "F"), ("Kent", "F"), ("Ochil", "M"), ("Cheviot", "M")):
        empty.add(tag, sex, date(2015, 3, 1))
    done = 0
    for _ in range(count(60, 400)):
        try:
            step = dice.random()
            if step < 0.15:
                empty.book.undo()
            elif step < 0.25:
                empty.book.redo()
            else:
                empty.do(some_command(empty, dice))
            done += 1
        except (Refused, NothingToUndo, NothingToRedo, IntegrityError):  # nothing was saved
            continue
        if dice.random() < 0.7:
            look(empty, inbreeding=dice.random() < 0.5)
    look(empty)
    assert done > 30


def test_what_does_not_bear_on_it_leaves_it_alone(herd: Herd) -> None:
    before = look(herd)
    herd.do(Weigh(herd.id["12"], date(2026, 3, 2), kg=600.0))
    with herd.book.act("test") as work:
        animal = work.session.get_one(t.Animal, herd.id["12"])
        animal.name, animal.note = "Eden Water", "quiet"
    assert look(herd) is before


def test_a_calf_is_put_behind_the_others(herd: Herd, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is read anew for a calf, and its inbreeding is worked out alone."""
    before = look(herd)
    figures = before.inbreeding.tolist()

    def never(conn: Any) -> Any:
        raise AssertionError("read anew")

    calf = herd.calve("12", date(2026, 3, 1), "26/40")
    own = herd.add("26/41", "F", date(2026, 3, 2), dam=herd.id["12"], sire=herd.id["B1"])
    with herd.book.read() as conn:
        after = kept_module.kept_pedigree(conn, never)
    assert after.ids == [*before.ids, calf, own]
    assert after.inbreeding.tolist()[: len(figures)] == figures
    assert len(before.ids) == len(before.sire) == len(figures)  # whoever holds the old one keeps it whole
    look(herd)


def test_a_bull_put_into_an_old_run_bears_on_the_calves_of_others(empty: Herd) -> None:
    empty.add("Eden", "F", date(2015, 3, 1))
    empty.add("Ochil", "M", date(2015, 3, 1))
    run = empty.do(TurnIn((empty.id["Ochil"],), (empty.id["Eden"],), date(2020, 6, 1), date(2020, 8, 1)))
    calf = empty.calve("Eden", date(2021, 4, 10), "Kent")
    assert not look(empty).doubtful(calf)
    bull = empty.add("Cheviot", "M", date(2016, 3, 1))
    empty.do(JoinRun(run, (bull,), date(2020, 6, 1), date(2020, 8, 1)))
    assert look(empty).doubtful(calf)


def test_an_act_that_is_open_is_not_kept(herd: Herd) -> None:
    before = look(herd)
    with contextlib.suppress(GivenUp), herd.book.act("test") as work:
        work.session.get_one(t.Animal, herd.id["26/1"]).dam_id = None
        work.session.flush()
        within = load_pedigree(work.conn)
        assert within.dam[within.row[herd.id["26/1"]]] == -1
        raise GivenUp
    assert look(herd) is before
    with herd.book.act("test") as work:  # the next act has the number of the one that was given up
        work.session.get_one(t.Animal, herd.id["25/2"]).dam_id = None
        work.session.flush()
        within = load_pedigree(work.conn)
        assert within.dam[within.row[herd.id["26/1"]]] >= 0
        assert within.dam[within.row[herd.id["25/2"]]] == -1
    look(herd)


def test_many_changes_are_not_looked_at_one_by_one(herd: Herd, monkeypatch: pytest.MonkeyPatch) -> None:
    look(herd)
    monkeypatch.setattr(kept_module, "_MOST_CHANGES", 1)
    herd.calve("12", date(2026, 3, 1), "26/40")
    herd.add("26/41", "F", date(2026, 3, 2))
    look(herd)


def test_readers_on_many_threads_see_their_own_state(herd: Herd) -> None:
    """Readers that began before an act see the pedigree before it, others the one after, all at once."""
    wrong: list[str] = []
    stop = threading.Event()

    def read() -> None:
        while not stop.is_set():
            with herd.book.read() as conn:
                kept, anew = load_pedigree(conn), read_pedigree(conn)
                if by_animal(kept) != by_animal(anew) or len(kept.inbreeding) != len(kept.ids):
                    wrong.append(f"{len(kept.ids)} and {len(anew.ids)}")

    readers = [threading.Thread(target=read) for _ in range(3)]
    for reader in readers:
        reader.start()
    try:
        with herd.book.read() as early:
            before = by_animal(load_pedigree(early))
            for number in range(8):
                herd.add(f"27/{number}", "F", date(2026, 3, 2), dam=herd.id["12"], sire=herd.id["B1"])
                assert by_animal(load_pedigree(early)) == before
                herd.do(NameParent(herd.id["26/1"], herd.id["B1"], kind="word"))
    finally:
        stop.set()
        for reader in readers:
            reader.join()
    assert wrong == []
    look(herd)


def test_reading_a_pedigree_looks_at_nothing_that_is_said_not_to_bear_on_it(herd: Herd) -> None:
    """Whoever lets a pedigree read one more table or column must take it off the lists."""
    said: list[str] = []
    with herd.book.read() as conn:

        def listen(_conn: Any, _cursor: Any, statement: str, *_: Any) -> None:
            said.append(statement)

        event.listen(conn.engine, "before_cursor_execute", listen)
        try:
            read_pedigree(conn)
        finally:
            event.remove(conn.engine, "before_cursor_execute", listen)
    words = set(re.findall(r"[a-z_.]+", " ".join(said)))
    read = {table.name for table in METADATA.tables.values()} & words
    assert {"animal", "parent_evidence", "setting"} <= read
    assert not read & NO_BEARING
    assert (
        not {word.removeprefix("animal.") for word in words if word.startswith("animal.")}
        & NO_BEARING_COLUMNS
    )


def test_the_lists_name_what_there_is() -> None:
    assert {table.name for table in METADATA.tables.values()} >= NO_BEARING
    assert {column.name for column in METADATA.tables["animal"].columns} >= NO_BEARING_COLUMNS
