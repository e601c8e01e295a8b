"""`herdbook calendar` on a real file."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from icalendar import Calendar

from herdbook.app.main import main
from herdbook.services.book import Book
from herdbook.services.commands.happenings import Serve
from tests.services.conftest import Herd


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return a book with one cow served."""
    path = tmp_path / "herd.herdbook"
    with Book.create(path, who="keeper") as book:
        h = Herd(book)
        h.add("12", "F", date(2019, 3, 1), name="Eden", calved_before=True)
        h.do(Serve(h.id["12"], date(2026, 5, 20)))
    return path


def run(path: Path, out: Path, *words: str) -> int:
    return main(["calendar", str(path), "--on", "2026-07-01", "--out", str(out), *words])


def test_written_and_told(path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "a.ics"
    assert run(path, out, "--json") == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["file"], answer["on"]) == (str(out), "2026-07-01")
    due = answer["events"][-1]
    assert (due["day"], due["sequence"], due["cancelled"]) == ("2027-02-27", 0, False)
    assert due["uid"] in {str(event["UID"]) for event in Calendar.from_ical(out.read_bytes()).events}
    with Book.open(path) as book:
        book.undo()
    assert run(path, tmp_path / "b.ics") == 0
    assert capsys.readouterr().out.splitlines()[:2] == [
        f"0 events ahead, written to {tmp_path / 'b.ics'}",
        "2 events of earlier files are cancelled in it",
    ]


def test_what_cannot_be_done_is_refused_in_a_line(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Another ending, no such folder, a book that is open elsewhere: nothing is written."""
    assert run(path, tmp_path / "a.pdf") == 2
    assert capsys.readouterr().err.strip() == "a.pdf ends in none of .ics."
    assert run(path, tmp_path / "nowhere" / "a.ics") == 2
    assert "Choose another place" in capsys.readouterr().err
    with Book.open(path):
        assert run(path, tmp_path / "a.ics") == 2
    assert "open in another window" in capsys.readouterr().err
    assert not (tmp_path / "a.ics").exists()
