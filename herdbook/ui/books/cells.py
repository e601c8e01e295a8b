"""The cells of the grid for a book from paper: what is typed in each, and how it is understood."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Any

from herdbook.exchange.values import SexSaid, read_sex
from herdbook.husbandry.partday import PartDay
from herdbook.services.commands.starting import FirstRow, look_over
from herdbook.ui.dates import day_text, day_words, read_day, read_part
from herdbook.ui.forms.days import written
from herdbook.ui.reasons import reason_text
from herdbook.words import say

Texts = Sequence[str]
"""What stands in one row of the grid, cell by cell."""

DITTO = frozenset({'"', "”", "″", "''", "“", "〃"})
"""The signs by which a field book says: the same as above."""


def _word(text: str, _on: date) -> str:
    return " ".join(text.split())


def _sex(text: str, _on: date) -> SexSaid:
    said = read_sex(text)
    if said.dead:
        raise ValueError(say("Only animals that are alive and yours stand here."))
    return said


def _part(text: str, on: date) -> PartDay:
    return read_part(text, on)


def _day(text: str, on: date) -> date:
    return read_day(text, on)


def _due(text: str, on: date) -> PartDay:
    return read_part(text, on, forward=True)


@dataclass(frozen=True)
class Cell:
    """A column of the grid.

    Parameters
    ----------
    field : str
        The field of `FirstRow` that it fills.
    heading, hint : str
    width : int
        In figures of body type.
    read : callable (text, on) -> value
        Raises ValueError in plain words.
    females : bool
        Whether only females have anything here.
    """

    field: str
    heading: str
    hint: str
    width: int
    read: Callable[[str, date], Any]
    females: bool = False


def cells() -> tuple[Cell, ...]:
    """Return the columns in the order in which they are typed."""
    return (
        Cell("tag", say("tag"), say("as it stands on the ear"), 8, _word),
        Cell("sex", say("sex"), say("cow, heifer, bull, steer, bull calf; or F, M"), 9, _sex),
        Cell("born", say("born"), say("a year will do: 2021, Apr 2021, 3/4/21"), 12, _part),
        Cell("dam", say("dam"), say("her tag or name; she needs no row"), 8, _word),
        Cell("sire", say("sire"), say("his tag or name; he needs no row"), 8, _word),
        Cell("last_calved", say("last calved"), say("a day, a month or a year"), 11, _part, True),
        Cell("in_calf_to", say("in calf to"), say("the bull with her, by tag or name"), 10, _word, True),
        Cell("bull_in", say("bull in"), say("her first day with him"), 13, _day, True),
        Cell("bull_out", say("bull out"), say("her last day with him; empty: still in"), 13, _day, True),
        Cell("due", say("or due"), say("the month, if bull in is not known: Apr"), 10, _due, True),
        Cell("name", say("name"), say("if she has one"), 10, _word),
    )


@lru_cache(maxsize=8192)
def _read(cell: Cell, text: str, on: date) -> tuple[Any, str]:
    """Return the value of a cell's text, and why it cannot be read if it cannot."""
    try:
        return cell.read(text, on), ""
    except ValueError as error:
        return None, str(error)


@dataclass(frozen=True)
class Trouble:
    """What is said of a cell: `wrong` stands in the way of saving."""

    text: str
    wrong: bool


@dataclass(frozen=True)
class Understood:
    """What the grid says: the rows that could be read, and by (row, column) what is said of a cell."""

    rows: tuple[FirstRow, ...] = ()
    troubles: Mapping[tuple[int, int], Trouble] = field(default_factory=dict)

    @property
    def wrong(self) -> list[tuple[int, int]]:
        """The cells that stand in the way of saving, in reading order."""
        return sorted(place for place, trouble in self.troubles.items() if trouble.wrong)


def understand(grid: Sequence[Texts], columns: Sequence[Cell], on: date) -> Understood:
    """Read every row of the grid that is not empty, and look the whole over."""
    troubles: dict[tuple[int, int], Trouble] = {}
    rows: list[FirstRow] = []
    for place, texts in enumerate(grid):
        values = _values(place, texts, columns, on, troubles)
        if not any(text.strip() for text in texts):
            continue
        if "tag" in values:
            rows.append(_row(place + 1, values))
        else:
            troubles.setdefault((place, 0), Trouble(say("The tag is wanted."), wrong=True))
    at = {column.field: n for n, column in enumerate(columns)}
    for doubt in look_over(rows, on):
        where = (doubt.number - 1, at[doubt.field])
        known = troubles.get(where)
        if known is None or (doubt.wrong and not known.wrong):
            troubles[where] = Trouble(reason_text(doubt.reason, on) + ".", doubt.wrong)
    return Understood(tuple(rows), troubles)


def _values(
    place: int,
    texts: Texts,
    columns: Sequence[Cell],
    on: date,
    troubles: dict[tuple[int, int], Trouble],
) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for n, (column, text) in enumerate(zip(columns, texts, strict=True)):
        if text.strip():
            value, why = _read(column, text.strip(), on)
            if why:
                troubles[place, n] = Trouble(why, wrong=True)
            else:
                values[column.field] = value
    return values


def _row(number: int, values: dict[str, Any]) -> FirstRow:
    said: SexSaid | None = values.pop("sex", None)
    if said is None:
        return FirstRow(number=number, **values)
    return FirstRow(number=number, sex=said.sex, castrated=said.castrated, cow=said.cow, **values)


def in_words(column: Cell, text: str, on: date) -> str:
    """Return what was understood of a cell, in words; empty where the text says it as well."""
    value, why = _read(column, text.strip(), on) if text.strip() else (None, "")
    if why or value is None:
        return why
    if isinstance(value, SexSaid):
        return _sex_words(value)
    if isinstance(value, PartDay):
        if value.precision == "day":
            return day_words(value.day, on)
        return say("{day}, as far as known", day=day_text(value.day, on, value.precision))
    return day_words(value, on) if isinstance(value, date) else ""


def settled(column: Cell, text: str, on: date) -> str:
    """Return a cell's text as it is kept: days in full, since "yesterday" means another day tomorrow."""
    value, _ = _read(column, text, on) if text else (None, "")
    part = PartDay(value) if isinstance(value, date) else value
    if not isinstance(part, PartDay) or part.precision == "before":
        return text
    if part.precision == "month":
        return f"{part.day.month}/{part.day.year}"
    return str(part.day.year) if part.precision == "year" else written(part.day)


def _sex_words(said: SexSaid) -> str:
    if said.castrated:
        return say("a steer: a castrated male")
    if said.entire:
        return say("a bull: an entire male")
    if said.cow:
        return say("a cow: a female that has calved")
    return say("a female") if said.sex == "F" else say("a male, entire unless you say steer")


def is_male(texts: Texts, columns: Sequence[Cell], on: date) -> bool:
    """Tell whether a row's sex is that of a male."""
    place = next(n for n, column in enumerate(columns) if column.field == "sex")
    value, _ = _read(columns[place], texts[place].strip(), on) if texts[place].strip() else (None, "")
    return value is not None and value.sex == "M"
