"""The calendar file: read back by the library, and held line by line to the rules of RFC 5545."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar

from herdbook.exchange.calendar import export_calendar
from herdbook.exchange.registry import UnknownFormat, calendar_writer
from herdbook.services.book import Book
from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.diary import BookAnimal, BookDay, ChangeSetting
from herdbook.services.commands.happenings import CheckPregnancy, Serve, Treat
from herdbook.services.commands.running import EndRun, TurnIn
from herdbook.services.registry import Refused
from tests.services.conftest import Herd

ON = date(2026, 7, 1)
AT = datetime(2026, 7, 1, 9, 30, tzinfo=UTC)
SERVED = date(2026, 5, 20)
DUE = date(2027, 2, 27)
"""283 days on by the calendar."""


@pytest.fixture
def herd(tmp_path: Path) -> Iterator[Herd]:
    """Return a herd with a cow served, a run on, a steer booked and a heifer under medicine."""
    with Book.create(tmp_path / "herd.herdbook", who="A. Keeper") as book:
        h = Herd(book, ON)
        h.add("B1", "M", date(2022, 3, 1), name="Cheviot")
        h.add("12", "F", date(2019, 3, 1), name="Eden", calved_before=True)
        h.add("7", "F", date(2019, 4, 1), name="Łyna; Wye, \\ Esk", calved_before=True)
        h.add("9", "F", date(2024, 4, 1))
        h.add("25/1", "M", date(2025, 3, 1), name="Wharfe")
        h.do(ChangeSetting("gestation_days", 283))
        h.do(Serve(h.id["12"], SERVED, sire=h.id["B1"], technician="Q. Inseminator"))
        h.do(TurnIn((h.id["B1"],), (h.id["7"], h.id["9"]), date(2026, 6, 1), date(2026, 8, 2)))
        day = h.do(BookDay(date(2026, 9, 9), places=3, where="Mill Lane", note="ask for the cold room"))
        h.do(BookAnimal(h.id["25/1"], day))
        h.do(Treat(h.id["9"], date(2026, 6, 20), product="Blue bottle", meat_days=20))
        yield h


def export(h: Herd, path: Path, on: date = ON, at: datetime = AT) -> dict[str, Any]:
    """Write the file; return its events by their titles, as the library reads them back."""
    export_calendar(h.book, path, on, at)
    events = Calendar.from_ical(path.read_bytes()).events
    found = {str(event["SUMMARY"]): event for event in events}
    assert len(found) == len(events)
    return found


def one(events: dict[str, Any], words: str) -> Any:
    """Return the one event whose title has these words."""
    (found,) = [event for title, event in events.items() if words in title]
    return found


def test_what_is_in_it_and_on_which_day(herd: Herd, tmp_path: Path) -> None:
    events = export(herd, tmp_path / "a.ics")
    days = {title: event.start for title, event in events.items()}
    run = [title for title in days if "due" in title and "Eden" not in title]
    for title in run:  # how a run's likeliest day is reckoned is tested elsewhere
        del days[title]
    assert len(run) == 4
    assert (
        days
        == {
            "12 Eden due, between 17 Feb and 9 Mar": DUE,
            "12 Eden close up, due between 17 Feb and 9 Mar": DUE - timedelta(days=14),
            "Bull out: B1 Cheviot": date(2026, 8, 2),
            "Pregnancy checks from today: 2 females": date(2026, 8, 2) + timedelta(days=35),
            "Butcher's day: 1 of 3 places taken": date(2026, 9, 9),
            "9 clear of medicine for meat": date(2026, 7, 11),
        }
        or SERVED + timedelta(days=35) < ON
    )


def test_from_when_she_can_be_checked(herd: Herd, tmp_path: Path) -> None:
    """35 days after the service, in the file of a day before that."""
    events = export(herd, tmp_path / "a.ics", on=date(2026, 6, 2))
    assert one(events, "Pregnancy check from today: 12 Eden").start == SERVED + timedelta(days=35)


def test_the_rules_of_the_format(herd: Herd, tmp_path: Path) -> None:
    """RFC 5545: 3.1 lines and folding, 3.3.11 escapes, 3.6 what must be there, 3.6.1 whole days."""
    path = tmp_path / "a.ics"
    events = export(herd, path)
    raw = path.read_bytes()
    assert raw.endswith(b"END:VCALENDAR\r\n")
    lines = raw.split(b"\r\n")
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    assert max(len(line) for line in lines) <= 75
    for line in lines:
        line.decode("utf-8")  # no letter is cut in two
    whole = raw.decode("utf-8").replace("\r\n ", "").split("\r\n")
    assert whole[0] == "BEGIN:VCALENDAR"
    assert whole.count("VERSION:2.0") == 1
    assert sum(line.startswith("PRODID:") for line in whole) == 1
    assert any(line.startswith("SUMMARY:7 Łyna\\; Wye\\, \\\\ Esk due\\, between ") for line in whole)
    assert not any(line.startswith(("BEGIN:VALARM", "BEGIN:VTODO", "METHOD")) for line in whole)
    blocks = "\n".join(whole).split("BEGIN:VEVENT\n")[1:]
    assert len(blocks) == len(events)
    for block in blocks:
        said = block.split("END:VEVENT")[0].splitlines()
        for name in ("UID:", "DTSTAMP:", "SEQUENCE:", "SUMMARY:", "DTSTART;", "DTEND;", "STATUS:"):
            assert sum(line.startswith(name) for line in said) == 1, name
        (start,) = [line for line in said if line.startswith("DTSTART;VALUE=DATE:")]
        (end,) = [line for line in said if line.startswith("DTEND;VALUE=DATE:")]
        first, last = (datetime.strptime(x.split(":")[1], "%Y%m%d").date() for x in (start, end))  # noqa: DTZ007
        assert last - first == timedelta(days=1)
        assert "DTSTAMP:20260701T093000Z" in said
        assert "TRANSP:TRANSPARENT" in said
    uids = [str(event["UID"]) for event in events.values()]
    assert len(set(uids)) == len(uids)


def test_nothing_goes_out_but_tags_and_names(herd: Herd, tmp_path: Path) -> None:
    path = tmp_path / "a.ics"
    herd.do(ChangeSetting("herd_name", "Skiddaw"))
    export(herd, path)
    text = path.read_text("utf-8").replace("\n ", "")
    for word in ("Keeper", "Inseminator", "Mill Lane", "cold room", "Blue bottle", "Skiddaw"):
        assert word not in text


def test_a_day_that_moves_keeps_its_uid_and_raises_its_sequence(herd: Herd, tmp_path: Path) -> None:
    before = export(herd, tmp_path / "a.ics")
    herd.do(CheckPregnancy(herd.id["9"], date(2026, 7, 1), result="pregnant", days=28, method="scan"))
    herd.do(EndRun(1, date(2026, 7, 20)))
    later = AT + timedelta(days=1)
    after = export(herd, tmp_path / "b.ics", at=later)
    old, new = one(before, "Bull out"), one(after, "Bull out")
    assert (old.start, new.start) == (date(2026, 8, 2), date(2026, 7, 20))
    assert old["UID"] == new["UID"]
    assert (old["SEQUENCE"], new["SEQUENCE"]) == (0, 1)
    assert new["DTSTAMP"].dt == new["LAST-MODIFIED"].dt == later
    heifer, now = one(before, "9 due"), one(after, "9 due")
    assert heifer.start != now.start
    assert (heifer["UID"], now["SEQUENCE"]) == (now["UID"], 1)
    assert "No check has found her in calf." in heifer["DESCRIPTION"]
    assert "No check" not in now["DESCRIPTION"]
    # Of what has not changed nothing is new: neither number nor stamp.
    cow = one(after, "12 Eden due")
    assert (cow["SEQUENCE"], cow["DTSTAMP"].dt) == (0, AT)


def test_what_is_withdrawn_is_cancelled_until_its_day(herd: Herd, tmp_path: Path) -> None:
    """She calves early: the due day is cancelled with the same UID, the day of close up lies in the past."""
    before = export(herd, tmp_path / "a.ics")
    herd.calve("12", date(2027, 2, 20), "27/1")
    on = date(2027, 2, 21)
    after = export(herd, tmp_path / "b.ics", on=on)
    old, gone = one(before, "12 Eden due"), one(after, "12 Eden due")
    assert (gone["UID"], str(gone["STATUS"]), gone["SEQUENCE"]) == (old["UID"], "CANCELLED", 1)
    assert gone.start == DUE
    assert not [title for title in after if "12 Eden close up" in title]
    again = one(export(herd, tmp_path / "c.ics", on=on, at=AT + timedelta(hours=1)), "12 Eden due")
    assert (str(again["STATUS"]), again["SEQUENCE"], again["DTSTAMP"].dt) == ("CANCELLED", 1, AT)
    passed = export(herd, tmp_path / "d.ics", on=DUE + timedelta(days=1))
    assert not [title for title in passed if "Eden" in title]


def test_what_is_taken_back_comes_back(herd: Herd, tmp_path: Path) -> None:
    """A run taken back cancels its days; done again, they stand again under the same UID."""
    first = export(herd, tmp_path / "a.ics")
    herd.add("B2", "M", date(2022, 3, 1), name="Fell")
    herd.do(TurnIn((herd.id["B2"],), (herd.id["12"],), date(2026, 8, 20), date(2026, 9, 20)))
    put = one(export(herd, tmp_path / "b.ics"), "Bull in")
    assert not [title for title in first if "Bull in" in title]
    herd.book.undo()
    out = one(export(herd, tmp_path / "c.ics"), "Bull in")
    herd.book.redo()
    back = one(export(herd, tmp_path / "d.ics"), "Bull in")
    assert put["UID"] == out["UID"] == back["UID"]
    assert [str(event["STATUS"]) for event in (put, out, back)] == ["CONFIRMED", "CANCELLED", "CONFIRMED"]
    assert [event["SEQUENCE"] for event in (put, out, back)] == [0, 1, 2]


def test_an_event_moved_into_the_past_is_told_once(herd: Herd, tmp_path: Path) -> None:
    export(herd, tmp_path / "a.ics")
    herd.do(EndRun(1, date(2026, 6, 28)))
    assert one(export(herd, tmp_path / "b.ics"), "Bull out").start == date(2026, 6, 28)
    assert not [title for title in export(herd, tmp_path / "c.ics") if "Bull out" in title]


def test_the_next_pregnancy_is_another_event(herd: Herd, tmp_path: Path) -> None:
    first = one(export(herd, tmp_path / "a.ics"), "12 Eden due")
    herd.calve("12", date(2027, 2, 27), "27/1")
    herd.do(Serve(herd.id["12"], date(2027, 5, 20), sire=herd.id["B1"]))
    second = one(export(herd, tmp_path / "b.ics", on=date(2027, 7, 1)), "12 Eden due")
    assert second["UID"] != first["UID"]


def test_a_check_that_was_made_is_wanted_no_more(herd: Herd, tmp_path: Path) -> None:
    one(export(herd, tmp_path / "a.ics"), "checks from today")
    for tag in ("7", "9"):
        herd.do(CheckPregnancy(herd.id[tag], date(2026, 7, 20), result="pregnant", method="scan"))
    gone = one(export(herd, tmp_path / "b.ics", on=date(2026, 7, 20)), "checks from today")
    assert str(gone["STATUS"]) == "CANCELLED"


def test_nobody_is_called_clear_of_what_is_not_known(herd: Herd, tmp_path: Path) -> None:
    """A medicine without its days takes the clear day out: "not known, ask" is no date."""
    assert one(export(herd, tmp_path / "a.ics"), "clear of medicine").start == date(2026, 7, 11)
    herd.do(Treat(herd.id["9"], date(2026, 6, 30), product="Green bottle"))
    gone = one(export(herd, tmp_path / "b.ics"), "clear of medicine")
    assert str(gone["STATUS"]) == "CANCELLED"


def test_take_care_stands_beside_her(herd: Herd, tmp_path: Path) -> None:
    herd.do(ChangeAnimal(herd.id["12"], sex="F", name="Eden", care="goes for people"))
    event = one(export(herd, tmp_path / "a.ics"), "12 Eden due")
    assert event["DESCRIPTION"].startswith("Take care: goes for people\n")


def test_a_copy_of_the_book_has_the_same_uids_and_another_book_others(herd: Herd, tmp_path: Path) -> None:
    mine = one(export(herd, tmp_path / "a.ics"), "12 Eden due")
    herd.book.copy_to(tmp_path / "copy.herdbook")
    with Book.open(tmp_path / "copy.herdbook") as copy:
        assert one(export(Herd(copy, ON), tmp_path / "b.ics"), "12 Eden due")["UID"] == mine["UID"]
    with Book.create(tmp_path / "other.herdbook", who="keeper") as other:
        h = Herd(other, ON)
        h.add("B1", "M", date(2022, 3, 1))
        h.add("12", "F", date(2019, 3, 1), name="Eden", calved_before=True)
        h.do(Serve(h.id["12"], SERVED, sire=h.id["B1"]))
        assert one(export(h, tmp_path / "c.ics"), "12 Eden due")["UID"] != mine["UID"]


def test_undo_after_it_takes_back_what_was_done_before(herd: Herd, tmp_path: Path) -> None:
    herd.do(ChangeAnimal(herd.id["12"], sex="F", name="Eden", care="kicks"))
    before = herd.book.history()
    export(herd, tmp_path / "a.ics")
    assert herd.book.history() == before
    herd.book.undo()
    assert one(export(herd, tmp_path / "b.ics"), "12 Eden due")["SEQUENCE"] == 1


def test_what_could_not_be_written_is_not_remembered(herd: Herd, tmp_path: Path) -> None:
    with pytest.raises(OSError, match="nowhere"):
        export(herd, tmp_path / "nowhere" / "a.ics")
    herd.do(EndRun(1, date(2026, 7, 20)))
    assert one(export(herd, tmp_path / "a.ics"), "Bull out")["SEQUENCE"] == 0


def test_an_empty_calendar_is_refused(tmp_path: Path) -> None:
    """RFC 5545, 3.6: a calendar has at least one component. An older file stands."""
    (tmp_path / "a.ics").write_text("old")
    new = Book.create(tmp_path / "new.herdbook", who="keeper")
    with new as book, pytest.raises(Refused, match="Nothing is ahead"):
        export_calendar(book, tmp_path / "a.ics", ON, AT)
    assert (tmp_path / "a.ics").read_text() == "old"


def test_the_registry_knows_it_by_its_ending() -> None:
    assert calendar_writer(Path("herd.ICS")) is export_calendar
    with pytest.raises(UnknownFormat, match=r"herd\.txt ends in none of \.ics"):
        calendar_writer(Path("herd.txt"))
