"""The Calving page on a real book, by keys: the list, its ruler, the birth's form, the other acts."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.happenings import CheckPregnancy, SeeSign, Serve
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.calving import coming_calvings
from herdbook.services.queries.due import due_list
from herdbook.store import tables as t
from herdbook.ui import theme
from herdbook.ui.calving import card as side
from herdbook.ui.calving.page import CalvingPage
from herdbook.ui.calving.ruler import Ruler
from herdbook.ui.calving.table import RULER
from herdbook.ui.forms.birth import BirthDialog, ask_birth
from herdbook.ui.forms.dialog import FormDialog
from herdbook.ui.jobs import Jobs
from tests.services.conftest import Herd
from tests.ui.conftest import OpenDesk, show

ON = date(2026, 3, 3)
K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier
Quiet = Callable[[], None]


@pytest.fixture
def herd(tmp_path: Path) -> Iterator[Herd]:
    """Return a herd of four to calve.

    Nith is a heifer due in five days; Eden a cow due in May, found in calf; Lune ran with the bull last
    summer and kicks; Wye was due last week.
    """
    with Book.create(tmp_path / "herd.herdbook", who="keeper") as book:
        h = Herd(book, ON)
        h.add("Cheviot", "M", date(2021, 3, 1))
        h.add("Eden", "F", date(2018, 3, 1))
        h.add("Lune", "F", date(2019, 3, 1), calved_before=True)
        h.add("Wye", "F", date(2017, 3, 1), calved_before=True)
        h.calve("Eden", date(2025, 3, 20), "25/1")
        h.add("Nith", "F", date(2023, 4, 1))
        h.do(Serve(h.id["Nith"], ON + timedelta(days=5 - 283), sire=h.id["Cheviot"]))
        h.do(Serve(h.id["Wye"], ON + timedelta(days=-7 - 283), sire=h.id["Cheviot"]))
        h.do(Serve(h.id["Eden"], date(2025, 8, 1), sire=h.id["Cheviot"]))
        h.do(CheckPregnancy(h.id["Eden"], date(2025, 10, 1), result="pregnant"))
        h.do(TurnIn((h.id["Cheviot"],), (h.id["Lune"],), date(2025, 6, 20), date(2025, 8, 20)))
        h.do(ChangeAnimal(h.id["Lune"], sex="F", calved_before=True, care="kicks at the gate"))
        h.do(SeeSign(h.id["Nith"], ON - timedelta(days=1), what="udder filling"))
        h.do(SeeSign(h.id["Eden"], date(2025, 3, 18), what="restless"))
        yield h


@pytest.fixture
def page(qtbot: QtBot, qapp: QApplication, jobs: Jobs, herd: Herd, quiet: Quiet) -> CalvingPage:
    """Return the page with its list read."""
    theme.apply(qapp, "light")
    page = CalvingPage(OpenDesk(herd.book, jobs, day=lambda: ON))
    page.resize(1180, 660)
    page.desk.window = page
    qtbot.addWidget(page)
    show(qtbot, page)
    quiet()
    page.setFocus()
    return page


def _tags(page: CalvingPage) -> list[str]:
    return [row.tag for row in page._model.rows]


def _row(page: CalvingPage, tag: str) -> Any:
    return next(row for row in page._all.rows if row.tag == tag)


def _choose(page: CalvingPage, tag: str) -> None:
    assert page.panel.table.choose(_row(page, tag).animal)


def _card(page: CalvingPage) -> str:
    return " ".join(label.text() for label in page.card.findChildren(QLabel))


def _dialogs() -> list[Any]:
    return [w for w in QApplication.topLevelWidgets() if isinstance(w, FormDialog) and w.isVisible()]


def _dialog(qtbot: QtBot) -> Any:
    qtbot.waitUntil(lambda: bool(_dialogs()) and _dialogs()[-1].isActiveWindow())
    return _dialogs()[-1]


def _back(qtbot: QtBot, page: CalvingPage) -> None:
    """Wait until the dialog is gone and the page has the keys again."""
    qtbot.waitUntil(lambda: not _dialogs())
    page.activateWindow()
    qtbot.waitUntil(page.isActiveWindow)


def _type(qtbot: QtBot, text: str) -> None:
    qtbot.keyClicks(QApplication.focusWidget(), text)


def _enter(qtbot: QtBot) -> None:
    qtbot.keyClick(QApplication.focusWidget(), K.Key_Return)


# ---------------------------------------------------------------- the list


def test_soonest_first_with_counts_stage_and_first_calvers_marked(page: CalvingPage) -> None:
    assert _tags(page) == ["Wye", "Nith", "Lune", "Eden"]
    assert page.detail.text() == "as of Tue 3 Mar · 4 to come · 1 close up · 1 past due"
    text = {row.tag: [c.full_text(row) for c in page._model.columns] for row in page._model.rows}
    assert text["Nith"][1:5] == ["◆ heifer", "Sun 8 Mar", "close up", "Cheviot"]
    assert text["Wye"][1:4] == ["cow", "Tue 24 Feb", "due now"]
    assert text["Eden"][3] == "not due"
    assert text["Lune"][0] == "Lune !"


def test_the_parts_of_the_list_by_key(qtbot: QtBot, page: CalvingPage) -> None:
    assert [page.tabs.tabText(n) for n in range(4)] == [
        "All 4",
        "Close up 1",
        "Past due 1",
        "First-calvers 1",
    ]
    seen = []
    for _ in range(4):
        qtbot.keyClick(page.panel.table, K.Key_T)
        seen.append(_tags(page))
    assert seen == [["Nith"], ["Wye"], ["Nith"], ["Wye", "Nith", "Lune", "Eden"]]


def test_what_another_page_asks_for(page: CalvingPage, herd: Herd) -> None:
    page.tabs.setCurrentIndex(2)
    page.open({"animal": herd.id["Eden"]})
    assert page.panel.table.row().tag == "Eden"
    page.open({"animals": (herd.id["Eden"], herd.id["Lune"]), "animal": herd.id["Eden"]})
    assert page.tabs.tabText(4) == "Asked for 2"
    assert _tags(page) == ["Lune", "Eden"]
    assert page.panel.table.row().tag == "Eden"


def test_a_table_for_paper_has_the_window_in_words(page: CalvingPage) -> None:
    page.panel.table.selectAll()
    table = page.panel.table.as_text([_row(page, "Lune")])
    place = table.headings.index("first to last due")
    # 283 days from 20 June and 20 August 2025, both days of the run counted.
    assert table.rows[0][place] == "30 Mar 2026 to 30 May 2026"


def test_the_card_says_what_it_rests_on(page: CalvingPage, quiet: Quiet, qtbot: QtBot) -> None:
    _choose(page, "Lune")
    text = _card(page)
    assert "With a bull from 20 Jun 2025 to 20 Aug 2025; 283 days added." in text
    assert "Not found in calf yet" in text
    assert "kicks at the gate" in text
    assert "ring your vet" not in text
    _choose(page, "Nith")
    assert "60 minutes after the water bag" in _card(page)
    qtbot.waitUntil(lambda: "udder filling" in _card(page))
    _choose(page, "Wye")
    assert "30 minutes after the water bag" in _card(page)
    _choose(page, "Eden")
    qtbot.waitUntil(lambda: "25/1" in _card(page))
    quiet()
    assert "restless" not in _card(page)


def test_only_a_sign_of_this_birth_counts(herd: Herd) -> None:
    rows = {row.tag: row for row in herd.ask(coming_calvings).rows}
    assert (rows["Nith"].sign, rows["Nith"].sign_on) == ("udder filling", ON - timedelta(days=1))
    assert rows["Eden"].sign is None
    assert [row.animal for row in herd.ask(coming_calvings).rows] == [
        row.animal for row in herd.ask(due_list)
    ]


# ---------------------------------------------------------------- the ruler


def test_the_ruler_shows_today_and_what_can_be_seen_ahead(page: CalvingPage) -> None:
    ruler = Ruler.around(page._all.rows, ON)
    assert ruler.first <= ON <= ruler.last
    assert ruler.last > date(2026, 5, 30)
    box = QRect(10, 0, 240, 30)
    assert ruler.place(ruler.first, box) == 10
    assert ruler.place(ruler.last + timedelta(days=1), box) == pytest.approx(250)
    assert next(ruler.months()) == date(2026, 3, 1)
    alone = Ruler.around((), ON)
    assert alone.first < ON < alone.last


def test_far_windows_do_not_press_the_near_ones_together(page: CalvingPage) -> None:
    rows = page._all.rows
    far = type(rows[0])(**{**vars(rows[0]), "last_due": date(2027, 2, 1), "first_due": date(2025, 2, 1)})
    assert Ruler.around((far,), ON).days <= 45 + 150 + 1


def _colours_at(page: CalvingPage, tag: str) -> set[str]:
    """Return the colours drawn in a female's cell of the ruler."""
    table = page.panel.table
    column = [c.key for c in page._model.columns].index(RULER)
    cell = table.visualRect(page._model.index(page._model.place_of(_row(page, tag).animal), column))
    image = table.viewport().grab(cell).toImage().convertToFormat(QImage.Format.Format_RGB32)
    return {QColor(image.pixel(x, y)).name() for x in range(image.width()) for y in range(image.height())}


def test_the_band_is_drawn_in_the_tone_of_her_stage(page: CalvingPage) -> None:
    look = theme.LIGHT
    drawn = {tag: _colours_at(page, tag) for tag in ("Nith", "Wye", "Eden")}
    assert look.ochre.lower() in drawn["Nith"]
    assert look.clay.lower() in drawn["Wye"]
    assert look.slate.lower() in drawn["Eden"]
    assert all(look.ink.lower() in colours for colours in drawn.values())  # today's line
    assert look.clay.lower() not in drawn["Nith"] | drawn["Eden"]


# ---------------------------------------------------------------- the birth


def test_a_birth_by_keys_leaves_the_list_and_undo_brings_it_back(
    qtbot: QtBot, page: CalvingPage, herd: Herd, quiet: Quiet
) -> None:
    _choose(page, "Nith")
    qtbot.keyClick(page.panel.table, K.Key_C)
    dialog = _dialog(qtbot)
    quiet()
    _type(qtbot, "h")
    _enter(qtbot)
    assert dialog.form.calves[0].tag.text() == "26/1"  # after 25/1, in a new year
    _enter(qtbot)
    _type(qtbot, "34")
    _enter(qtbot)
    _type(qtbot, "2")
    for _ in range(8):  # help, lay, vigour, alive; afterbirth, goes for people, helped by, note
        _enter(qtbot)
    qtbot.waitUntil(lambda: "Nith" not in _tags(page), timeout=5000)
    with herd.book.read() as conn:
        calf = conn.execute(
            t.Animal.__table__.select().where(t.Animal.tag == "26/1")  # type: ignore[attr-defined]
        ).one()
        weight = conn.execute(
            t.Weighing.__table__.select().where(t.Weighing.animal_id == calf.id)  # type: ignore[attr-defined]
        ).one()
        born = conn.execute(
            t.CalvingCalf.__table__.select().where(t.CalvingCalf.calf_id == calf.id)  # type: ignore[attr-defined]
        ).one()
    assert (calf.sex, calf.born) == ("F", ON)
    assert (weight.kg, weight.stage, born.ease, born.fate) == (34.0, "birth", 2, "alive")
    page.desk.undo()
    qtbot.waitUntil(lambda: "Nith" in _tags(page), timeout=5000)


def test_twins_stand_side_by_side_and_the_heifer_is_called_barren(
    qtbot: QtBot, page: CalvingPage, herd: Herd, quiet: Quiet
) -> None:
    dialog = ask_birth(page.desk, herd.id["Wye"], "Wye")
    qtbot.waitUntil(dialog.isActiveWindow)
    quiet()
    _type(qtbot, "b")
    qtbot.keyClick(dialog, K.Key_T, CONTROL)
    quiet()
    form = dialog.form
    assert form.calves[1].isVisible()
    assert QApplication.focusWidget().accessibleName() == "Second calf: Calf"
    assert [calf.tag.text() for calf in form.calves[:2]] == ["26/1", "26/2"]
    assert form.calves[1].isAncestorOf(QApplication.focusWidget())
    _type(qtbot, "h")
    assert form.mixed.isVisible()
    qtbot.keyClick(dialog, K.Key_Return, CONTROL)
    qtbot.waitUntil(lambda: not _dialogs(), timeout=5000)
    with herd.book.read() as conn:
        rows = {r.tag: r for r in conn.execute(t.Animal.__table__.select())}  # type: ignore[attr-defined]
    assert (rows["26/1"].sex, rows["26/2"].sex, rows["26/2"].freemartin) == ("M", "F", "probable")


def test_a_twin_that_was_no_twin_is_not_written(qtbot: QtBot, page: CalvingPage, herd: Herd) -> None:
    dialog = ask_birth(page.desk, herd.id["Wye"], "Wye", twins=True)
    qtbot.waitUntil(dialog.isActiveWindow)
    qtbot.keyClick(dialog, K.Key_T, CONTROL)
    assert not dialog.form.calves[1].isVisible()
    _type(qtbot, "b")
    qtbot.keyClick(dialog, K.Key_Return, CONTROL)
    qtbot.waitUntil(lambda: not _dialogs(), timeout=5000)
    with herd.book.read() as conn:
        assert len(conn.execute(t.CalvingCalf.__table__.select()).all()) == 2  # type: ignore[attr-defined]


def test_a_calf_born_dead_is_offered_no_tag(
    qtbot: QtBot, page: CalvingPage, herd: Herd, quiet: Quiet
) -> None:
    dialog = ask_birth(page.desk, herd.id["Wye"], "Wye")
    qtbot.waitUntil(dialog.isActiveWindow)
    quiet()
    calf = dialog.form.calves[0]
    calf.focus("fate")
    _type(qtbot, "b")
    assert calf.fate.value() == "stillborn"
    assert calf.tag.text() == ""
    qtbot.keyClick(QApplication.focusWidget(), K.Key_Home)
    assert calf.tag.text() == "26/1"
    calf.tag.fill("own")
    calf.focus("fate")
    _type(qtbot, "b")
    assert calf.tag.text() == "own"
    dialog.form.is_edited = False
    dialog.close()


def test_doubts_are_asked_about_and_a_second_enter_saves(
    qtbot: QtBot, page: CalvingPage, herd: Herd, quiet: Quiet
) -> None:
    dialog: BirthDialog = ask_birth(page.desk, herd.id["Nith"], "Nith")
    qtbot.waitUntil(dialog.isActiveWindow)
    quiet()
    _type(qtbot, "b")
    dialog.form.calves[0].focus("kg")
    _type(qtbot, "85")
    qtbot.keyClick(dialog, K.Key_Return, CONTROL)
    qtbot.waitUntil(dialog.asking.isVisible)
    assert "did you mean 85 lb" in dialog.asking.text()
    assert "Nith" in _tags(page)
    _enter(qtbot)
    qtbot.waitUntil(lambda: "Nith" not in _tags(page), timeout=5000)


def test_the_register_may_ask_for_the_birth_of_one_not_on_the_list(
    qtbot: QtBot, page: CalvingPage, herd: Herd
) -> None:
    from herdbook.services.queries.lists import animal_named
    from herdbook.ui.desk import Found, Lookups

    def name(conn: Any, key: int) -> Found:
        found = animal_named(conn, key)
        assert found is not None
        return Found(key, found.tag)

    page.desk.lookups = Lookups(name=name)
    page.open({"animal": herd.id["25/1"], "calved": True})
    dialog = _dialog(qtbot)
    assert dialog.windowTitle() == "25/1 has calved"
    dialog.close()


# ---------------------------------------------------------------- the other acts


def test_not_in_calf_takes_her_off(qtbot: QtBot, page: CalvingPage) -> None:
    _choose(page, "Lune")
    qtbot.keyClick(page.panel.table, K.Key_N)
    dialog = _dialog(qtbot)
    assert dialog.windowTitle() == "Lune is not in calf"
    assert set(dialog.form.entries) == {"day", "method", "note"}
    qtbot.keyClick(dialog, K.Key_Return, CONTROL)
    qtbot.waitUntil(lambda: "Lune" not in _tags(page), timeout=5000)


def test_a_sign_a_check_and_a_loss(qtbot: QtBot, page: CalvingPage) -> None:
    _choose(page, "Wye")
    qtbot.keyClick(page.panel.table, K.Key_S)
    _dialog(qtbot).form.focus("what")
    _type(qtbot, "bones slack")
    qtbot.keyClick(_dialog(qtbot), K.Key_Return, CONTROL)
    qtbot.waitUntil(lambda: _row(page, "Wye").sign == "bones slack", timeout=5000)
    _back(qtbot, page)
    _choose(page, "Lune")
    qtbot.keyClick(page.panel.table, K.Key_K)
    dialog = _dialog(qtbot)
    dialog.form.focus("result")
    _type(qtbot, "i")
    qtbot.keyClick(dialog, K.Key_Return, CONTROL)
    qtbot.waitUntil(lambda: _row(page, "Lune").confirmed, timeout=5000)
    _back(qtbot, page)
    qtbot.keyClick(page.panel.table, K.Key_L)
    dialog = _dialog(qtbot)
    assert "ask your vet" in " ".join(label.text() for label in dialog.findChildren(QLabel))
    qtbot.keyClick(dialog, K.Key_Return, CONTROL)
    qtbot.waitUntil(lambda: "Lune" not in _tags(page), timeout=5000)


def test_enter_opens_her_card(qtbot: QtBot, page: CalvingPage, herd: Herd) -> None:
    _choose(page, "Nith")
    with qtbot.waitSignal(page.desk.went) as went:
        qtbot.keyClick(page.panel.table, K.Key_Return)
    assert went.args == ["register", {"animal": herd.id["Nith"]}]


# ---------------------------------------------------------------- nobody there


@pytest.fixture
def bare(qtbot: QtBot, qapp: QApplication, jobs: Jobs, tmp_path: Path, quiet: Quiet) -> Iterator[CalvingPage]:
    """Return the page of an empty book."""
    theme.apply(qapp, "light")
    with Book.create(tmp_path / "empty.herdbook") as book:
        page = CalvingPage(OpenDesk(book, jobs, day=lambda: ON))
        page.desk.window = page
        qtbot.addWidget(page)
        show(qtbot, page)
        quiet()
        yield page
        qtbot.waitUntil(lambda: not jobs.busy)


def test_an_empty_book_begins_in_the_register(qtbot: QtBot, bare: CalvingPage) -> None:
    assert bare.panel.empty_text.isVisible()
    assert "no females yet" in bare.panel.empty_text.text()
    with qtbot.waitSignal(bare.desk.went) as went:
        bare.panel.empty_button.click()
    assert went.args[0] == "register"
    assert not any(button.isEnabled() for button in bare._acts)


def test_females_of_whom_none_was_with_a_bull(qtbot: QtBot, bare: CalvingPage) -> None:
    Herd(bare.desk.book, ON).add("Eden", "F", date(2018, 3, 1))
    qtbot.waitUntil(lambda: "which bull ran with whom" in bare.panel.empty_text.text(), timeout=5000)
    qtbot.keyClick(bare, K.Key_B)
    assert _dialog(qtbot).form.command_type is TurnIn
    _dialog(qtbot).close()


def test_an_empty_part_leads_back_to_all(qtbot: QtBot, page: CalvingPage, herd: Herd) -> None:
    herd.calve("Wye", ON, "26/9")
    qtbot.waitUntil(lambda: "Wye" not in _tags(page), timeout=5000)
    page.tabs.setCurrentIndex(2)
    assert page.panel.empty_text.text() == "Nobody is past her day."
    page.panel.empty_button.click()
    assert _tags(page) == ["Nith", "Lune", "Eden"]


def test_what_is_asked_for_while_the_list_is_read_is_shown_then(
    qtbot: QtBot, page: CalvingPage, herd: Herd
) -> None:
    new = herd.add("Tyne", "F", date(2020, 3, 1), calved_before=True)
    herd.do(Serve(new, date(2025, 9, 1)))
    page.refresh()
    page.open({"animal": new})
    qtbot.waitUntil(lambda: page.panel.table.row().animal == new, timeout=5000)


# ---------------------------------------------------------------- a calving in progress


def test_a_calving_in_progress_with_the_hour_to_ring_the_vet(
    qtbot: QtBot, page: CalvingPage, herd: Herd, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By S with an hour: the card counts the stage's minutes, and says from when help is wanted."""
    now = [datetime.fromisoformat("2026-03-03T14:40")]
    monkeypatch.setattr(side, "clock", lambda _on: now[0])
    _choose(page, "Nith")
    qtbot.keyClick(page.panel.table, K.Key_S)
    dialog = _dialog(qtbot)
    assert dialog.form.entries["at"].text() == "14:40"
    dialog.form.focus("code")
    _type(qtbot, "water")
    dialog.form.focus("at")
    _type(qtbot, "14.10")
    qtbot.keyClick(dialog, K.Key_Return, CONTROL)
    _back(qtbot, page)
    qtbot.waitUntil(lambda: "Calving now" in _card(page), timeout=5000)
    assert "0 h 30 min" in _card(page)
    assert "No progress by 15:10, 60 minutes after the water bag" in _card(page)
    now[0] = now[0] + timedelta(minutes=31)
    page.shown()
    qtbot.waitUntil(lambda: "1 h 01 min" in _card(page), timeout=5000)
    herd.calve("Nith", ON, "26/9")
    page.shown()
    qtbot.waitUntil(lambda: "Nith" not in _tags(page), timeout=5000)
    assert "Calving now" not in _card(page)
