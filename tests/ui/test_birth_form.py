"""The form of a birth, by keys: three calves, the cow, whose calf by blood, and why all the same."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from herdbook.services.commands.happenings import CheckPregnancy, Serve
from herdbook.services.queries.animal import AnimalCard, card
from herdbook.store import tables as t
from tests.services.conftest import Herd
from tests.ui.real_book import ON, Keeper, small_herd

K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before Calving: Eden is due, Kent carries an embryo of hers, Lune calved lately."""
    herd = small_herd(tmp_path / "moor.herdbook")
    herd.add("24/3", "F", ON - timedelta(days=720), name="Kent")
    served = ON + timedelta(days=2 - 283)
    herd.do(Serve(herd.id["12"], served, sire=herd.id["B1"]))
    herd.do(Serve(herd.id["24/3"], served + timedelta(days=7), sire=herd.id["B1"], how="embryo",
                  donor=herd.id["12"], embryo_days=7))  # fmt: skip
    herd.do(CheckPregnancy(herd.id["12"], served + timedelta(days=40), result="pregnant"))
    keeper = Keeper(qtbot, qapp, herd, first="calving")
    yield keeper
    keeper.close()


def _calved(keeper: Keeper, tag: str) -> Any:
    """Choose a female and press C; return the form's dialog."""
    assert keeper.page.panel.table.choose(keeper.herd.id[tag])
    keeper.page.panel.table.setFocus()
    keeper.press(K.Key_C)
    dialog = keeper.dialog()
    keeper.calm()
    return dialog


def _card(herd: Herd, tag: str) -> AnimalCard:
    with herd.book.read() as conn:
        found = card(conn, conn.scalars(select(t.Animal.id).where(t.Animal.tag == tag)).one(), ON)
    assert found is not None
    return found


def _count(herd: Herd, table: Any) -> int:
    with herd.book.read() as conn:
        return len(conn.execute(select(table.id)).all())


def test_a_twin_calving_saved_in_one_act_and_undone_in_one(keeper: Keeper) -> None:
    """Ctrl+T for the twin, all of the cow said on the same form, and Ctrl+Z takes all of it back."""
    herd = keeper.herd
    before = [_count(herd, table) for table in (t.Animal, t.Calving, t.CalvingCalf, t.Weighing, t.Departure)]
    dialog = _calved(keeper, "12")
    second = dialog.form.calves[1]
    keeper.type("h")
    keeper.press(K.Key_Return, times=2)
    keeper.type("31")
    keeper.press(K.Key_Return)
    keeper.type("2")
    keeper.press(K.Key_Return)
    keeper.type("backwards")
    keeper.press(K.Key_T, CONTROL)
    keeper.calm()
    keeper.type("b")
    second.focus("fate")
    keeper.type("born")
    assert dialog.form.mixed.isVisible()
    dialog.form.hour.focus("at")
    keeper.type("4.10")
    dialog.form.cow.focus("afterbirth")
    keeper.type("still")
    keeper.press(K.Key_Return)
    keeper.press(K.Key_Space)
    keeper.press(K.Key_Return)
    keeper.type("neighbour")
    keeper.press(K.Key_Return, CONTROL)
    keeper.in_window()

    heifer = _card(herd, "26/2")
    assert (heifer.sex, heifer.freemartin) == ("F", "probable")  # the bull calf was born dead: all the same
    assert _card(herd, "12").care == "goes for people at calving"
    with herd.book.read() as conn:
        calving = conn.execute(
            select(t.Calving.at, t.Calving.afterbirth, t.Calving.helped_by, t.Calving.reason).order_by(
                t.Calving.id.desc()
            )
        ).first()
        calves = conn.execute(
            select(t.CalvingCalf.fate, t.CalvingCalf.ease, t.CalvingCalf.presentation).order_by(
                t.CalvingCalf.id
            )
        ).all()[-2:]
    assert calving == ("04:10", "hanging", "neighbour", None)
    assert calves == [("alive", 2, "backward"), ("stillborn", None, None)]

    keeper.press(K.Key_Z, CONTROL)
    keeper.wait(
        lambda: (
            [_count(herd, x) for x in (t.Animal, t.Calving, t.CalvingCalf, t.Weighing, t.Departure)] == before
        )
    )
    assert _card(herd, "12").care is None
    keeper.calm()


def test_three_calves_have_three_tags(keeper: Keeper) -> None:
    dialog = _calved(keeper, "12")
    dialog.form.twin_button.click()
    assert dialog.form.third_button.isVisible()
    dialog.form.third_button.click()
    keeper.calm()
    assert [calf.tag.text() for calf in dialog.form.calves] == ["26/2", "26/3", "26/4"]
    for calf in dialog.form.calves:
        calf.focus("sex")
        keeper.type("h")
    keeper.save()
    with keeper.herd.book.read() as conn:
        born = conn.scalars(select(t.CalvingCalf.calving_id).order_by(t.CalvingCalf.id)).all()[-3:]
    assert len(set(born)) == 1
    dialog_again = _card(keeper.herd, "26/4")
    assert dialog_again.freemartin is None  # all of one sex


def test_an_embryos_calf_is_her_donors_by_blood(keeper: Keeper) -> None:
    dialog = _calved(keeper, "24/3")
    assert dialog.form.embryo.isVisible()
    assert dialog.form.embryo.entries["genetic_dam"].value() == keeper.herd.id["12"]
    keeper.type("h")
    keeper.save()
    calf = _card(keeper.herd, "26/2")
    assert calf.dam is not None
    assert calf.birth_dam is not None
    assert (calf.dam.tag, calf.birth_dam.tag) == ("12", "24/3")


def test_a_cow_of_her_own_is_not_asked_about_embryos(keeper: Keeper) -> None:
    dialog = _calved(keeper, "12")
    assert not dialog.form.embryo.isVisible()
    dialog.form.is_edited = False
    keeper.press(K.Key_Escape)
    keeper.in_window()


def test_what_can_hardly_be_is_saved_with_a_word_about_why(keeper: Keeper) -> None:
    """Lune calved a week ago: the form asks, and saves only with a reason; Enter alone does not."""
    from herdbook.ui.forms.birth import ask_birth

    herd = keeper.herd
    dialog = ask_birth(keeper.desk, herd.id["7"], "7 Lune")
    keeper.dialog()
    keeper.calm()
    keeper.type("b")
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait(dialog.asking.isVisible)
    assert "twins come within hours" in dialog.asking.text()
    assert dialog.form.why.isVisible()
    calvings = _count(herd, t.Calving)
    keeper.press(K.Key_Return)
    keeper.calm()
    assert dialog.isVisible()
    assert _count(herd, t.Calving) == calvings
    keeper.type("the first day was put wrong")
    keeper.press(K.Key_Return)
    keeper.in_window()
    with herd.book.read() as conn:
        reason = conn.scalars(select(t.Calving.reason).order_by(t.Calving.id.desc())).first()
    assert reason == "the first day was put wrong"
    assert date(2026, 2, 24) in [h.day for h in _card(herd, "7").happenings if h.kind == "calving"]
