"""What a calendar file has to say, given what the files before it said.

Calendars that read a file know an event by its UID, and take a new version only where its SEQUENCE is higher
(RFC 5545, 3.8.4.7 and 3.8.7.4). So the book remembers what went out: an event that has changed goes out with
the next number, one that is withdrawn goes out as cancelled until its day is past.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from herdbook.services.queries.calendar_events import CalendarEvent
from herdbook.store import tables as t


@dataclass(frozen=True)
class OutgoingEvent:
    """An event as it goes out.

    Parameters
    ----------
    uid : str
        The same in every file, whatever the day.
    day : date
    title, details : str
    sequence : int
        0 at first, one more with each change.
    changed : datetime
        When this version of it first went out; UTC, without a zone.
    withdrawn : bool
    """

    uid: str
    day: date
    title: str
    details: str
    sequence: int
    changed: datetime
    withdrawn: bool


def hand_out(
    conn: Connection, events: Iterable[CalendarEvent], on: date, at: datetime
) -> list[OutgoingEvent]:
    """Return what goes into a calendar file, by day, and remember it; to be run in `Book.outside`.

    What is past stays out, unless its calendars still have it on another day.

    Parameters
    ----------
    conn : Connection
    events : iterable of CalendarEvent
        All that the book knows of.
    on : date
    at : datetime
        The moment in UTC, without a zone.
    """
    s = t.columns(t.CalendarSent)
    sent = {row.event: row for row in conn.execute(select(*s))}
    out: list[OutgoingEvent] = []
    known = {event.key: event for event in events}
    space = _namespace(conn)
    for event in known.values():
        said = (event.day, event.title, event.details, False)
        before = sent.get(event.key)
        if before is None:
            if event.day >= on:
                out.append(_version(conn, space, event.key, said, 0, at))
        elif (before.day, before.title, before.details, before.withdrawn) != said:
            out.append(_version(conn, space, event.key, said, before.sequence + 1, at))
        elif event.day >= on:
            out.append(_again(space, before))
    for key, before in sent.items():
        if key in known or before.day < on:
            continue
        said = (before.day, before.title, before.details, True)
        again = before.withdrawn
        out.append(
            _again(space, before) if again else _version(conn, space, key, said, before.sequence + 1, at)
        )
    return sorted(out, key=lambda event: (event.day, event.title, event.uid))


def _version(
    conn: Connection,
    space: uuid.UUID,
    key: str,
    said: tuple[date, str, str, bool],
    sequence: int,
    at: datetime,
) -> OutgoingEvent:
    """Remember a new version of an event, and return it."""
    day, title, details, withdrawn = said
    values = {"day": day, "title": title, "details": details, "withdrawn": withdrawn}
    values |= {"sequence": sequence, "changed": at}
    s = t.CalendarSent
    if sequence:
        conn.execute(update(s).where(s.event == key).values(values))
    else:
        conn.execute(insert(s).values({"event": key, **values}))
    return OutgoingEvent(_uid(space, key), day, title, details, sequence, at, withdrawn)


def _again(space: uuid.UUID, before: Row[Any]) -> OutgoingEvent:
    uid = _uid(space, before.event)
    said = (before.day, before.title, before.details)
    return OutgoingEvent(uid, *said, before.sequence, before.changed, before.withdrawn)


def _namespace(conn: Connection) -> uuid.UUID:
    """Return what tells this book from others, in every copy of it: the moment of its first act."""
    a = t.columns(t.Act)
    began = conn.scalar(select(a.at).order_by(a.id).limit(1))
    return uuid.uuid5(uuid.NAMESPACE_OID, f"herdbook {began.isoformat() if began else ''}")


def _uid(space: uuid.UUID, key: str) -> str:
    """Return a UID that is the world's only one and says nothing of the herd, as RFC 7986, 5.3 asks."""
    return str(uuid.uuid5(space, key))
