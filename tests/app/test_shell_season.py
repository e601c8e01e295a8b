"""`herdbook season` on a real file: complete with counts, in JSON and in lines."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from herdbook.app.main import main
from herdbook.services.book import Book
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.happenings import CheckPregnancy, Leave, Wean, Weigh
from herdbook.services.commands.running import TurnIn
from tests.papers.reading import pages
from tests.services.conftest import Herd


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return a book with a season of three cows and a heifer, one of them sold before she was checked."""
    path = tmp_path / "herd.herdbook"
    with Book.create(path, who="keeper") as book:
        h = Herd(book)
        h.do(ChangeSetting("gestation_days", 283))
        h.add("Cheviot", "M", date(2020, 3, 1))
        for tag in ("1", "2", "3"):
            h.add(tag, "F", date(2019, 3, 1), calved_before=True)
        h.add("4", "F", date(2024, 3, 1))
        h.calve("1", date(2025, 3, 10), "25/1")
        females = tuple(h.id[tag] for tag in ("1", "2", "3", "4"))
        h.do(TurnIn((h.id["Cheviot"],), females, date(2025, 6, 1), date(2025, 8, 2), name="Season 2025"))
        h.do(Leave(h.id["3"], date(2025, 9, 1), departure_kind="sold"))
        h.do(CheckPregnancy(h.id["1"], date(2025, 9, 10), result="pregnant"))
        h.do(CheckPregnancy(h.id["2"], date(2025, 9, 10), result="open"))
        h.calve("1", date(2026, 3, 5), "26/1")
        h.calve("4", date(2026, 4, 3), "26/2")
        h.do(Weigh(h.id["26/1"], date(2026, 10, 1), kg=240.0))
        h.do(Wean(h.id["26/1"], date(2026, 10, 1)))
    return path


def test_season_as_json(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["season", str(path), "--on", "2026-12-01", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["on"], answer["starts"]) == ("2026-12-01", "283")
    (group,) = answer["groups"]
    assert (group["name"], group["bulls"]) == ("Season 2025", ["Cheviot"])
    assert (group["first"], group["last"]) == ("2025-06-01", "2025-08-02")
    assert (group["exposed"], group["left"], group["of"]) == (4, 1, 3)
    third = pytest.approx(100 / 3)
    shares = {key: (group[key]["n"], group[key]["of"]) for key in ("pregnancy", "loss", "calving", "live")}
    assert shares == {"pregnancy": (2, 3), "loss": (0, 2), "calving": (2, 3), "live": (2, 3)}
    assert group["weaning"] == {"n": 1, "of": 3, "percent": third}
    assert group["deaths_of_born"] == {"n": 0, "of": 2, "percent": 0.0}
    assert group["deaths"] == {"n": 0, "of": 3, "percent": 0.0}
    assert (group["still_in_calf"], group["not_known"], group["calves_without_weaning"]) == (0, 0, 1)
    assert (group["weaned_kg"], group["weaned_kg_of"], group["kg_weaned_per_exposed"]) == (240.0, 1, 80.0)
    assert group["first_21_days_from"] == "2026-03-11"
    assert group["cows"] == [
        {"from": "2026-03-11", "to": "2026-03-31", "calved": 1, "so_far": 1, "of": 1,
         "percent": 100.0, "percent_so_far": 100.0}
    ]  # fmt: skip
    assert [(period["calved"], period["of"]) for period in group["first_calvers"]] == [(0, 1), (1, 1)]
    assert group["calving_interval"] == {"n": 1, "mean": 360.0, "least": 360, "most": 360}
    assert group["days_open"] == {"n": 1, "mean": 77.0, "least": 77, "most": 77}
    assert group["age_at_first_calving"]["n"] == 1
    assert (group["found_open_between"], group["rolled_in"], group["with_other_bulls_too"]) == (0, 0, 0)


def test_season_in_lines_with_another_rule(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["season", str(path), "--on", "2026-12-01", "--starts", "285"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "2025-06-01 - 2025-08-02  Cheviot",
        "  4 exposed, 1 left out; the rest count",
        "  in calf 2 of 3 (66.7%); lost since 0 of 2 (0.0%)",
        "  calves born 2 of 3 (66.7%); alive 2 of 3 (66.7%); weaned 1 of 3 (33.3%); "
        "dead before weaning 0 of 2 (0.0%)",
        "  not the last word: 0 in calf still, of 0 nothing is known, 1 calves without a weaning",
        "  cows by 21 days from 2026-03-13: 1 of 1 (100.0%)",
        "  first-calvers from 2026-03-13: 0 of 1 (0.0%), 1 of 1 (100.0%)",
        "  80 kg weaned for each female that counts, by 1 weighed",
        "  360 days from calving to calving, 77 of them open, of 1 cows (0 found open in between left out)",
        "  763 days old at the first calving, of 1",
    ]


def test_before_the_third_cow_and_before_any_bull(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["season", str(path), "--on", "2026-12-01", "--starts", "third"]) == 0
    assert "by 21 days: not before the third cow" in capsys.readouterr().out
    assert main(["season", str(path), "--on", "2025-05-01"]) == 0
    assert capsys.readouterr().out.strip() == "No female has been with a bull or served yet."


def test_the_summary_as_a_pdf(path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Written where it was asked for; where that cannot be, refused in a line."""
    out = tmp_path / "s.pdf"
    assert main(["season", str(path), "--on", "2026-12-01", "--out", str(out), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["file"] == str(out)
    assert "calves weaned 1 3 females exposed 33.3" in pages(out)[0]
    assert main(["season", str(path), "--out", str(tmp_path / "nowhere" / "s.pdf")]) == 2
    assert "Choose another place" in capsys.readouterr().err
