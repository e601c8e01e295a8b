"""What is written of an animal, as the command that would write it: where a form for correcting begins."""

from __future__ import annotations

import dataclasses
from typing import Any

from sqlalchemy import Connection, select

from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.reasons import Reason
from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.happened import Happened, column_of
from herdbook.services.commands.happenings import KINDS
from herdbook.services.registry import Refused
from herdbook.store import tables as t

_BY_KIND = {kind.kind: kind for kind in KINDS}


def can_be_corrected(kind: str) -> bool:
    """Return whether a happening of this kind has a form of its own."""
    return kind in _BY_KIND


def happening_as_written(conn: Connection, kind: str, row: int) -> Happened:
    """Return one happening as the command that would write it.

    Raises
    ------
    Refused
        When it is not in the book any more.
    """
    command = _BY_KIND[kind]
    table: Any = command.table
    columns = {field.name: column_of(field.name) for field in dataclasses.fields(command)}
    query = select(*(getattr(table, column) for column in columns.values())).where(table.id == row)
    values = conn.execute(query).one_or_none()
    if values is None:
        raise Refused(Reason("no_happening", "This is not in the book any more"))
    return command(**dict(zip(columns, values, strict=True)))


def animal_as_written(conn: Connection, animal: int) -> ChangeAnimal:
    """Return what is written of an animal as the command that would write it.

    Raises
    ------
    Refused
        When there is no such animal (any more).
    """
    a = t.Animal
    same = [f.name for f in dataclasses.fields(ChangeAnimal) if hasattr(a, f.name) and f.name != "born"]
    query = select(a.dam_id, a.birth_dam_id, a.born, a.born_precision, *(getattr(a, name) for name in same))
    row = conn.execute(query.where(a.id == animal)).one_or_none()
    if row is None:
        raise Refused(Reason("no_animal", "This animal is not in the book any more"))
    dam, birth_dam, born, precision, *rest = row
    return ChangeAnimal(
        animal=animal,
        dam=dam,
        birth_dam=birth_dam,
        born=PartDay(born, precision) if born else None,
        **dict(zip(same, rest, strict=True)),
    )
