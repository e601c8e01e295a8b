"""The calendar file: what is ahead in the herd as whole-day events that any calendar can read (RFC 5545).

Each event says where it ends, the day after, since some calendars take one without an end for none. There are
no alarms, which many drop when they read a file: what is to be told ahead is an event of its own. Reading a
file anew moves the events that changed and takes out those that are cancelled, where a calendar heeds UID,
SEQUENCE and STATUS; for one that does not, a calendar of its own that can be emptied is the way.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from herdbook import __version__
from herdbook.exchange.export import aside
from herdbook.husbandry.reasons import Reason
from herdbook.services.calendar_sent import OutgoingEvent, hand_out
from herdbook.services.queries.calendar_events import calendar_events
from herdbook.services.registry import Refused
from herdbook.words import say

if TYPE_CHECKING:
    from icalendar import Event

    from herdbook.services.book import Book


def export_calendar(book: Book, path: Path, on: date, at: datetime | None = None) -> list[OutgoingEvent]:
    """Write what is ahead into a calendar file, and have the book remember what it said.

    Parameters
    ----------
    book : Book
    path : Path
    on : date
    at : datetime, optional
        The moment, with a zone; now if None.

    Returns
    -------
    list of OutgoingEvent
        As they stand in the file.

    Raises
    ------
    Refused
        If nothing is ahead: a calendar file has at least one event (RFC 5545, 3.6).
    OSError
        If the file cannot be written; then nothing is remembered, and an older file stands.
    BookError
    """
    moment = (at or datetime.now(UTC)).astimezone(UTC).replace(microsecond=0, tzinfo=None)

    def write(conn: Any) -> list[OutgoingEvent]:
        events = hand_out(conn, calendar_events(conn, on), on, moment)
        if not events:
            why = "Nothing is ahead that a calendar could show: no calving, bull, check or booked day"
            raise Refused(Reason("nothing_ahead", why))
        write_calendar(path, events)
        return events

    return book.outside(write)


def write_calendar(path: Path, events: Sequence[OutgoingEvent]) -> None:
    """Write events as a calendar file; at least one.

    Raises
    ------
    OSError
        If the file cannot be written; an older one stands unchanged.
    """
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", f"-//herdbook//herdbook {__version__}//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", say("Herd"))
    for event in events:
        calendar.add_component(_event(event))
    with aside(path) as part:
        part.write_bytes(calendar.to_ical())


def _event(of: OutgoingEvent) -> Event:
    from icalendar import Event

    changed = of.changed.replace(tzinfo=UTC)
    event = Event()
    event.add("uid", of.uid)
    event.add("dtstamp", changed)  # in a file without a METHOD: when this version was made (3.8.7.2)
    event.add("last-modified", changed)
    event.add("sequence", of.sequence)
    event.add("dtstart", of.day)
    event.add("dtend", of.day + timedelta(days=1))
    event.add("summary", of.title)
    if of.details:
        event.add("description", of.details)
    event.add("status", "CANCELLED" if of.withdrawn else "CONFIRMED")
    event.add("transp", "TRANSPARENT")  # the day stays free for other things
    return event
