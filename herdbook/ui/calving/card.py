"""What the side card says of one female: her days, what they rest on, the sire, and how she calved before."""

from __future__ import annotations

from herdbook.husbandry.duedates import Stage
from herdbook.services.queries.animal import AnimalCard
from herdbook.services.queries.due import DueRow
from herdbook.ui.card import Card
from herdbook.ui.dates import day_text, day_words
from herdbook.ui.desk import Desk
from herdbook.ui.reasons import reason_text
from herdbook.ui.tables.columns import percent
from herdbook.words import say

BREEDING = frozenset({"calving", "pregnancy_check", "service", "sign_seen", "loss", "heat"})
SHOWN = 8


def sires_text(row: DueRow) -> str:
    """Return the possible sires, each with its chance where there are several."""
    if len(row.sires) == 1:
        return f"{row.sires[0].tag} {row.sires[0].name or ''}".strip()
    show = percent(0)
    return ", ".join(f"{sire.tag} {show(sire.chance)}" for sire in row.sires)


def fill(card: Card, row: DueRow | None, desk: Desk) -> None:
    """Say what is known of when she calves."""
    card.clear()
    if row is None:
        card.line(say("Choose a female to see what her days rest on."))
        return
    on = desk.on
    card.heading(f"{row.tag} {row.name or ''}".strip() + f", {row.class_}")
    if row.care:
        card.caution(say("Take care: {why}", why=row.care))
    card.fact(say("Likeliest"), day_words(row.expected, on))
    window = say("{first} to {last}", first=day_text(row.first_due, on), last=day_text(row.last_due, on))
    card.fact(say("Window"), window)
    card.fact(say("Sire"), sires_text(row) or say("not known"))
    card.line(reason_text(row.rests_on, on))
    for note in row.notes:
        tone = "act" if row.stage in (Stage.LATE, Stage.LONG_PAST) else "quiet"
        card.line(reason_text(note, on), tone)
    if not row.confirmed:
        card.line(say("No check has found her in calf: she may be open."), "soon")


def caution(card: Card, row: DueRow) -> None:
    """Say when to look and when to ring, for a female that is near."""
    if row.stage is Stage.NOT_DUE:
        return
    words = (
        say(
            "First calf: look often. An hour from the water bag and no progress: examine her or ring the vet."
        )
        if row.first_calving
        else say("Half an hour from the water bag without progress: examine her or ring your vet.")
    )
    card.caution(words)


def past(card: Card, animal: AnimalCard, desk: Desk) -> None:
    """Add what happened to her between bull and birth, latest first."""
    told = [h for h in animal.happenings if h.kind in BREEDING][:SHOWN]
    if not told:
        return
    card.section(say("Before"))
    for happening in told:
        card.line(f"{day_text(happening.day, desk.on, happening.precision)}: {happening.words}")
