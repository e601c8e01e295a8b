"""Rows read from sheets, before anything is looked up in the book: texts, days and numbers only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from herdbook.husbandry.partday import PartDay


@dataclass(frozen=True, slots=True)
class At:
    """Where a row stands: the sheet and the number that a spreadsheet program shows."""

    sheet: str
    row: int


@dataclass(frozen=True, slots=True)
class AnimalRow:
    """A row of a sheet of animals. `entire` and `cow` say that the sheet's own word was bull or cow."""

    at: At
    tag: str
    name: str | None = None
    sex: str | None = None
    castrated: bool = False
    entire: bool = False
    cow: bool = False
    dead: bool = False
    born: PartDay | None = None
    dam: str | None = None
    sire: str | None = None
    breed: str | None = None
    colour: str | None = None
    electronic: str | None = None
    official: str | None = None
    registration: str | None = None
    entered: PartDay | None = None
    left: PartDay | None = None
    leaving: str | None = None
    reason_left: str | None = None
    last_calved: PartDay | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class RunRow:
    """A female with a bull; first and last day both count."""

    at: At
    sire: str
    dam: str
    first: date
    last: date | None


@dataclass(frozen=True, slots=True)
class ServiceRow:
    """A female served."""

    at: At
    dam: str
    sire: str | None
    day: PartDay
    note: str | None = None


@dataclass(frozen=True, slots=True)
class CheckRow:
    """A pregnancy check."""

    at: At
    dam: str
    day: PartDay
    result: str
    days: int | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class CalvingRow:
    """A calving with one calf, or with none told where tag, sex and weight are all left blank."""

    at: At
    dam: str
    day: PartDay
    ease: int | None = None
    calf: str | None = None
    sex: str | None = None
    castrated: bool = False
    dead: bool = False
    stillborn: bool = False
    kg: float | None = None
    unit: str = "kg"
    sire: str | None = None
    note: str | None = None

    @property
    def fate(self) -> str:
        """How the calf fared: alive, stillborn, or died where the sheet says no more."""
        return "stillborn" if self.stillborn else "died" if self.dead else "alive"


@dataclass(frozen=True, slots=True)
class WeightRow:
    """A weight in kg with the unit that was written."""

    at: At
    tag: str
    day: PartDay
    kg: float
    unit: str


@dataclass(frozen=True, slots=True)
class TreatmentRow:
    """A medicine given; no days for meat means not known, never clear."""

    at: At
    tag: str
    day: PartDay
    product: str
    meat_days: float | None = None
    dose: str | None = None
    batch: str | None = None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Skipped:
    """A row that is not read in, and why; `column` is the sheet's own heading."""

    sheet: str
    row: int
    column: str | None
    reason: str


@dataclass(frozen=True)
class Question:
    """Something that is read in, or left blank, and wants a look.

    Parameters
    ----------
    code : str
        Stable word for programs.
    text : str
        The question or remark, in the reader's language.
    tags : tuple of str
        The animals it is about.
    sheet, row, column
        Where it stands, if in one place.
    """

    code: str
    text: str
    tags: tuple[str, ...] = ()
    sheet: str | None = None
    row: int | None = None
    column: str | None = None


@dataclass(frozen=True)
class Ask:
    """What must be answered before a sheet can be read in.

    Parameters
    ----------
    what : {"dates", "kind"}
        The order of day and month in a column, or what the sheet or its columns are.
    sheet : str
    column : str or None
        The heading, for "dates".
    examples : tuple of str
        Cells that could mean two days, or the headings that were not understood.
    text : str
        The question.
    """

    what: str
    sheet: str
    column: str | None
    examples: tuple[str, ...]
    text: str


@dataclass(frozen=True)
class ReadIn:
    """What sheets say: rows that can be read in, rows that cannot, and what has to be asked first.

    `columns` gives, by sheet and field, the sheet's own heading.
    """

    animals: tuple[AnimalRow, ...] = ()
    runs: tuple[RunRow, ...] = ()
    services: tuple[ServiceRow, ...] = ()
    checks: tuple[CheckRow, ...] = ()
    calvings: tuple[CalvingRow, ...] = ()
    weights: tuple[WeightRow, ...] = ()
    treatments: tuple[TreatmentRow, ...] = ()
    skipped: tuple[Skipped, ...] = ()
    questions: tuple[Question, ...] = ()
    asks: tuple[Ask, ...] = ()
    columns: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def heading(self, at: At, name: str) -> str | None:
        """Return the sheet's own heading of a field."""
        return self.columns.get(at.sheet, {}).get(name)


@dataclass(frozen=True)
class WasRead:
    """What was read in (or, on a dry run, would be): counts by kind, rows skipped, questions."""

    added: Mapping[str, int]
    skipped: tuple[Skipped, ...]
    questions: tuple[Question, ...]

    def as_json(self) -> dict[str, Any]:
        """Return it as plain values for JSON."""
        return {
            "added": dict(self.added),
            "skipped": [
                {"sheet": s.sheet, "row": s.row, "column": s.column, "reason": s.reason} for s in self.skipped
            ],
            "questions": [
                {
                    "code": q.code,
                    "text": q.text,
                    "tags": list(q.tags),
                    "sheet": q.sheet,
                    "row": q.row,
                    "column": q.column,
                }
                for q in self.questions
            ],
        }
