"""A bull and his own daughters: the calf's inbreeding before mating, the words, the limit, and the way on.

Coefficients: Wright's, as in Lynch and Walsh 1998, table 7.1. That such matings are not recommended, may be
accepted for calves that are eaten, and give no replacements: extension pages on father-daughter matings and
on related bulls. That 6.25 % is warned of and 12.5 % strongly is common practice, no source.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pypdfium2
import pytest
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot

from herdbook.app.main import main
from herdbook.husbandry.trust import Trust, not_a_replacement
from herdbook.papers.pedigree_paper import pedigree_paper
from herdbook.services.commands.breeding import Serve
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.doubts import doubts
from herdbook.services.queries.kin import explain, kin_of_parents
from herdbook.services.queries.kin_chart import kin_chart
from herdbook.services.queries.plans import accept_command
from herdbook.services.queries.sort import Choice, SortAsk, SortFemale, SortResult, each_alone, solve
from herdbook.services.queries.sort_hand import rules_passed
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper

ON = date(2026, 5, 1)
SEASON = {"bull_in": date(2026, 6, 1), "bull_out": date(2026, 8, 2)}


@pytest.fixture
def family(herd: Herd) -> Herd:
    """Return Cheviot with three generations behind and after him, all by known parents.

    Gale and Eden are his full sibs by Tor out of Fell; Lune, Nith and Rigg are his calves by three cows; Kent
    is Lune's daughter by Pike, Holm is Eden's son by Crag, and Inbred is Cheviot's calf by his own Lune.
    """
    h = herd
    for tag, sex in (("Tor", "M"), ("Pike", "M"), ("Crag", "M"), ("Fell", "F"), ("Wye", "F"), ("Ure", "F"),
                     ("Tees", "F")):  # fmt: skip
        h.add(tag, sex, date(2012, 3, 1), calved_before=True if sex == "F" else None)

    def calf(tag: str, sex: str, sire: str, dam: str, year: int) -> None:
        h.add(tag, sex, date(year, 3, 1), sire=h.id[sire], dam=h.id[dam])

    for tag, sex in (("Cheviot", "M"), ("Gale", "M"), ("Eden", "F")):
        calf(tag, sex, "Tor", "Fell", 2016)
    calf("Lune", "F", "Cheviot", "Wye", 2019)
    calf("Nith", "F", "Cheviot", "Ure", 2019)
    calf("Rigg", "M", "Cheviot", "Tees", 2019)
    calf("Kent", "F", "Pike", "Lune", 2022)
    calf("Holm", "M", "Crag", "Eden", 2020)  # by his mother Eden a first cousin of Lune, Nith and Rigg
    calf("Inbred", "F", "Cheviot", "Lune", 2024)
    return h


def _f(herd: Herd, dam: str, sire: str) -> float:
    with herd.book.read() as conn:
        return explain(conn, herd.id[dam], herd.id[sire], on=ON).held


@pytest.mark.parametrize(
    ("dam", "sire", "what", "f"),
    [
        ("Lune", "Cheviot", "sire and daughter", 0.25),
        ("Eden", "Cheviot", "full sibs", 0.25),
        ("Fell", "Cheviot", "dam and son", 0.25),
        ("Nith", "Rigg", "half sibs", 0.125),
        ("Kent", "Cheviot", "sire and granddaughter", 0.125),
        ("Lune", "Tor", "grandsire", 0.125),
        ("Lune", "Holm", "first cousins", 0.0625),
        ("Wye", "Cheviot", "no kin", 0.0),
    ],
)
def test_the_calf_before_it_is_made(family: Herd, dam: str, sire: str, what: str, f: float) -> None:
    assert _f(family, dam, sire) == f, what


def test_inbreeding_of_the_shared_ancestor_is_added(family: Herd) -> None:
    """Cheviot inbred himself by a quarter: his daughter's calf by him is (1 + 1/4)/4 (Wright's 1 + F_A)."""
    h = family
    h.add("Sull", "M", date(2020, 3, 1), sire=h.id["Cheviot"], dam=h.id["Eden"])  # full sibs: 1/4
    h.add("Swale", "F", date(2023, 3, 1), sire=h.id["Sull"], dam=h.id["Ure"])
    assert _f(h, "Swale", "Sull") == 0.25 * (1 + 0.25)


def test_the_words_and_their_levels_can_be_edited(family: Herd) -> None:
    h = family

    def asked(dam: str, sire: str) -> list[str]:
        with h.book.read() as conn:
            told = doubts(conn, Serve(h.id[dam], ON, sire=h.id[sire]), ON)
        return [str(reason) for reason in told if reason.code == "close_kin"]

    assert asked("Lune", "Cheviot") == [
        "Lune and Cheviot are very close kin: a calf 25.0% inbred; keep no replacement from it"
    ]
    assert asked("Lune", "Holm") == ["Lune and Holm are close kin: a calf 6.2% inbred"]
    h.do(ChangeSetting("close_from", 0.1))
    h.do(ChangeSetting("very_close_from", 0.2))
    assert asked("Lune", "Holm") == []
    assert asked("Nith", "Rigg") == ["Nith and Rigg are close kin: a calf 12.5% inbred"]


def _sort(herd: Herd, **more: object) -> SortResult:
    asked = SortAsk(groups=each_alone([herd.id["Cheviot"]]), **SEASON, **more)  # type: ignore[arg-type]
    return herd.ask(solve, asked, on=ON)


def _female(result: SortResult, tag: str) -> SortFemale:
    return next(female for female in result.females if female.tag == tag)


def test_the_sort_forbids_what_is_above_the_limit(family: Herd) -> None:
    result = _sort(family)
    assert {f.tag for group in result.groups for f in group.females} >= {"Wye", "Ure", "Tees"}
    over = {one.tag for one in result.not_bred if one.code == "over_limit"}
    assert over == {"Eden", "Fell", "Lune", "Nith", "Kent", "Inbred"} - {
        one.tag for one in result.not_bred if one.code != "over_limit"
    }
    assert "Lune" in over
    assert _female(result, "Lune").close == ("very close",)


def test_a_terminal_calf_is_accepted_by_hand_with_its_reason(family: Herd) -> None:
    h = family
    choice = Choice("bull", h.id["Cheviot"], "for beef, killed at 20 months")
    passed = {reason.code: str(reason) for reason in rules_passed(_sort(h), h.id["Lune"], choice)}
    words = "Her calf would be 25.0% inbred, above the limit of 6.25%: for beef only, "
    assert passed["over_limit"] == words + "keep no replacement from it."
    result = _sort(h, choices={h.id["Lune"]: choice})
    (group,) = result.groups
    (lune,) = [female for female in group.females if female.tag == "Lune"]
    assert lune.by_hand
    assert lune.inbreeding == 0.25
    command = accept_command(result, ON)
    assert "for beef, killed at 20 months" in str(command)


def test_a_calf_of_very_close_kin_is_marked_as_no_replacement(family: Herd) -> None:
    h = family
    words = "Its parents were very close kin (25.0% inbred): for beef, not to be kept for breeding."
    with h.book.read() as conn:
        assert str(kin_of_parents(conn, h.id["Inbred"]).caution) == words
        assert kin_of_parents(conn, h.id["Kent"]).caution is None
    heifer = _female(_sort(h), "Inbred")
    assert heifer.heifer
    assert [str(r) for r in heifer.readiness.reasons if r.code == "not_a_replacement"] == [words]
    assert not any(r.code == "not_a_replacement" for r in _female(_sort(h), "Kent").readiness.reasons)
    h.do(ChangeSetting("very_close_from", 0.26))
    with h.book.read() as conn:
        assert kin_of_parents(conn, h.id["Inbred"]).caution is None
    assert (not_a_replacement(0.1249), not_a_replacement(0.125) is None) == (None, False)


def test_the_keeper_reads_it_on_her_card(qtbot: QtBot, qapp: QApplication, family: Herd) -> None:
    family.on = ON
    keeper = Keeper(qtbot, qapp, family)
    try:
        keeper.desk.open_animal(family.id["Inbred"])
        keeper.wait(lambda: keeper.page.heading.text() == "Inbred")
        keeper.calm()
        words = [label.text() for label in keeper.page.view.side.findChildren(QLabel)]
        assert any("not to be kept for breeding" in text for text in words)
    finally:
        keeper.close()


# -- zero is not unrelated --


@pytest.fixture
def bought(herd: Herd) -> Herd:
    """Return a bought cow and a bought bull, their parents left blank."""
    herd.add("Cheviot", "M", date(2020, 3, 1), entered=date(2024, 5, 1))
    herd.add("Eden", "F", date(2019, 3, 1), entered=date(2024, 5, 1), calved_before=True)
    return herd


def test_nothing_from_nothing_is_said_to_be_not_known(bought: Herd, tmp_path: Path) -> None:
    """Unknown ancestry gives 0 by arithmetic only: with it stands what is known behind it, or no figure."""
    h = bought
    result = _sort(h)
    eden = _female(result, "Eden")
    assert eden.calves == (0.0,)
    assert (eden.known_generations, eden.trust) == (0.0, Trust.NOTHING)
    assert result.bull_groups[0].trust is Trust.NOTHING
    with h.book.read() as conn:
        told = explain(conn, h.id["Eden"], h.id["Cheviot"], on=ON)
        chart = kin_chart(told)
        own = kin_of_parents(conn, h.id["Eden"])
    assert (told.held, told.trust, told.says_nothing) == (0.0, Trust.NOTHING, True)
    calf = next(box for box in chart.boxes if box.key == "calf")
    assert calf.title == "not known"
    assert not own.known
    pedigree_paper(tmp_path / "pair.pdf", chart, on=ON)
    document = pypdfium2.PdfDocument(tmp_path / "pair.pdf")
    try:
        page = document[0].get_textpage().get_text_range()
    finally:
        document.close()
    assert "not known" in page
    assert "0.0" not in page


def test_the_shell_says_so_too(bought: Herd, capsys: pytest.CaptureFixture[str]) -> None:
    path = str(bought.book.path)
    bought.book.close()
    assert main(["kin", path, "--dam", "Eden", "--sire", "Cheviot", "--on", "2026-05-01"]) == 0
    assert capsys.readouterr().out.splitlines()[0] == "calf of Eden by Cheviot: not known: nothing known"
    assert main(["inbreeding", path]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 2
    assert all(line.endswith("nothing known of its parents") for line in lines)
