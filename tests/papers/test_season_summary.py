"""The season summary as it stands on paper."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from herdbook.husbandry.seasonmeasures import Starts, calvings_by_period, days_summed, season_rates
from herdbook.papers.season_summary import season_summary_paper
from herdbook.services.queries.runs import InRun, RunRow
from herdbook.services.queries.season_measures import SeasonOfGroup
from tests.husbandry.test_seasonmeasures import spa_herd
from tests.papers.reading import clipped, pages, without_a_letter
from tests.published.seasons import CALVINGS

ON = date(2026, 12, 1)
IN, OUT = date(2025, 6, 1), date(2025, 8, 2)


def season(bulls: int = 1) -> SeasonOfGroup:
    """Return a season with the figures of the published examples."""
    start = date(2026, 3, 11)
    days = [date.fromisoformat(text) for text in CALVINGS]
    runners = tuple(InRun(n, f"B{n}", f"Żubr {n} ♂", IN, OUT) for n in range(bulls))
    return SeasonOfGroup(
        run=RunRow(1, "Season 2025", None, None, runners, (), IN, OUT),
        first=IN,
        last=OUT,
        rates=season_rates(spa_herd()),
        shared=4,
        rolled_in=3,
        starts=start,
        cows=calvings_by_period(days, start),
        first_calvers=calvings_by_period(days[:2], start),
        interval=days_summed([360, 366, 398]),
        open_years=2,
        open_days=days_summed([77, 83, 115]),
        first_age=days_summed([730]),
    )


def test_every_percentage_stands_with_its_count(tmp_path: Path) -> None:
    file = tmp_path / "s.pdf"
    season_summary_paper(file, [season()], Starts.AFTER_283, on=ON, herd="Hollowgale")
    (text,) = pages(file)
    for words in (
        "1 Jun 2025 to 2 Aug 2025: B0 Żubr 0 ♂",
        "102 exposed, 2 left out: 100 count.",
        "in calf 93 100 females exposed 93.0",
        "in calf and did not calve 2 93 females in calf 2.2",
        "calves born at term, dead ones too 91 100 females exposed 91.0",
        "calves born alive 89 100 females exposed 89.0",
        "calves dead before weaning 5 91 calves born 5.5",
        "calves weaned 86 100 females exposed 86.0",
        "11 Mar 2026 31 Mar 2026 6 of 11 (54.5%) 54.5% 2 of 2 (100.0%) 100.0%",
        "1 Apr 2026 21 Apr 2026 3 of 11 (27.3%) 81.8% 0 of 2 (0.0%) 100.0%",
        "203 kg weaned for each female that counts, by 86 weighed",
        "375 days from calving to calving, 92 of them open, of 3 cows (2 found open in between left out)",
        "The first 21 days of calving begin 283 days after bull in.",
        "Hollowgale · Season summary · as of 2026-12-01",
    ):
        assert words in text, words
    assert not clipped(file)
    assert not without_a_letter([text])


def test_many_seasons_take_pages_and_nothing_is_cut(tmp_path: Path) -> None:
    file = tmp_path / "s.pdf"
    season_summary_paper(file, [season(bulls=9)] * 7, Starts.THIRD_COW, on=ON, page="Letter")
    found = pages(file)
    assert len(found) > 2
    assert sum(text.count("102 exposed") for text in found) == 7
    assert not clipped(file)


def test_without_a_season(tmp_path: Path) -> None:
    season_summary_paper(tmp_path / "s.pdf", [], Starts.AFTER_285, on=ON)
    assert "No female has been with a bull or served yet." in pages(tmp_path / "s.pdf")[0]
