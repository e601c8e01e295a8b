"""The years after, of a book: what they begin with, the first season against the sort, policies in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.years import (
    FIGURES,
    HOME,
    NEVER,
    PRESETS,
    Company,
    Policy,
    run_repeats,
    years_after,
)
from herdbook.services.book import Book
from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.happenings import Leave
from herdbook.services.commands.running import TurnIn
from herdbook.services.demo import make_demo
from herdbook.services.pedigree import load_pedigree
from herdbook.services.queries.due import due_list
from herdbook.services.queries.sort import AskedBull, AskedGroup, SortAsk, gather, solve
from herdbook.services.queries.years import (
    AT_ONCE,
    Beginning,
    beginning,
    policy_by_policy,
    policy_of,
    run_years,
    settings_of,
)
from herdbook.services.registry import Refused
from tests.services.conftest import Herd

DEMO_DAY = date(2026, 11, 25)
ON = date(2026, 5, 1)
AT = {name: place for place, name in enumerate(FIGURES)}
AS_THEY_ARE = Policy("as they are", bull_years=None, bull_age=None, cull_years=60)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demonstration herd."""
    path = tmp_path_factory.mktemp("years") / "demo.herdbook"
    make_demo(path, DEMO_DAY)
    return path


@pytest.fixture(scope="module")
def begin(demo: Path) -> Beginning:
    """Return how its years after begin."""
    with Book.open(demo, read_only=True) as book, book.read() as conn:
        return beginning(conn, DEMO_DAY)


# -- what they begin with --


def test_the_demonstration_herd_begins_with_who_is_here(demo: Path, begin: Beginning) -> None:
    with Book.open(demo, read_only=True) as book, book.read() as conn:
        sort, pedigree, due = gather(conn, SortAsk(), DEMO_DAY), load_pedigree(conn), due_list(conn, DEMO_DAY)
    start, row = begin.start, {animal: at for at, animal in enumerate(begin.animals)}
    assert begin.bull_in == sort.season[0]
    assert begin.limit == sort.limit
    assert [a for a in begin.animals if start.female[row[a]]] == [f.animal for f in sort.females]
    assert [a for a in begin.animals if start.bull[row[a]]] == [b.animal for b in sort.bulls]
    for f in sort.females:
        assert start.ready[row[f.animal]] == f.readiness.ok
        table = start.kinship[row[f.animal], [row[b.animal] for b in sort.bulls]]
        assert table.tolist() == list(f.calves)
        if f.readiness.code in ("chosen", "other"):  # marked not to be bred; likely freemartins
            assert not start.stays[row[f.animal]]
    assert begin.held == "worst"
    own = [pedigree.worst_inbreeding[pedigree.row[a]] for a in begin.animals]
    assert (2 * np.diag(start.kinship) - 1).tolist() == own
    assert {begin.animals[calf.dam] for calf in start.coming} == {d.animal for d in due}
    assert start.served[start.bull].tolist() == [3, 4, 0]
    assert (start.shares.sum(axis=1) <= 1 + 1e-12).all()
    assert (start.shares.sum(axis=0) > 0).all()


def test_the_first_season_is_the_one_of_the_sort(demo: Path, begin: Beginning) -> None:
    """When nothing is left to chance, the first season's calves are those of the sort."""
    with Book.open(demo, read_only=True) as book, book.read() as conn:
        result = solve(conn, SortAsk(), DEMO_DAY)
    rates = replace(begin.rates, conception=1.0, calving=1.0, rearing=1.0, first_heat=(0, 0))
    found = run_repeats(begin.start, AS_THEY_ARE, rates, limit=begin.limit, years=1, repeats=[0])[0, 0]
    assert found[AT["calves"]] == sum(len(group.females) for group in result.groups)
    assert found[AT["mean"]] == pytest.approx(result.mean_inbreeding)


@pytest.fixture
def small(empty: Herd) -> Herd:
    """Cheviot ran in three summers and Pentland in one; Eden calved, Kent is in calf to Cheviot."""
    h = empty
    h.add("Cheviot", "M", date(2021, 3, 1))
    h.add("Pentland", "M", date(2022, 3, 1))
    for tag, born, told in (
        ("Cheviot", date(2021, 3, 1), {"fit_for_heifers": True}),
        ("Pentland", date(2022, 3, 1), {"capacity": 12}),
    ):
        h.do(ChangeAnimal(h.id[tag], sex="M", born=PartDay(born), **told))
    h.add("Eden", "F", date(2018, 3, 1))
    h.add("Kent", "F", date(2023, 4, 1), dam=h.id["Eden"], sire=h.id["Pentland"])
    cows, bull = (h.id["Eden"],), (h.id["Cheviot"],)
    h.do(TurnIn(bulls=bull, females=cows, day=date(2023, 6, 1), out=date(2023, 7, 1)))
    h.do(TurnIn(bulls=bull, females=cows, day=date(2023, 7, 10), out=date(2023, 7, 20)))
    h.do(TurnIn(bulls=bull, females=cows, day=date(2024, 6, 1), out=date(2024, 7, 1)))
    both = (h.id["Eden"], h.id["Kent"])
    h.do(TurnIn(bulls=bull, females=both, day=date(2025, 8, 1), out=date(2025, 9, 1)))
    h.calve("Eden", date(2026, 4, 20), "26/1", sex="F")
    h.add("Stour", "M", date(2025, 4, 1))
    return h


def read(herd: Herd) -> tuple[Beginning, dict[str, int]]:
    """Return how a herd begins, and the row of each tag."""
    begin: Beginning = herd.ask(beginning, on=ON)
    row = {animal: at for at, animal in enumerate(begin.animals)}
    return begin, {tag: row[animal] for tag, animal in herd.id.items() if animal in row}


def test_days_count_from_bull_in_and_seasons_are_not_runs(small: Herd) -> None:
    begin, row = read(small)
    start = begin.start
    assert begin.bull_in == date(2026, 6, 1)
    assert start.calved[row["Eden"]] == (date(2026, 4, 20) - begin.bull_in).days
    assert start.born[row["Kent"]] == (date(2023, 4, 1) - begin.bull_in).days
    assert start.calved[row["26/1"]] == NEVER
    assert start.served[row["Cheviot"]] == 3
    assert start.served[row["Pentland"]] == 0
    assert start.by_hand[row["Pentland"]] == 12
    assert start.by_hand[row["Cheviot"]] == -1
    assert [start.fit[row[tag]] for tag in ("Cheviot", "Pentland")] == [True, False]


def test_the_calf_on_its_way_and_its_sire(small: Herd) -> None:
    begin, row = read(small)
    (calf,) = begin.start.coming
    assert calf.dam == row["Kent"]
    assert begin.start.cow[row["Kent"]]
    assert begin.start.calved[row["Kent"]] == calf.due
    assert calf.sires == ((row["Cheviot"], 1.0),)
    # Served, not checked; 0.65 at a heat and 0.96 of those in calf are the book's own settings.
    assert calf.chance == pytest.approx((1 - 0.35**3) * 0.96)


def test_a_sire_that_has_left_stands_behind_his_calf_only(small: Herd) -> None:
    small.do(Leave(small.id["Cheviot"], date(2026, 4, 25), departure_kind="sold", reason="age"))
    begin, row = read(small)
    assert begin.start.coming[0].sires == ((row["Cheviot"], 1.0),)
    assert not begin.start.stays[row["Cheviot"]]
    assert not begin.start.bull[row["Cheviot"]]


def test_who_is_kept_back_is_left_out(small: Herd) -> None:
    small.do(ChangeAnimal(small.id["Eden"], sex="F", born=PartDay(date(2018, 3, 1)), do_not_breed="udder"))
    begin, row = read(small)
    assert not begin.start.stays[row["Eden"]]
    assert begin.start.stays[row["Kent"]]


def test_no_bull_is_refused(empty: Herd) -> None:
    empty.add("Eden", "F", date(2018, 3, 1))
    with pytest.raises(Refused, match="no bull"):
        empty.ask(beginning, on=ON)


# -- running --


def test_a_process_of_its_own_gives_what_the_sums_give(begin: Beginning) -> None:
    policies, heard = [PRESETS["keep-home-bred"], PRESETS["swap-one"]], []
    told = run_years(
        begin, policies, years=3, repeats=AT_ONCE + 2, seed=5, progress=lambda *at: heard.append(at)
    )
    for policy, each in zip(policies, told, strict=True):
        found = run_repeats(
            begin.start,
            policy,
            begin.rates,
            limit=begin.limit,
            years=3,
            seed=5,
            repeats=range(AT_ONCE + 2),
        )
        assert each == years_after(policy, found, begin.bull_in.year)
    whole = 2 * (AT_ONCE + 2)
    assert heard == [(AT_ONCE, whole), (AT_ONCE + 2, whole), (2 * AT_ONCE + 2, whole), (whole, whole)]


def test_a_stop_ends_it(begin: Beginning) -> None:
    class Stop(Exception):
        pass

    def stop() -> None:
        raise Stop

    with pytest.raises(Stop):
        run_years(begin, [PRESETS["swap-one"]], years=100, repeats=10_000, going=stop)


def test_each_part_is_told_with_its_policy_at_the_end(begin: Beginning) -> None:
    parts = list(
        policy_by_policy(begin, [PRESETS["swap-one"]], years=1, repeats=2 * AT_ONCE, seed=1)
    )  # as many parts as it takes, and none twice
    assert [done for done, _ in parts] == [AT_ONCE, 2 * AT_ONCE]
    assert [told is None for _, told in parts] == [True, False]


@pytest.mark.parametrize("wrong", [{"years": 0}, {"repeats": 0}, {"seed": -1}, {"policies": []}])
def test_nothing_to_run_is_refused(begin: Beginning, wrong: dict[str, Any]) -> None:
    asked = {"policies": [PRESETS["swap-one"]]} | wrong
    with pytest.raises(Refused, match="1 or more"):
        run_years(begin, **asked)


@pytest.mark.parametrize("much", [{"years": 101}, {"repeats": 10_001}])
def test_what_would_never_end_is_refused(begin: Beginning, much: dict[str, int]) -> None:
    with pytest.raises(Refused, match="No more than 100 years and 10000 repeats"):
        run_years(begin, [PRESETS["swap-one"]], **much)


# -- policies in words --


def test_policies_in_words() -> None:
    assert policy_of("swap-one") == PRESETS["swap-one"]
    assert policy_of("swap-one:swap_every=2, bulls=1") == replace(PRESETS["swap-one"], swap_every=2, bulls=1)
    mine = policy_of("mine:source=home,keep=0.3,bull_years=ever,bull_age=ever,strict=no,kin=0.02")
    assert mine == Policy(
        "mine", keep=0.3, source=HOME, bull_years=None, bull_age=None, strict=False, kin=0.02
    )
    assert policy_of("mine:") == Policy("mine")
    assert policy_of("x:keep=hold,size=today,bulls=today,swap_every=never") == Policy("x")
    assert set(settings_of(mine)) == {
        "keep", "size", "cull_years", "bull_years", "bull_age", "bulls", "source", "kin", "swap_every",
        "strict",
    }  # fmt: skip


@pytest.mark.parametrize(
    "words",
    "mine x:name=y x:keep=2 x:keep=a x:source=found x:strict=1 x:bulls x:bulls=-1 x:a=1".split(),
)
def test_words_that_are_no_policy_are_refused(words: str) -> None:
    with pytest.raises(Refused):
        policy_of(words)


# -- doubt, groups of bulls, the book's own rates --


def test_the_limit_is_held_as_in_the_sort(empty: Herd) -> None:
    """Tay is of one of two bulls: a quarter with either at worst, an eighth by the chances."""
    h = empty
    for bull in ("Cheviot", "Pentland"):
        h.add(bull, "M", date(2020, 3, 1))
    h.add("Nith", "F", date(2016, 3, 1))
    both = (h.id["Cheviot"], h.id["Pentland"])
    h.do(TurnIn(bulls=both, females=(h.id["Nith"],), day=date(2022, 6, 1), out=date(2022, 6, 30)))
    h.add("Tay", "F", date(2023, 3, 25), dam=h.id["Nith"])

    def kinship(held: str | None) -> Any:
        begin = h.ask(beginning, on=ON, ask=SortAsk(held=held))
        assert (begin.held, begin.doubtful) == (held or "worst", True)
        rows = [begin.animals.index(h.id[tag]) for tag in ("Tay", "Cheviot", "Pentland", "Nith")]
        return begin.start.kinship[np.ix_(rows, rows)]

    worst, expected = kinship(None), kinship("expected")
    assert worst[0].tolist() == [0.5, 0.25, 0.25, 0.25]
    assert expected[0].tolist() == pytest.approx([0.5, 0.125, 0.125, 0.25])
    assert (worst == worst.T).all()
    assert (worst >= expected).all()


def test_bulls_of_one_group_begin_as_one(small: Herd) -> None:
    h = small
    first = AskedBull(h.id["Cheviot"], capacity=7, bull_out=date(2026, 6, 20))
    second = AskedBull(h.id["Pentland"], bull_in=date(2026, 6, 22))
    season = SortAsk(bull_in=date(2026, 6, 1), bull_out=date(2026, 8, 2))
    ask = replace(season, groups=(AskedGroup((first, second), capacity=20, paddock=15),))
    begin = h.ask(beginning, on=ON, ask=ask)
    start, row = begin.start, {animal: at for at, animal in enumerate(begin.animals)}
    rows = [row[h.id[tag]] for tag in ("Cheviot", "Pentland")]
    assert start.group is not None
    assert start.turn is not None
    assert start.group[rows].tolist() == [0, 0]
    assert start.turn[rows].tolist() == [0, 1]
    assert start.by_hand[rows].tolist() == [7, 12]  # typed for this sort; his number in the book
    assert start.companies == (Company(20, 15),)
    assert (start.group[[row[h.id["Eden"]], row[h.id["Kent"]]]] == -1).all()


def test_the_rates_and_what_is_usual_are_the_books(small: Herd) -> None:
    for name, value in (
        ("settled_share", 0.5),
        ("calving_share", 0.9),
        ("rearing_share", 0.8),
        ("open_leaves", 0.7),
        ("other_leaves", 0.1),
        ("bull_leaves", 0.2),
        ("heifers_kept", 0.4),
        ("cull_age_years", 10),
    ):
        small.do(ChangeSetting(name, value))
    begin, _ = read(small)
    rates = begin.rates
    assert (rates.conception, rates.calving, rates.rearing) == (0.5, 0.9, 0.8)
    assert (rates.open_leaves, rates.other_leaves, rates.bull_leaves) == (0.7, 0.1, 0.2)
    assert policy_of("keep-bulls", begin) == replace(PRESETS["keep-bulls"], cull_years=10, keep=0.4)
    assert policy_of("keep-bulls:cull_years=15,keep=hold", begin) == replace(
        PRESETS["keep-bulls"], cull_years=15
    )
    assert begin.usual("swap-one").keep == 0.4
