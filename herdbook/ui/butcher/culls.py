"""The females with reasons to cull: the table's columns and the side card. Reasons, never an order."""

from __future__ import annotations

from herdbook.services.queries.butcher import Cull
from herdbook.services.queries.classes import class_label
from herdbook.ui.butcher.finishing import not_known, who
from herdbook.ui.card import Card
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.reasons import reason_text
from herdbook.ui.tables.columns import Column, Mark, care_word
from herdbook.words import say


def columns(desk: Desk) -> tuple[Column, ...]:
    """Return the columns of the cull table."""
    on = desk.on

    def carrying(row: Cull) -> Mark | None:
        return ("soon", in_calf_words(row)) if row.in_calf else None

    def reasons(row: Cull) -> str:
        return " ".join(reason_text(reason, on) for reason in row.reasons)

    return (
        Column("tag", say("animal"), get=who, mark=care_word, tip=lambda row: row.care or "", width=14),
        Column("class_", say("class"), show=class_label, width=11, gives=2),
        Column("in_calf", say("in calf"), show=lambda _: "", mark=carrying, width=11),
        Column(
            "reasons",
            say("reasons"),
            get=reasons,
            tip=reasons,
            width=39,
            least=24,
            gives=0,
            wraps=True,
            sortable=False,
        ),
    )


def in_calf_words(row: Cull) -> str:
    """Return whether she is in calf, as far as the book knows."""
    words = {"in calf": say("in calf"), "may be in calf": say("may be in calf")}
    return words.get(row.in_calf, say("not in calf by the book"))


def fill(card: Card, row: Cull | None, desk: Desk) -> None:
    """Say what speaks for letting one female go, and what to mind before she does."""
    card.clear()
    if row is None:
        card.line(say("The reasons of a female stand here. Whether she goes is for you to say."))
        return
    on = desk.on
    card.heading(f"{who(row)}, {class_label(row.class_)}")
    if row.care:
        card.caution(say("Take care: {why}", why=row.care))
    if row.born:
        card.fact(say("Born"), day_text(row.born, on, row.born_precision))
    card.section(say("Reasons in the book"))
    for reason in row.reasons:
        card.line(reason_text(reason, on), "plain")
    card.section(say("Before she goes"))
    card.fact(say("In calf"), in_calf_words(row), "soon" if row.in_calf else "")
    if row.medicine_known:
        ahead = row.clear_on is not None and row.clear_on > on
        card.fact(say("Clear of medicine"), day_text(row.clear_on, on) if ahead else say("clear"))
    else:
        card.fact(say("Clear of medicine"), not_known(), "act")
    for caution in row.cautions:
        card.caution(reason_text(caution, on))
