"""What a command asks of the person: declared once beside the field, read by forms, shell and checks."""

from __future__ import annotations

import dataclasses
from dataclasses import MISSING, dataclass
from typing import Any, Literal

Kind = Literal[
    "text",
    "note",
    "date",
    "hour",
    "part_date",
    "weight",
    "length",
    "number",
    "share",
    "month_day",
    "count",
    "days",
    "choice",
    "flag",
    "animal",
    "female",
    "male",
    "animals",
    "group",
    "condition",
]
Choices = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Question:
    """One thing a command asks.

    Parameters
    ----------
    name : str
        The command's field.
    label : str
        What stands before the field on a form (English; shown through `herdbook.words.say`).
    kind : Kind
        What sort of answer is wanted; the form picks its field by it.
    choices : tuple of (value, label)
        For ``kind="choice"``.
    hint : str
        One line of help.
    optional : bool
        Whether the answer may be left empty.
    default : object
        What stands there at first, or `dataclasses.MISSING`.
    """

    name: str
    label: str
    kind: Kind
    choices: Choices
    hint: str
    optional: bool
    default: Any


def asks(
    label: str,
    kind: Kind,
    *,
    default: Any = MISSING,
    choices: Choices = (),
    hint: str = "",
    optional: bool = False,
) -> Any:
    """Return a dataclass field that carries what a form must know to ask for it.

    An optional field without a default is None when it is left empty.
    """
    if optional and default is MISSING:
        default = None
    metadata = {"label": label, "kind": kind, "choices": choices, "hint": hint, "optional": optional}
    return dataclasses.field(default=default, metadata=metadata)


def questions(command_type: type[Any]) -> tuple[Question, ...]:
    """Return what `command_type` asks, in the order of its fields; fields that ask nothing are left out."""
    return tuple(
        Question(
            name=field.name,
            label=field.metadata["label"],
            kind=field.metadata["kind"],
            choices=field.metadata["choices"],
            hint=field.metadata["hint"],
            optional=field.metadata["optional"],
            default=field.default,
        )
        for field in dataclasses.fields(command_type)
        if "label" in field.metadata
    )
