"""The finishing animals: the table's columns and what the side card says of one."""

from __future__ import annotations

from datetime import date
from typing import Any

from PySide6.QtCore import QLocale

from herdbook.husbandry.finishing import Span
from herdbook.husbandry.units import from_kg
from herdbook.services.queries.butcher import Finishing
from herdbook.services.queries.classes import class_label
from herdbook.services.saying import called
from herdbook.ui.butcher.ruler import key_words, months_heading
from herdbook.ui.card import Card
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.measures import unit_of, weight_text
from herdbook.ui.reasons import reason_text
from herdbook.ui.tables.columns import Column, Mark, care_word, number
from herdbook.words import say

RULER = "months"


def not_known() -> str:
    """Return what stands where nobody knows whether an animal is clear of medicine."""
    return say("not known, ask")


def columns(desk: Desk) -> tuple[Column, ...]:
    """Return the columns of the finishing table."""
    on, unit = desk.on, unit_of(desk)

    def day(value: date | None) -> str:
        return day_text(value, on)

    def clear(row: Finishing) -> Mark | None:
        if not row.medicine_known:
            return "act", not_known()
        return None if row.clear_on and row.clear_on > on else ("go", say("clear"))

    def guess(row: Finishing) -> Mark | None:
        if row.weight_kg is None:
            return "soon", say("weigh")
        return None if row.gain_measured else ("soon", say("guess"))

    def in_unit(kg: float | None) -> float | None:
        return None if kg is None else from_kg(kg, unit)

    return (
        Column("tag", say("animal"), get=who, mark=care_word, tip=lambda row: row.care or "", width=14),
        Column(
            "weight_kg",
            say("{unit} today", unit=unit),
            get=lambda row: in_unit(row.weight_kg),
            show=number(0),
            mark=guess,
            figures=True,
            width=8.5,
            gives=0,
        ),
        Column("ready_on", say("ready"), show=day, width=10, gives=0),
        Column(
            "clear_on",
            say("medicine"),
            get=lambda r: _ahead(r, desk),
            show=day,
            mark=clear,
            width=12,
            gives=0,
        ),
        Column("booked_on", say("booked"), show=day, width=10, gives=2),
        Column(RULER, months_heading(on), get=lambda _: "", width=17.5, least=14.5, sortable=False),
        Column("thirty_months_on", say("30 months"), show=day, width=11, hidden=True),
        Column(
            "daily_gain_kg",
            say("{unit} a day", unit=unit),
            get=lambda row: in_unit(row.daily_gain_kg),
            show=number(2),
            figures=True,
            width=8,
            hidden=True,
        ),
    )


def who(row: Any) -> str:
    """Return what an animal is called on the page."""
    return called(row.tag, row.name)


def _ahead(row: Finishing, desk: Desk) -> object:
    return row.clear_on if row.medicine_known and row.clear_on and row.clear_on > desk.on else None


def fill(card: Card, row: Finishing | None, desk: Desk) -> None:
    """Say what is known of one finishing animal."""
    card.clear()
    if row is None:
        card.line(say("What the dates of an animal rest on stands here."))
        return
    on = desk.on
    card.heading(f"{who(row)}, {class_label(row.class_)}")
    if row.care:
        card.caution(say("Take care: {why}", why=row.care))
    if row.weight_rests_on is None:
        card.line(say("No weight yet, so no day: weigh it (W)."), "soon")
    else:
        card.fact(say("Today"), weight_text(row.weight_kg, desk))
        card.line(reason_text(row.weight_rests_on, on))
        card.fact(say("Ready at"), weight_text(row.target_kg, desk))
    card.fact(say("Ready"), day_text(row.ready_on, on) or say("no date"))
    card.fact(say("30 months"), day_text(row.thirty_months_on, on) or not_known())
    card.fact(say("Booked"), day_text(row.booked_on, on) or say("not booked"))
    _medicine(card, row, desk)
    _carcass(card, row, desk)
    for caution in row.cautions:
        card.caution(sentence(reason_text(caution, on)))
    card.line(key_words())


def _medicine(card: Card, row: Finishing, desk: Desk) -> None:
    card.section(say("Medicine"))
    if row.medicine_known:
        ahead = row.clear_on is not None and row.clear_on > desk.on
        words = say("Clear from {day}.", day=day_text(row.clear_on, desk.on)) if ahead else say("Clear.")
        card.line(words, "soon" if ahead else "go")
    else:
        card.line(say("Clear of medicine: not known, ask."), "act")
    for reason in row.medicine[-4:]:
        card.line(reason_text(reason, desk.on))


def _carcass(card: Card, row: Finishing, desk: Desk) -> None:
    if row.hanging is None:
        return
    if row.booked_on is not None:
        card.section(say("On the booked day, if it gains as now"))
    else:
        card.section(say("On the day it is ready, if it gains as now"))
    card.line(say("Hanging: {span}.", span=span_text(row.hanging.hanging_kg, desk)), "plain")
    card.line(say("To take home: {span}.", span=span_text(row.hanging.take_home_kg, desk)), "plain")


def span_text(span: Span, desk: Desk) -> str:
    """Return a range of weights: lowest to highest, with the usual one."""
    low, high = weight_text(span.low, desk), weight_text(span.high, desk)
    unit = unit_of(desk)
    return say(
        "{low} to {high}, usually {usual}",
        low=low.removesuffix(f" {unit}"),
        high=high.removesuffix(f" {unit}"),
        usual=weight_text(span.usual, desk),
    )


def sentence(text: str) -> str:
    """Return words as a sentence."""
    return QLocale().toUpper(text[:1]) + text[1:] + ("" if text.endswith(".") else ".")
