"""The Register's table: its columns, and where its rows come from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.units import from_kg
from herdbook.services.queries import register
from herdbook.services.queries.classes import class_label
from herdbook.services.queries.register import RegisterAsk, RegisterRow
from herdbook.ui.dates import day_text
from herdbook.ui.reasons import reason_text
from herdbook.ui.register.wording import part_day_text
from herdbook.ui.tables.columns import Column, Mark, care_reason, number
from herdbook.words import say


class RegisterSource:
    """What the table asks the book: set on the window's thread, read beside it.

    Parameters
    ----------
    on : date

    Attributes
    ----------
    ask : RegisterAsk
        Which animals; text and order come from the table.
    on : date
        As of which day.
    """

    def __init__(self, on: date) -> None:
        self.ask = RegisterAsk()
        self.on = on

    def keys(self, conn: Any, *, sort: str, descending: bool, text: str, limit: int | None) -> Sequence[int]:
        """Return the ids of the animals, in order."""
        ask = replace(self.ask, text=text, sort=sort or "tag", descending=descending)
        return register.ids(conn, ask, self.on, limit=limit)

    def rows(self, conn: Any, keys: Sequence[int]) -> list[RegisterRow]:
        """Return the rows of these animals."""
        return register.rows(conn, keys, self.on)


def columns(today: date, unit: str) -> tuple[Column, ...]:
    """Return the columns of the register."""

    def born(row: RegisterRow) -> PartDay | None:
        return PartDay(row.born, row.born_precision) if row.born else None

    def place(row: RegisterRow) -> Mark | None:
        if row.alerts:
            return "act", say("too young")
        if row.here:
            return None
        if row.left_on is None:
            return "quiet", say("by name only")
        return "quiet", say("left {day}", day=day_text(row.left_on, today))

    def weight(row: RegisterRow) -> float | None:
        return None if row.weight_kg is None else round(from_kg(row.weight_kg, unit), 1)

    def weighed(row: RegisterRow) -> str:
        if row.weighed_on is None:
            return say("never weighed")
        return say("weighed {day}", day=day_text(row.weighed_on, today))

    def why(row: RegisterRow) -> str:
        care = [say("Take care: {reason}", reason=row.care)] if row.care else []
        return "\n".join([*care, *(reason_text(alert, today) for alert in row.alerts)])

    return (
        Column("tag", say("tag"), width=6.5, mark=_sign, tip=why),
        Column("name", say("name"), width=8, mark=care_reason, tip=why),
        Column(
            "class", say("class"), lambda row: row.class_, show=class_label, width=11.2, mark=place, tip=why
        ),
        Column("born", say("born"), born, show=lambda day: part_day_text(day, today), width=9.5),
        Column("dam", say("dam"), lambda row: row.dam_tag, width=4.5),
        Column(
            "sires",
            say("sire"),
            lambda row: row.sire_words,
            width=11.5,
            least=10,
            sortable=False,
            tip=lambda row: row.sire_words,
        ),
        Column("group", say("group"), width=9, least=6.5, gives=2),
        Column(
            "weight",
            say("weight, {unit}", unit=unit),
            weight,
            show=number(0),
            figures=True,
            width=7.8,
            tip=weighed,
        ),
        Column("breed", say("breed"), width=12, hidden=True),
        Column(
            "weighed",
            say("weighed"),
            lambda row: row.weighed_on,
            show=lambda day: day_text(day, today),
            width=11,
            sortable=False,
            hidden=True,
        ),
    )


def _sign(row: RegisterRow) -> Mark | None:
    """Return the sign beside the tag of an animal to be careful with, or that cannot wait."""
    return ("act", say("!")) if row.care or row.alerts else None
