"""Marks of heritable conditions on the Sort page: on the board, on the card, in the table."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.commands.genetics import TestGenes
from herdbook.services.queries.sort import Choice, SortAsk, SortResult, each_alone, solve
from herdbook.services.queries.sort_hand import moved
from herdbook.ui.card import Card
from herdbook.ui.sort.column import Row
from herdbook.ui.sort.columns import columns_of, summary
from herdbook.ui.sort.menu import places_menu
from herdbook.ui.sort.risks import show_risks
from herdbook.ui.sort.table import lines_of
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper

ON = date(2026, 5, 1)


@pytest.fixture
def herd(tmp_path: Path) -> Iterator[Herd]:
    """Return two carriers, a bull and a cow, and a bull that is not tested."""
    with Book.create(tmp_path / "moor.herdbook", who="keeper") as book:
        h = Herd(book, ON)
        h.add("Cheviot", "M", date(2021, 3, 1))
        h.add("Pentland", "M", date(2021, 3, 1))
        h.add("Tarn", "F", date(2019, 3, 1))
        h.calve("Tarn", date(2026, 3, 10), "26/1", sex="M")
        for tag in ("Cheviot", "Tarn"):
            h.do(TestGenes(h.id[tag], date(2026, 4, 1), "am", "carrier"))
        yield h


def by_hand(herd: Herd) -> SortResult:
    """Return the sort with the two carriers put together by hand."""
    result: SortResult = herd.ask(solve, SortAsk())
    return moved(result, herd.id["Tarn"], Choice("bull", herd.id["Cheviot"], "for the butcher"))


def row_of(result: SortResult, animal: int) -> Row:
    """Return the line of a female on the board."""
    return next(r for c in columns_of(result, True, ON) for r in c.rows if r.animal == animal)


def test_the_row_has_a_mark_in_words(herd: Herd) -> None:
    """Sharper where the sort would not make the mating; read out to those who do not see it."""
    usual = row_of(herd.ask(solve, SortAsk()), herd.id["Tarn"])
    assert any(tone == "soon" and word.startswith("affected calf 0.5") for tone, word in usual.marks)
    forced = row_of(by_hand(herd), herd.id["Tarn"])
    assert any(tone == "act" and word.startswith("affected calf 25.0") for tone, word in forced.marks)
    assert "affected calf 25.0" in forced.spoken
    assert (usual.risk, forced.risk) == ("soon", "act")
    assert "1 at genetic risk" in summary(by_hand(herd), as_moved=True)
    assert "curly calf" in forced.tip


def test_the_card_tells_every_bull(herd: Herd, qapp: object) -> None:
    result = by_hand(herd)
    card = Card(None, name="why")
    female = next(f for f in result.females if f.tag == "Tarn")
    show_risks(card, result, female, herd.id["Cheviot"], ON)
    words = [label.text() for label in card.findChildren(type(card.line("")))]
    assert any(w.startswith("Cheviot: 25.0") for w in words)
    assert any(w.startswith("Pentland: 0.5") for w in words)
    assert any("your vet and your breed society decide" in w for w in words)


def test_the_table_says_why(herd: Herd) -> None:
    """The sheet that is printed has the sentence; a female left without a bull has it as her reason."""
    (tarn,) = [line for line in lines_of(by_hand(herd), ON) if line.tag == "Tarn"]
    assert "of an affected calf" in tarn.why
    alone = herd.ask(solve, SortAsk(groups=each_alone([herd.id["Cheviot"]])))
    (left,) = [line for line in lines_of(alone, ON) if line.tag == "Tarn"]
    assert "may give her an affected calf" in left.why
    marks = row_of(alone, herd.id["Tarn"]).marks
    assert ("quiet", "affected calf") in marks


def test_the_menu_says_it_before_she_is_moved(herd: Herd, qtbot: QtBot) -> None:
    """Where M lists the bulls, the carrier bears the sign and the chance."""
    result: SortResult = herd.ask(solve, SortAsk())
    window = QWidget()
    qtbot.addWidget(window)
    menu = places_menu(window, result, herd.id["Tarn"], lambda _animal, _place: None, lambda: None)
    told = {action.text().split(":")[0]: action.text() for action in menu.actions()}
    assert "affected calf 25.0" in told["Cheviot"]
    assert "affected calf 0.5" in told["Pentland"]


def test_results_that_clash_are_said_on_the_page(herd: Herd, qtbot: QtBot, qapp: QApplication) -> None:
    """A second result that contradicts the first: no sign on any row, and a sentence that names her."""
    herd.do(TestGenes(herd.id["Tarn"], date(2026, 4, 2), "am", "free"))
    keeper = Keeper(qtbot, qapp, herd, first="sort")
    keeper.wait(lambda: keeper.page.result is not None)
    keeper.calm()
    assert "Tarn cannot all be true" in keeper.page.note.text()
    assert all(not f.risks for f in keeper.page.result.females)
    assert keeper.desk.failed == []
    assert keeper.jobs.close()
