"""Reading in: rows of sheets into the book, as one act."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date

from sqlalchemy import Connection

from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Book
from herdbook.services.holdings import home
from herdbook.services.reading.animals import SINCE_UNKNOWN, read_animals, shown, write_animal
from herdbook.services.reading.calvings import read_calvings
from herdbook.services.reading.happenings import read_happenings, twice_on_a_day
from herdbook.services.reading.herd import Beast, Draft, load
from herdbook.services.reading.rows import ReadIn, WasRead
from herdbook.services.reading.write import write
from herdbook.services.registry import Refused
from herdbook.words import say

__all__ = ["ReadIn", "Step", "WasRead", "drafted", "read_in", "write_draft"]

Step = Callable[[str, int, int], None]
"""Told what is being done, how much is done, and of how much; what it raises ends the reading, unwritten."""

# About 13 % of births fall on these days by chance; over 20 % speaks of guessed dates: a study of dairy birth
# dates, from memory. The least number to judge by is a choice.
_ROUND_DAYS, _TOO_MANY, _ENOUGH = frozenset({1, 10, 15, 20}), 0.20, 30
_STEPS = 6
_DATE_LIKE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_KINDS = {
    "animals": "animals",
    "runs": "bull_runs",
    "services": "services",
    "checks": "pregnancy_checks",
    "calvings": "calvings",
    "weights": "weights",
    "treatments": "treatments",
}


def _no_step(_what: str, _done: int, _of: int) -> None:
    """Tell nobody."""


def read_in(book: Book, plan: ReadIn, on: date, *, dry_run: bool = False, step: Step = _no_step) -> WasRead:
    """Write what sheets say into the book, in one act; bad rows are left out and named.

    Parameters
    ----------
    book : Book
    plan : ReadIn
        From `herdbook.exchange.read_in.plan_read_in`.
    on : date
        The day of reading.
    dry_run : bool
        Tell what would happen and change nothing.
    step : callable (what, done, of), optional
        Told how far it is. An exception of its own ends the reading with nothing changed.

    Raises
    ------
    Refused
        While something has to be answered first (`plan.asks`); nothing is changed.
    """
    if plan.asks:
        raise Refused(Reason("must_ask", "{question}", {"question": plan.asks[0].text}))
    if dry_run:
        with book.read() as conn:
            return _told(drafted(conn, plan, on, step))
    with book.act("read_in", sheets=", ".join(plan.columns)) as work:
        draft = drafted(work.conn, plan, on, step)
        told = _told(draft)
        if draft.rows or draft.updates or any(beast.coming or beast.changed for beast in draft.herd.beasts):
            holding = home(work.session)
            work.session.flush()
            step(say("Writing"), 4, _STEPS)
            write_draft(draft, work.conn, holding)
            step(say("Saving"), 5, _STEPS)
    return told


write_draft = write


def drafted(conn: Connection, plan: ReadIn, on: date, step: Step = _no_step) -> Draft:
    """Put together what is to be written, and what is to be told of it; `write_draft` writes it."""
    step(say("Looking at the animals of the book"), 0, _STEPS)
    draft = Draft(plan, load(conn), on)
    for kind, word in _KINDS.items():
        if getattr(plan, kind):
            draft.counts[word] = 0
    step(say("Animals and their parents"), 1, _STEPS)
    read_animals(draft)
    step(say("Calvings"), 2, _STEPS)
    read_calvings(draft, conn)
    step(say("Services, checks, weights and treatments"), 3, _STEPS)
    read_happenings(draft, conn)
    for beast in draft.herd.beasts:
        if beast.coming or beast.changed:
            write_animal(draft, beast)
    twice_on_a_day(draft)
    _ask_of_all(draft)
    return draft


def _ask_of_all(draft: Draft) -> None:
    """Put the questions that are asked once for many animals."""
    new = [beast for beast in draft.herd.beasts if beast.coming or beast.changed]
    named = [beast.tag for beast in new if not beast.tagged and not beast.born]
    draft.counts["known_by_name"] += len(named)
    here = [beast for beast in new if beast.here_on(draft.on)]
    _ask_of_round_days(draft, [beast for beast in new if beast.row])
    sires = {beast.sire.place for beast in draft.herd.beasts if beast.sire}
    _ask(
        draft, "entire", say("Which of these males are entire?"), [b for b in here if _may_be_steer(b, sires)]
    )
    _ask(draft, "no_sex", say("The sex of these is not known:"), [b for b in here if b.sex is None])
    _ask(draft, "no_dates", say("Neither birth nor arrival of these is known; they count as always here:"),
         [b for b in here if b.first == SINCE_UNKNOWN])  # fmt: skip
    _ask(draft, "gone_when", say("When did these leave?"),
         [b for b in new if b.row and not b.here and (b.row.leaving or b.row.dead)])  # fmt: skip
    _ask(draft, "tag_like_date", say("A spreadsheet may have made dates of these tags:"),
         [b for b in new if _DATE_LIKE.fullmatch(b.tag)])  # fmt: skip


def _ask_of_round_days(draft: Draft, beasts: list[Beast]) -> None:
    """Ask whether birth dates are guesses where too many of them fall on the days that people guess."""
    born = [beast for beast in beasts if beast.born and beast.born.precision == "day"]
    guessed = [beast for beast in born if beast.born and beast.born.day.day in _ROUND_DAYS]
    if len(born) >= _ENOUGH and len(guessed) > _TOO_MANY * len(born):
        text = say(
            "{n} of {of} births fall on the 1st, 10th, 15th or 20th. Write guesses as a month or a year.",
            n=len(guessed),
            of=len(born),
        )
        draft.ask("round_births", text, [beast.tag for beast in guessed])


def _ask(draft: Draft, code: str, sentence: str, beasts: list[Beast]) -> None:
    if beasts:
        tags = [beast.tag for beast in beasts]
        draft.ask(code, f"{sentence} {shown(tags)}", tags)


def _may_be_steer(beast: Beast, sires: set[int]) -> bool:
    """Tell whether nobody said if a male is castrated; one that has sired calves is not asked about."""
    said = beast.row is not None and beast.row.entire
    return beast.sex == "M" and not beast.castrated and not said and beast.place not in sires


def _told(draft: Draft) -> WasRead:
    plan = draft.plan
    asked = {word for kind, word in _KINDS.items() if getattr(plan, kind)}
    added = {word: n for word, n in draft.counts.items() if n or word in asked}
    return WasRead(
        added=added,
        skipped=tuple(sorted((*plan.skipped, *draft.skipped), key=lambda s: (s.sheet, s.row))),
        questions=(*plan.questions, *draft.questions),
    )
