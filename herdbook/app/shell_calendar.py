"""The shell command `calendar`: what is ahead in the herd as a file that a calendar can read."""

from __future__ import annotations

from argparse import Namespace

from herdbook.app.shell import Told
from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Book
from herdbook.services.registry import Refused
from herdbook.words import say


def calendar(options: Namespace) -> Told:
    """Write the calendar file; the book remembers what it said, so that later ones can move and cancel."""
    from herdbook.exchange.registry import UnknownFormat, calendar_writer

    try:
        write = calendar_writer(options.out)
    except UnknownFormat as error:
        raise Refused(Reason("unknown_format", "{why}", {"why": error})) from error
    with Book.open(options.file) as book:
        try:
            events = write(book, options.out, options.on)
        except OSError as error:
            values = {"file": options.out, "why": error.strerror or type(error).__name__}
            raise Refused(Reason("not_written", "{file}: {why}. Choose another place", values)) from error
    withdrawn = sum(event.withdrawn for event in events)
    answer = {
        "file": str(options.out),
        "on": options.on,
        "events": [
            {
                "uid": event.uid,
                "day": event.day,
                "title": event.title,
                "sequence": event.sequence,
                "cancelled": event.withdrawn,
            }
            for event in events
        ],
    }
    ahead = len(events) - withdrawn
    lines = [say("{n} events ahead, written to {file}", n=ahead, file=options.out)]
    if withdrawn:
        lines.append(say("{n} events of earlier files are cancelled in it", n=withdrawn))
    lines.append(say("Read it into a calendar of its own: one that can be emptied if it takes events twice."))
    return Told(answer, tuple(lines))
