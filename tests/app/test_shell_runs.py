"""`herdbook runs` on a real file."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from herdbook.app.main import main
from herdbook.services.book import Book
from herdbook.services.commands.happenings import CheckPregnancy, SeeHeat
from herdbook.services.commands.running import BullGotIn, TurnIn
from tests.services.conftest import Herd


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return a book with a run over, of whose four cows one was open, and a bull that got in since."""
    path = tmp_path / "herd.herdbook"
    with Book.create(path, who="keeper") as book:
        h = Herd(book)
        h.add("Cheviot", "M", date(2020, 3, 1))
        for tag in ("1", "2", "3", "4"):
            h.add(tag, "F", date(2019, 3, 1), calved_before=True)
        cows = tuple(h.id[tag] for tag in ("1", "2", "3", "4"))
        h.do(TurnIn((h.id["Cheviot"],), cows, date(2025, 6, 1), date(2025, 8, 2), name="Season 2025"))
        for cow in cows[1:]:
            h.do(SeeHeat(cow, date(2025, 7, 20)))
        h.do(CheckPregnancy(cows[0], date(2025, 9, 10), result="open"))
        h.do(CheckPregnancy(cows[1], date(2025, 9, 10), result="pregnant"))
        h.do(BullGotIn(h.id["Cheviot"], date(2025, 12, 1), date(2025, 12, 3), females=cows[:1]))
    return path


def test_runs_as_json(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["runs", str(path), "--on", "2025-12-10", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    got_in, season = answer["runs"]
    assert (season["name"], season["bulls"]) == (
        "Season 2025",
        [{"bull": "Cheviot", "in": "2025-06-01", "out": "2025-08-02"}],
    )
    counts = {key: season[key] for key in ("exposed", "of", "held", "in_calf", "open", "not_known")}
    assert counts == {"exposed": 4, "of": 4, "held": 1, "in_calf": 1, "open": 1, "not_known": 2}
    assert season["should_be_settled"] == pytest.approx(0.953, abs=0.001)
    (heats,) = season["heats_after_two_cycles"]
    assert (heats["seen"], heats["of"], heats["many"]) == (3, 4, True)
    assert (got_in["rolled_in"], got_in["heats_after_two_cycles"]) == (["1"], [])


def test_runs_in_lines(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["runs", str(path), "--on", "2025-12-10"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[2:] == [
        "2025-06-01 - 2025-08-02  Cheviot",
        "  in calf or calved 1 of 4, 25%; open 1 of 4, 25%; calved 0 of 4, 0%",
        "  of 2 nothing is known yet; 95% of all should be settled by now",
        "  many heats after two cycles with Cheviot: 3 of 4; ask your vet",
    ]


def test_before_any_run(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["runs", str(path), "--on", "2025-05-01"]) == 0
    assert capsys.readouterr().out.strip() == "No bull has been turned in yet."
