"""What the side card says of one female to calve: her day and what it rests on, signs, earlier calvings."""

from __future__ import annotations

from datetime import date, datetime

from herdbook.husbandry.calving import help_wanted
from herdbook.husbandry.duedates import Stage
from herdbook.husbandry.labour import call_words
from herdbook.services.queries.calving import Coming, LookBack
from herdbook.services.queries.watch import begun_of, end_of, rules_of
from herdbook.services.saying import called
from herdbook.ui.calving.ruler import TONES, key_words
from herdbook.ui.calving.table import class_words, stage_words, window_words
from herdbook.ui.card import Card
from herdbook.ui.dates import day_text, day_words
from herdbook.ui.desk import Desk
from herdbook.ui.pedigree.dialog import PAIR, show_pedigree
from herdbook.ui.reasons import reason_text
from herdbook.words import say

MOST_SIGNS, MOST_CALVINGS = 3, 3
NOTES = {"found_in_calf": "plain", "brief_run": "soon", "rolled": "plain"}
"""The tone of what to know besides; what is not named here is to be acted on."""


def fill(card: Card, row: Coming | None, desk: Desk) -> None:
    """Say what is known of one female; `past` adds what happened to her before."""
    card.clear()
    if row is None:
        card.line(say("Choose a female to see what her day rests on."))
        return
    on = desk.on
    card.heading(f"{row.label}, {class_words(row)}")
    if row.care:
        card.caution(say("Take care: {why}", why=row.care))
    card.line(day_words(row.expected, on), "plain")
    card.fact(say("Between"), window_words(row, on))
    card.fact(say("Stage"), stage_words(row.stage), TONES[row.stage])
    if row.first_calving:
        card.fact(say("Calf"), say("her first"), "soon" if row.stage is not Stage.NOT_DUE else "plain")
    _sires(card, row)
    if row.sires:
        card.link(say("How the two are related (P)"), lambda: show_pair(row, desk))
    if row.group:
        card.fact(say("Group"), row.group)
    card.section(say("What the day rests on"))
    card.line(reason_text(row.rests_on, on), "plain")
    for note in row.notes:
        card.line(reason_text(note, on), NOTES.get(note.code, "act"))
    if not row.confirmed:
        card.line(say("Not found in calf yet: she was only with a bull or served."), "soon")
    if row.stage is Stage.DUE_NOW and on > row.watch[1]:
        card.line(say("Her last day is past too: look at her; if in doubt ask your vet."), "act")
    if row.stage is not Stage.NOT_DUE:
        card.caution(reason_text(help_wanted(row.first_calving, rules_of(desk.settings)), on))


def show_pair(row: Coming | None, desk: Desk) -> None:
    """Show how a female and the likeliest sire of her calf are related."""
    if row is not None and row.sires:
        show_pedigree(desk, row.animal, row.sires[0].animal, PAIR)


def _sires(card: Card, row: Coming) -> None:
    """Say who may be the sire; of bulls equally likely no chance is said, since dates tell nothing there."""
    if not row.sires:
        card.fact(say("Sire"), say("not known"))
        return
    together = len(row.sires) > 1 and len({round(sire.chance, 9) for sire in row.sires}) == 1
    for number, sire in enumerate(row.sires):
        words = called(sire.tag, sire.name)
        if len(row.sires) > 1 and not together:
            words = say(
                "{bull}, {chance:.0f}\N{NO-BREAK SPACE}% by dates", bull=words, chance=100 * sire.chance
            )
        card.fact(say("or") if number and together else say("Sire") if not number else "", words)


def labour_now(card: Card, row: Coming, back: LookBack, desk: Desk, now: datetime) -> None:
    """Say for how long she has been calving and from what hour the vet is rung, if it has begun."""
    begun = begun_of(back.signs, row.first_calving, now, back.rules)
    if begun is None:
        return
    hours, minutes = divmod(begun.minutes(now), 60)
    card.section(say("Calving now"))
    first = day_text(begun.began.date(), desk.on)
    card.fact(say("First seen"), say("{day} {hour}", day=first, hour=f"{begun.began:%H:%M}"), "plain")
    if begun.water is not None:
        card.fact(say("Water bag or feet"), f"{begun.water:%H:%M}", "plain")
    stage = say("first, she opens") if begun.stage == 1 else say("second, the calf comes")
    card.fact(say("Stage"), stage, "plain")
    card.fact(say("In it for"), say("{h} h {m:02} min", h=hours, m=minutes), "plain")
    words = reason_text(call_words(begun, row.first_calving, back.rules), desk.on)
    card.line(words, "act" if begun.wants_help(now) else "soon")
    card.line(say("A calving goes on only by what is written: write each sign with its hour (S)."))


def clock(on: date) -> datetime:
    """Return the hour: the keeper's own on his own day, else the end of the day that is looked at."""
    now = datetime.now()  # noqa: DTZ005 - the keeper's own clock
    return now if now.date() == on else end_of(on)


def past(card: Card, row: Coming, back: LookBack, desk: Desk) -> None:
    """Add a birth under way, conditions of the calf, signs seen, last calvings, what the drawing means."""
    labour_now(card, row, back, desk, clock(desk.on))
    found = back.happenings
    if back.risks:
        card.section(say("Heritable conditions"))
        for sire, reason in back.risks:
            card.line(say("by {sire}: {risk}", sire=sire, risk=reason_text(reason, desk.on)), "act")
        card.line(say("Tell your vet before the birth."), "quiet")
    signs = [h for h in found if h.kind == "sign_seen" and h.day >= row.conceived_first]
    if signs:
        card.section(say("Signs seen"))
        for sign in signs[:MOST_SIGNS]:
            card.fact(day_text(sign.day, desk.on), sign.words, "plain")
    calvings = [h for h in found if h.kind in ("calving", "loss")]
    card.section(say("Last calvings"))
    for happening in calvings[:MOST_CALVINGS]:
        card.fact(day_text(happening.day, desk.on, happening.precision), happening.words, "plain")
    if not calvings:
        card.line(say("None in the book."))
    card.section(say("The drawing"))
    card.line(key_words())
