"""The class in SQL is the class of the facts, for every animal on every day; the herd counted by it."""

from __future__ import annotations

import random
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import create_engine, insert, select

from herdbook.husbandry.classes import AnimalClass
from herdbook.husbandry.days import add_months, age_months
from herdbook.services.facts import load_herd
from herdbook.services.queries.classes import (
    CLASS_GROUPS,
    class_column,
    class_label,
    group_label,
    herd_by_class,
    last_birth_of_age,
)
from herdbook.store import tables as t
from tests.services.conftest import Herd


def test_counts_of_the_small_herd(herd: Herd) -> None:
    assert herd.ask(herd_by_class) == [
        ("cows", 2),
        ("in-calf heifers", 1),
        ("bulls", 2),
        ("steers", 1),
        ("yearlings", 1),
        ("calves", 1),
        ("total", 8),
    ]
    assert dict(herd.ask(herd_by_class, on=date(2025, 8, 1))) == {
        "cows": 2,
        "in-calf heifers": 0,
        "bulls": 2,
        "steers": 0,
        "yearlings": 2,  # Tamar, who never calved, and Nith
        "calves": 2,
        "total": 8,
    }


def test_an_empty_herd_counts_nothing(empty: Herd) -> None:
    assert set(dict(empty.ask(herd_by_class)).values()) == {0}


def test_every_class_has_words() -> None:
    assert [class_label(c.value) for c in AnimalClass] == [c.value for c in AnimalClass]
    assert all(group_label(key) for key in (*CLASS_GROUPS, "total"))
    assert sorted(c for group in CLASS_GROUPS.values() for c in group) == sorted(AnimalClass)


@given(
    born=st.dates(date(2015, 1, 1), date(2030, 1, 1)),
    days=st.integers(0, 900),
    months=st.sampled_from([10, 12]),
)
def test_the_last_birth_of_an_age(born: date, days: int, months: int) -> None:
    for on in (
        born + timedelta(days=days),
        add_months(born, months),
        add_months(born, months) - timedelta(1),
    ):
        assert (age_months(born, on) >= months) == (born <= last_birth_of_age(months, on))


def _any_herd(dice: random.Random, animals: int) -> dict[str, list[dict[str, object]]]:
    """Return the rows of a herd with every sort of birth date and happenings strewn over it, sense or not."""

    def day() -> date:
        return date(2022, 1, 1) + timedelta(days=dice.randrange(1500))

    def strewn(chance: float, **more: list[str]) -> list[dict[str, object]]:
        return [
            {"animal_id": animal, "day": day(), **{name: dice.choice(words) for name, words in more.items()}}
            for animal in range(1, animals + 1)
            for _ in range(3)
            if dice.random() < chance
        ]

    return {
        "animal": [
            {
                "id": animal,
                "tag": str(animal),
                "tag_key": str(animal),
                "sex": dice.choice(["F", "M", "F", "M", None]),
                "born": dice.choice([None, day(), day(), day(), day()]),
                "born_precision": dice.choice(["day", "day", "month", "year", "before"]),
            }
            for animal in range(1, animals + 1)
        ],
        "weaning": strewn(0.15),
        "castration": strewn(0.2, method=["ring", "knife", "rig"]),
        "calving": strewn(0.15),
        "loss": strewn(0.1, kind=["aborted"]),
        "pregnancy_check": strewn(0.4, result=["pregnant", "multiple", "open", "unknown"]),
    }


@pytest.mark.parametrize("seed", range(4))
def test_sql_and_facts_agree_on_every_animal(seed: int) -> None:
    engine = create_engine("sqlite://")
    t.Base.metadata.create_all(engine)
    dice = random.Random(seed)
    told = set()
    with engine.begin() as conn:
        for table, rows in _any_herd(dice, 150).items():
            conn.execute(insert(t.Base.metadata.tables[table]), rows)
        days = [date(2022, 1, 1) + timedelta(days=dice.randrange(1600)) for _ in range(12)]
        for on in (*days, date(2024, 2, 29), date(2025, 2, 28), date(2025, 12, 31)):
            by_sql = dict(conn.execute(select(t.Animal.id, class_column(on))).all())
            by_facts = {a.id: a.class_on(on).value for a in load_herd(conn, on, range(1, 151)).values()}
            assert by_sql == by_facts
            told |= set(by_sql.values())
    engine.dispose()
    assert told == {c.value for c in AnimalClass}
