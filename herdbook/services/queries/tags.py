"""From the word that a person types to the animal that is meant."""

from __future__ import annotations

from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, Connection, func, select

from herdbook.husbandry.ids import read_electronic, tag_key
from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import present
from herdbook.services.registry import Refused
from herdbook.store import tables as t


def animal_by_tag(conn: Connection, tag: str, on: date) -> int:
    """Return the animal that bears, bore or goes by `tag`; the present holder wins.

    Capitals matter only where tags differ by nothing else.

    Raises
    ------
    Refused
        When no animal, or more than one with equal right, answers to it.
    """
    a, i = t.Animal, t.Identity
    called = set(conn.scalars(select(a.id).where((a.tag_key == tag_key(tag)) | _spelt(a.tag, tag))))
    worn = set(conn.scalars(select(i.animal_id).where(_spelt(i.value, tag))))
    worn |= _electronic(conn, tag)
    here = set(conn.scalars(present(on).where(t.Stay.animal_id.in_(called | worn))))
    for choice in (called & here, worn & here, called, worn):
        if len(choice) > 1:
            choice = _just_so(conn, choice, tag.strip()) or choice
        if len(choice) == 1:
            return choice.pop()
        if choice:
            raise Refused(
                Reason("tag_of_several", "{n} animals answer to {tag}", {"n": len(choice), "tag": tag})
            )
    named = set(conn.scalars(select(a.id).where(_spelt(a.name, tag))))
    if len(named) == 1:
        return named.pop()
    raise Refused(Reason("no_such_tag", "No animal answers to {tag}", {"tag": tag}))


def sex_of(conn: Connection, animal: int) -> str | None:
    """Return an animal's sex, None where it is not known."""
    return conn.scalar(select(t.Animal.sex).where(t.Animal.id == animal))


def _electronic(conn: Connection, text: str) -> set[int]:
    """Return who bears an electronic number, however it is spelt."""
    i = t.Identity
    try:
        digits = read_electronic(text).digits
    except ValueError:
        return set()
    return set(conn.scalars(select(i.animal_id).where(i.scheme == "electronic", i.value == digits)))


def _spelt(column: Any, text: str) -> ColumnElement[bool]:
    """Return whether a column holds a text, capitals aside; those beyond A to Z are not all understood."""
    spellings = {text.strip(), text.strip().casefold()}
    found: ColumnElement[bool] = column.in_(spellings) | func.lower(column).in_(spellings)
    return found


def _just_so(conn: Connection, animals: set[int], tag: str) -> set[int]:
    """Return those whose tag is written just so."""
    a = t.Animal
    return set(conn.scalars(select(a.id).where(a.id.in_(animals), a.tag == tag)))
