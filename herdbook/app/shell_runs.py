"""The shell command `runs`: what came of each bull run, and how its females should be settled by now."""

from __future__ import annotations

from argparse import Namespace
from typing import TYPE_CHECKING, Any

from herdbook.app.shell import Told
from herdbook.services.book import Book
from herdbook.words import say

if TYPE_CHECKING:
    from herdbook.services.queries.exposures import RunReview


def runs(options: Namespace) -> Told:
    """What came of each run that has begun, the latest first."""
    from herdbook.services.queries.exposures import review_of_runs

    book = Book.open(options.file, read_only=True)
    try:
        with book.read() as conn:
            rows = review_of_runs(conn, options.on)
    finally:
        book.close()
    lines = tuple(line for row in rows for line in _lines(row))
    told = lines or (say("No bull has been turned in yet."),)
    return Told({"on": options.on, "runs": [_answer(row) for row in rows]}, told)


def _answer(row: RunReview) -> dict[str, Any]:
    run, told = row.run, row.outcome
    return {
        "name": run.name,
        "bulls": [{"bull": bull.tag, "in": bull.from_day, "out": bull.to_day} for bull in run.bulls],
        "first": run.first,
        "last": run.last,
        "exposed": told.exposed,
        "left": told.left,
        "held": told.held[0],
        "calved": told.calved,
        "in_calf": told.in_calf,
        "lost": told.lost,
        "open": told.open,
        "not_known": told.not_known,
        "of": told.whole,
        "with_other_bulls_too": told.shared,
        "rolled_in": [female.tag for female in told.rolled_in],
        "should_be_settled": row.settling.share,
        "heats_after_two_cycles": [
            {
                "bulls": [bull.tag for bull in heats.bulls],
                "seen": len(heats.seen),
                "of": heats.females,
                "usual": heats.usual,
                "many": heats.many,
            }
            for heats in row.settling.heats
        ],
    }


def _lines(row: RunReview) -> list[str]:
    """Return a run in a few lines, with a count beside every percentage."""
    from herdbook.services.queries.exposures import share_words

    run, told = row.run, row.outcome
    until = run.last or say("still in")
    head = say("{first} - {last}  {bulls}", first=run.first, last=until, bulls=run.bull_words)
    held, open_, born = (share_words(share) for share in (told.held, told.found_open, told.born))
    shares = say("  in calf or calved {held}; open {open}; calved {born}", held=held, open=open_, born=born)
    lines = [head, shares] if told.not_known < told.whole else [head]
    if told.not_known:
        lines.append(
            say(
                "  of {n} nothing is known yet; {share:.0%} of all should be settled by now",
                n=told.not_known,
                share=row.settling.share,
            )
        )
    for heats in row.settling.heats:
        if heats.many:
            lines.append(
                say(
                    "  many heats after two cycles with {bulls}: {seen} of {n}; ask your vet",
                    bulls=heats.bull_words,
                    seen=len(heats.seen),
                    n=heats.females,
                )
            )
    return lines
