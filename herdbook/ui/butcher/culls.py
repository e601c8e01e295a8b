"""The females with reasons to cull: the table's columns and the side card. Reasons, never an order."""

from __future__ import annotations

from herdbook.services.queries.butcher import Cull
from herdbook.ui.butcher.finishing import not_known
from herdbook.ui.card import Card
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.reasons import reason_text
from herdbook.ui.tables.columns import Column, Mark
from herdbook.words import say


def columns(desk: Desk) -> tuple[Column, ...]:
    """Return the columns of the cull table."""
    on = desk.on

    def care(row: Cull) -> Mark | None:
        return ("act", say("take care")) if row.care else None

    def carrying(row: Cull) -> Mark | None:
        return ("soon", say(row.in_calf)) if row.in_calf else None

    return (
        Column("tag", say("tag"), mark=care, width=11),
        Column("name", say("name"), width=11),
        Column("class_", say("class"), width=13),
        Column("in_calf", say("in calf"), show=lambda _: "", mark=carrying, width=13),
        Column(
            "reasons",
            say("reasons"),
            get=lambda row: " ".join(reason_text(reason, on) for reason in row.reasons),
            width=80,
            sortable=False,
        ),
    )


def fill(card: Card, row: Cull | None, desk: Desk) -> None:
    """Say what speaks for letting one female go, and what to mind before she does."""
    card.clear()
    if row is None:
        card.line(say("Choose a female to see her reasons. Whether she goes is for you to say."))
        return
    on = desk.on
    card.heading(f"{row.tag} {row.name or ''}".strip() + f", {row.class_}")
    if row.care:
        card.caution(say("Take care: {why}", why=row.care))
    if row.born:
        card.fact(say("Born"), day_text(row.born, on))
    card.section(say("Reasons in the book"))
    for reason in row.reasons:
        card.line(reason_text(reason, on), "plain")
    card.section(say("Before she goes"))
    if row.medicine_known:
        ahead = row.clear_on is not None and row.clear_on > on
        card.fact(say("Clear of medicine"), day_text(row.clear_on, on) if ahead else say("clear"))
    else:
        card.fact(say("Clear of medicine"), not_known(), "act")
    for caution in row.cautions:
        card.caution(reason_text(caution, on))
