"""The season's plan on paper, read back from the PDF, held to the figures it was given."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from herdbook.husbandry.calvingspread import Exposed, WithBull, calving_spread
from herdbook.papers.season_plan import season_plan_paper
from herdbook.services.queries.season_outlook import Decided, LeftOut, OutlookGroup, SeasonOutlook
from herdbook.services.queries.season_sheets import SheetAnimal, SheetBull
from tests.papers.reading import clipped, pages, without_a_letter

ON, IN, OUT = date(2026, 5, 1), date(2026, 6, 1), date(2026, 8, 2)
DUE = (date(2027, 3, 11), date(2027, 5, 12))


def animal(tag: str, name: str | None = None) -> SheetAnimal:
    return SheetAnimal(1, tag, name, None, None, "cow", "Top field", True)


def group(tag: str, name: str | None, females: int, **more: object) -> OutlookGroup:
    """Return a group whose females are all cycling."""
    spread = calving_spread([Exposed((WithBull(IN, OUT, 283),))] * females)
    plain = OutlookGroup(
        bulls=(SheetBull(animal(tag, name), IN, OUT),),
        females=females,
        places=30,
        heifers=2,
        mean=0.0125,
        worst=0.0625,
        unknown=0,
        doubtful=0,
        over_limit=0,
        at_risk=1,
        check_from=OUT + timedelta(days=35),
        due=DUE if females else None,
        spread=spread,
        cycles=spread.periods(DUE[0], 21),
    )
    return replace(plain, **more)  # type: ignore[arg-type]


def season(*groups: OutlookGroup, **more: object) -> SeasonOutlook:
    females = sum(one.females for one in groups)
    spread = calving_spread([Exposed((WithBull(IN, OUT, 283),))] * females)
    plain = SeasonOutlook(
        name="Season 2026",
        on=ON,
        accepted=None,
        kept=None,
        first=IN,
        last=OUT,
        limit=0.0625,
        groups=groups,
        left_out=(),
        decided=(),
        mean=0.0125 if females else None,
        worst=0.0625 if females else None,
        check=(groups[0].check_from,) * 2 if females else None,
        due=DUE if females else None,
        spread=spread,
        weeks=spread.periods(date(2027, 2, 15), 7, 0.05),
        cycles=spread.periods(DUE[0], 21),
        rests_on=("A heat settles 60 %.",),
        doubts=(),
    )
    return replace(plain, **more)  # type: ignore[arg-type]


def written(tmp_path: Path, plan: SeasonOutlook, page: str = "A4") -> str:
    """Write the plan, look whether all can be read, and return its text."""
    file = tmp_path / "plan.pdf"
    season_plan_paper(file, plan, page=page, herd="Hollowgale, GB")  # type: ignore[arg-type]
    assert clipped(file) == []
    found = pages(file)
    assert without_a_letter(found) == set()
    foot = f"Hollowgale, GB · Season plan: {plan.name} ·"
    assert all(foot in text and f"page {n} of {len(found)}" in text for n, text in enumerate(found, start=1))
    return " ".join(found)


def test_days_groups_and_figures(tmp_path: Path) -> None:
    """Printed bull days: 63 days from 1 June end on 2 August; 283 days on are 11 March and 12 May."""
    text = written(
        tmp_path, season(group("B1", "Cheviot", 12), group("B2", "Fell", 0, mean=None, worst=None))
    )
    for words in (
        "Bull in Mon 1 Jun 2026, out Sun 2 Aug 2026. No calf more inbred than 6.25 %.",
        "Not accepted", "B1 Cheviot Mon 1 Jun 2026 Sun 2 Aug 2026 63 6 Sep 2026 11 Mar 2027 12 May 2027",
        "B2 Fell Mon 1 Jun 2026 Sun 2 Aug 2026 63", "Checks due from 6 Sep 2026.",
        "B1 Cheviot 12 30 2 1.25 % 6.25 % 0 1", "B2 Fell 0 30 2 0 1", "all 12 60 4 1.25 % 6.25 % 0 2",
        "Not bred this season: 0 · To the finishing group: 0 · To sell: 0", "A heat settles 60 %.",
    ):  # fmt: skip
        assert words in text, words


def test_the_spread_is_the_query_s(tmp_path: Path) -> None:
    """Every week and every 21 days with the number that was given; nothing is worked out on the way."""
    plan = season(group("B1", "Cheviot", 12))
    text = written(tmp_path, plan)
    so_far = 0.0
    for week in plan.weeks:
        so_far += week.expected
        assert f"{week.last.day} " in text
        assert f" {week.expected:.1f} {so_far:.1f}" in text
    cells = " ".join(f"{one.expected:.1f}" for one in plan.cycles[:3])
    later = sum(one.expected for one in plan.cycles[3:])
    assert f"B1 Cheviot 11 Mar 2027 {cells} {later:.1f} {plan.spread.open:.1f} 12" in text
    calve, left = plan.spread.calving, plan.spread.open
    assert f"About {calve:.1f} of 12 females calve, {left:.1f} are not in calf" in text


def test_of_bulls_that_follow_one_another_each_has_his_line(tmp_path: Path) -> None:
    """The check and the calvings of the group stand once."""
    change = date(2026, 7, 2)
    bulls = (SheetBull(animal("B1"), IN, change - timedelta(days=1)), SheetBull(animal("B2"), change, OUT))
    text = written(tmp_path, season(group("B1", None, 3, bulls=bulls)))
    assert "B1 Mon 1 Jun 2026 Wed 1 Jul 2026 31 6 Sep 2026 11 Mar 2027 12 May 2027" in text
    assert "B2 Thu 2 Jul 2026 Sun 2 Aug 2026 32 " in text
    assert text.count("6 Sep 2026") == 2, "in the table and below it"


def test_what_is_not_known_is_said(tmp_path: Path) -> None:
    """Nil that rests on nothing is not printed as nil."""
    unknown = group("B1", None, 4, mean=None, worst=None, unknown=4)
    text = written(tmp_path, season(unknown, mean=None, worst=None, doubts=("Kinship is not known of 4.",)))
    assert "B1 4 30 2 not known not known 0 1" in text
    assert "Not known, or not certain Kinship is not known of 4." in text
    assert "Not known, or not certain" not in written(tmp_path, season(group("B1", None, 4)))


def test_who_has_no_bull_and_what_was_decided(tmp_path: Path) -> None:
    left = (
        LeftOut(animal("430", "Nith"), "not_bred", "12 months old at bull-in; 14 wanted."),
        LeftOut(animal("7"), "finishing", ""),
        LeftOut(animal("8"), "sell", "old udder"),
    )
    decided = (Decided(animal("412", "Eden"), "with B1", ""), Decided(animal("8"), "to sell", "old udder"))
    text = written(tmp_path, season(group("B1", None, 4), left_out=left, decided=decided))
    for words in (
        "Not bred this season: 1 · To the finishing group: 1 · To sell: 1",
        "430 Nith cow 12 months old at bull-in; 14 wanted.",
        "Decided by hand: 2", "412 Eden with B1 no reason written", "8 to sell old udder",
    ):  # fmt: skip
        assert words in text, words


def test_accepted(tmp_path: Path) -> None:
    text = written(tmp_path, season(group("B1", None, 4), accepted=date(2026, 4, 30)))
    assert "accepted 2026-04-30 · as of 2026-05-01" in text
    assert "Not accepted" not in text


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_a_large_herd_and_long_names(tmp_path: Path, page: str) -> None:
    """Thirty groups and 300 females left out, with names that wrap."""
    name = "Allt na Caillich of the long water " * 2
    groups = tuple(group(f"B{n}", name.strip(), 10) for n in range(30))
    left = tuple(LeftOut(animal(f"A{n:03d}", name.strip()), "not_bred", "because " * 40) for n in range(300))
    text = written(tmp_path, season(*groups, left_out=left), page)
    assert all(text.count(f" A{n:03d} ") == 1 for n in range(300))
    assert text.count("because") == 300 * 40
    assert " of 300 females calve" in text


def test_nobody_is_placed(tmp_path: Path) -> None:
    """No bars, no figures, and it says so."""
    text = written(tmp_path, season(group("B1", "Cheviot", 0, mean=None, worst=None)))
    assert "Nobody is placed with a bull: no calves are to be expected." in text
    assert "Checks due" not in text
    assert "By 21 days" not in text
