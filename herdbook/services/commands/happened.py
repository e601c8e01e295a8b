"""The base of the commands that write one happening of one animal."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar

from herdbook.services.asking import asks
from herdbook.store import tables as t


@dataclass(frozen=True)
class Happened:
    """What every happening has: the animal, the civil day, and the round of work it belongs to."""

    table: ClassVar[type[t.Happening]]
    kind: ClassVar[str]
    label: ClassVar[str]
    group: ClassVar[str] = "other"

    animal: int = asks("Animal", "animal")
    day: date = asks("Date", "date")
    round: int | None = dataclasses.field(default=None, kw_only=True)
    note: str | None = dataclasses.field(
        default=None,
        kw_only=True,
        metadata={"label": "Note", "kind": "note", "choices": (), "hint": "", "optional": True},
    )


_COLUMNS = {
    "animal": "animal_id",
    "round": "round_id",
    "sire": "sire_id",
    "donor": "donor_id",
    "by": "by_id",
    "score_kind": "kind",
    "arrival_kind": "kind",
    "departure_kind": "kind",
    "loss_kind": "kind",
}
"""Fields whose column has another name; every other field carries its column's name."""


def column_of(field: str) -> str:
    """Return the table's column for a command's field."""
    return _COLUMNS.get(field, field)


def column_values(command: Happened) -> dict[str, Any]:
    """Return the values of `command` under the names of its table's columns."""
    return {column_of(field.name): getattr(command, field.name) for field in dataclasses.fields(command)}
