"""The Register page: the table, the card, the forms, the way back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QPushButton
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.commands.happenings import KINDS, Weigh
from herdbook.services.queries.animal import card
from herdbook.services.queries.growth import growth_of
from herdbook.services.queries.kin import inbreeding_list, kin_of_parents
from herdbook.services.queries.written import animal_as_written, happening_as_written
from herdbook.ui.register.kinds import Chosen, kinds
from herdbook.ui.register.page import RegisterPage
from herdbook.ui.register.plot import steps
from tests.services.conftest import Herd
from tests.ui.real_book import ON, Keeper, small_herd

K = Qt.Key
ALT = Qt.KeyboardModifier.AltModifier
CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before the register of a small herd."""
    keeper = Keeper(qtbot, qapp, small_herd(tmp_path / "herd.herdbook"))
    yield keeper
    keeper.close()


def shown(keeper: Keeper) -> list[str]:
    """Return the tags in the table, as they stand."""
    model = keeper.page.model
    return [model.index(row, 0).data() for row in range(model.rowCount())]


def row_of(keeper: Keeper, tag: str) -> dict[str, str]:
    """Return a row of the table as it is written, by headings."""
    model = keeper.page.model
    place = shown(keeper).index(tag)
    row = model.row_at(place)
    return {column.key: column.full_text(row) for column in model.columns}


def side_text(widget: Any) -> str:
    """Return all that a card says."""
    from PySide6.QtWidgets import QLabel

    inside = widget.widget()
    words = [label.text() for label in inside.findChildren(QLabel)]
    return "\n".join(words + [button.text() for button in inside.findChildren(QPushButton)])


def test_the_table_shows_the_herd(keeper: Keeper) -> None:
    """In the order of tags, with class, dam, sire, group, last weight, and care beside the tag."""
    assert shown(keeper) == ["7", "12", "25/1", "26/1", "B1"]
    wharfe = row_of(keeper, "25/1")
    assert (wharfe["class"], wharfe["dam"], wharfe["group"]) == (
        "young bull",
        "12",
        "Top field",
    )
    assert wharfe["weight"] == "310"
    assert row_of(keeper, "26/1")["sires"] == "B1 Cheviot"
    lune = row_of(keeper, "7")
    assert lune["tag"] == "7 !"
    assert lune["name"] == "Lune goes for dogs"
    assert keeper.page.heading.text() == "Register"
    assert "5 here" in keeper.page.detail.text()
    assert "Cows 2" in keeper.page.strip.counts.text()


def test_weights_in_pounds(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> None:
    """A book in pounds shows pounds."""
    herd = small_herd(tmp_path / "lb.herdbook")
    keeper = Keeper(qtbot, qapp, herd, first="today")
    keeper.desk.settings = SimpleNamespace(weight_unit="lb")
    keeper.window.go("register")
    keeper.calm()
    assert row_of(keeper, "25/1")["weight"] == "683"  # 310 kg / 0.45359237
    keeper.close()


def test_typing_filters_and_escape_shows_all(keeper: Keeper) -> None:
    """A figure typed in the table begins the filter; Escape empties it."""
    keeper.page.panel.table.setFocus()
    keeper.type("25")
    keeper.wait(lambda: shown(keeper) == ["25/1"])
    assert keeper.page.panel.filter.text() == "25"
    keeper.press(K.Key_Escape)
    keeper.wait(lambda: len(shown(keeper)) == 5)


def test_f_goes_to_the_filter(keeper: Keeper) -> None:
    """F puts the focus into the filter; Down goes back into the table."""
    keeper.page.panel.table.setFocus()
    keeper.press(K.Key_F)
    assert keeper.page.panel.filter.hasFocus()
    keeper.type("eden")
    keeper.wait(lambda: shown(keeper) == ["12"])
    keeper.press(K.Key_Down)
    assert keeper.page.panel.table.hasFocus()


def test_here_gone_and_class(keeper: Keeper) -> None:
    """The choosers are worked by keys."""
    keeper.page.class_.setFocus()
    keeper.type("Cows")
    keeper.wait(lambda: shown(keeper) == ["7", "12"])
    keeper.page.here.setFocus()
    keeper.type("gone")
    keeper.calm()
    keeper.wait(lambda: shown(keeper) == [])
    assert "Choose others" in keeper.page.panel.empty_text.text()


def test_at_another_day(keeper: Keeper) -> None:
    """The table and the counts as they stood."""
    keeper.page.strip.entry.edit.setFocus()
    keeper.type("1/6/2025")
    keeper.press(K.Key_Return)
    keeper.wait(lambda: shown(keeper) == ["7", "12", "25/1", "B1"])
    keeper.calm()
    assert "as it stood on" in keeper.page.detail.text()
    assert "Calves 1" in keeper.page.strip.counts.text()
    assert row_of(keeper, "25/1")["weight"] == "36"


def test_sorted_in_the_book(keeper: Keeper) -> None:
    """By born, the youngest first."""
    header = keeper.page.panel.table.horizontalHeader()
    header.setSortIndicator(3, Qt.SortOrder.DescendingOrder)
    keeper.wait(lambda: shown(keeper)[0] == "26/1")
    assert shown(keeper)[-1] == "12"


def test_the_side_card_follows(keeper: Keeper) -> None:
    """Down to the next row, and its card stands beside it."""
    keeper.page.panel.table.setFocus()
    keeper.press(K.Key_Home, CONTROL)
    keeper.wait(lambda: "7 Lune" in side_text(keeper.page.side))
    assert "Take care: goes for dogs" in side_text(keeper.page.side)
    keeper.press(K.Key_Down)
    keeper.wait(lambda: "12 Eden" in side_text(keeper.page.side))


def test_the_whole_card(keeper: Keeper) -> None:
    """Enter opens it: who it is, what happened, weights, offspring, kin."""
    page: RegisterPage = keeper.page
    page.panel.table.choose(keeper.herd.id["25/1"])
    page.panel.table.setFocus()
    keeper.press(K.Key_Return)
    keeper.wait(lambda: page.view.card is not None)
    keeper.calm()
    assert page.heading.text() == "25/1 Wharfe"
    assert page.view.happenings.table.hasFocus()
    text = side_text(page.view.side)
    assert "12 Eden" in text
    assert "young stock" not in text
    words = [h.words for h in page.view.happenings.model.rows]
    assert words[0] == "weighed 310 kg"
    keeper.press(K.Key_W)
    assert page.view.weights.isVisible()
    # (310 - 230) kg in the 100 days from 20 October to 28 January
    assert page.view.weights.model.index(0, 2).data() == "+0.80"
    assert "205-day weight" in page.view.weights.words.text()
    assert not page.view.weights.plot.grab().isNull()
    keeper.press(K.Key_K)
    assert page.view.kin.words.text() == "Inbreeding not known: a parent is missing."
    keeper.press(K.Key_Escape)
    assert not page.in_view
    assert page.panel.table.hasFocus()
    assert page.heading.text() == "Register"


def test_links_and_the_way_back(keeper: Keeper) -> None:
    """From the calf to its sire, to another calf, and back by Alt+Left."""
    page: RegisterPage = keeper.page
    keeper.desk.open_animal(keeper.herd.id["26/1"])
    keeper.calm()
    link = next(b for b in page.view.side.findChildren(QPushButton) if b.text().startswith("B1"))
    link.setFocus()
    keeper.press(K.Key_Space)
    keeper.wait(lambda: page.heading.text() == "B1 Cheviot")
    keeper.press(K.Key_O)
    keeper.calm()
    keeper.press(K.Key_Return)
    keeper.wait(lambda: page.heading.text() == "26/1 Bora")
    for heading in ("B1 Cheviot", "26/1 Bora"):
        keeper.press(K.Key_Left, ALT)
        keeper.wait(lambda heading=heading: page.heading.text() == heading)
    keeper.press(K.Key_Left, ALT)
    assert not page.in_view


def test_the_list_of_kinds_fits_the_animal(keeper: Keeper) -> None:
    """No calving of a bull, no examination of a cow, no weight of several at once."""
    herd = keeper.herd

    def offered(*tags: str) -> set[str]:
        sexes = {herd.id[tag]: "M" if tag in ("B1", "25/1") else "F" for tag in tags}
        return {kind.label for kind in kinds() if kind.fits(Chosen(tuple(sexes), "", sexes))}

    assert "Calving" not in offered("B1")
    assert "Bull examined" in offered("B1")
    assert "Calving" in offered("12")
    assert "Bull examined" not in offered("12")
    assert "Weight" not in offered("12", "7")
    assert {"Treatment", "Weaning", "Move into a group"} <= offered("12", "7")
    assert {kind.command for kind in kinds()} >= set(KINDS)


def test_every_kind_has_a_form(keeper: Keeper) -> None:
    """Each opens over the window and asks something; none is empty."""
    page: RegisterPage = keeper.page
    cow, bull = (
        Chosen((keeper.herd.id[tag],), tag, {keeper.herd.id[tag]: sex})
        for tag, sex in (("12", "F"), ("B1", "M"))
    )
    for kind in kinds():
        if kind.label == "Calving":
            continue
        page.writer.open(kind, cow if kind.fits(cow) else bull)
        keeper.calm()
        dialog = keeper.dialog()
        assert dialog.form.entries, kind.label
        assert "animal" not in dialog.form.entries
        dialog.reject()
        keeper.in_window()


def test_the_same_of_several(keeper: Keeper) -> None:
    """Two animals chosen with Shift+Down, one treatment, one act."""
    page: RegisterPage = keeper.page
    page.panel.table.setFocus()
    keeper.press(K.Key_Home, CONTROL)
    keeper.press(K.Key_Down, SHIFT)
    keeper.wait(lambda: "2 animals chosen" in side_text(page.side))
    keeper.press(K.Key_A)
    keeper.dialog()
    keeper.type("treat")
    keeper.press(K.Key_Return)
    keeper.dialog()
    keeper.type("Drench")
    keeper.save()
    for tag in ("7", "12"):
        assert any("Drench" in h.words for h in _card(keeper, tag).happenings)
    keeper.press(K.Key_Z, CONTROL)
    keeper.calm()
    keeper.wait(lambda: not any("Drench" in h.words for h in _card(keeper, "7").happenings))
    assert not any("Drench" in h.words for h in _card(keeper, "12").happenings)


def _card(keeper: Keeper, tag: str) -> Any:
    with keeper.herd.book.read() as conn:
        return card(conn, keeper.herd.id[tag], ON)


def test_marks_and_names_keep_what_they_do_not_ask(keeper: Keeper) -> None:
    """The form of marks leaves the name, and the form of names leaves the marks."""
    keeper.desk.open_animal(keeper.herd.id["7"])
    keeper.calm()
    keeper.press(K.Key_M)
    form = keeper.dialog().form
    assert set(form.entries) == {"care", "do_not_breed", "freemartin"}
    form.focus("do_not_breed")
    keeper.type("bad feet")
    keeper.save()
    lune = _card(keeper, "7")
    assert (lune.name, lune.care, lune.do_not_breed) == ("Lune", "goes for dogs", "bad feet")
    keeper.press(K.Key_E)
    form = keeper.dialog().form
    form.focus("colour")
    keeper.type("dun")
    keeper.save()
    lune = _card(keeper, "7")
    assert (lune.colour, lune.care, lune.do_not_breed) == ("dun", "goes for dogs", "bad feet")


def test_a_doubt_is_asked_before_saving(keeper: Keeper) -> None:
    """800 kg at eleven months is asked about; Enter once more saves it."""
    page: RegisterPage = keeper.page
    keeper.desk.open_animal(keeper.herd.id["25/1"])
    keeper.calm()
    keeper.press(K.Key_A)
    keeper.dialog()
    keeper.type("weight")
    keeper.press(K.Key_Return)
    dialog = keeper.dialog()
    keeper.type("900")
    keeper.press(K.Key_Return, CONTROL)
    keeper.wait(lambda: dialog.asking.isVisible())
    assert "900" in dialog.asking.text()
    assert _card(keeper, "25/1").weights[0].kg == 310
    keeper.press(K.Key_Return)
    keeper.in_window()
    assert _card(keeper, "25/1").weights[0].kg == 900
    assert keeper.told[-1] == "Weight written down for 25/1 Wharfe."
    assert page.view.happenings.model.rows[0].words == "weighed 900 kg"


def test_take_back(keeper: Keeper) -> None:
    """Delete takes the chosen line out; a calving says where it is put right instead."""
    page: RegisterPage = keeper.page
    keeper.desk.open_animal(keeper.herd.id["25/1"])
    keeper.calm()
    keeper.press(K.Key_Delete)
    keeper.wait(lambda: page.view.card.weights[0].kg == 230)
    keeper.calm()
    keeper.desk.open_animal(keeper.herd.id["12"])
    keeper.wait(lambda: page.view.card is not None and page.view.card.tag == "12")
    keeper.calm()
    keeper.press(K.Key_Delete)
    assert keeper.told[-1].startswith("A calving is put right")
    assert any(h.kind == "calving" for h in _card(keeper, "12").happenings)


def test_a_new_animal_and_its_undo(keeper: Keeper) -> None:
    """N, a tag and a year; its card opens; undone, the table stands there again and says why."""
    page: RegisterPage = keeper.page
    page.panel.table.setFocus()
    keeper.press(K.Key_N)
    form = keeper.dialog().form
    keeper.type("31")
    form.focus("sex")
    keeper.type("f")
    form.focus("born")
    keeper.type("2021")
    keeper.save()
    keeper.wait(lambda: page.heading.text() == "31")
    keeper.press(K.Key_Z, CONTROL)
    keeper.wait(lambda: not page.in_view)
    keeper.calm()
    assert "31" not in shown(keeper)
    assert "not in the book any more" in keeper.told[-1] or "Taken back" in keeper.told[-1]


def test_only_what_another_page_asked(keeper: Keeper) -> None:
    """Several animals of an errand are shown alone, with a way back to the herd."""
    two = [keeper.herd.id["12"], keeper.herd.id["26/1"]]
    keeper.desk.go("register", {"animals": two, "animal": two[0]})
    keeper.wait(lambda: shown(keeper) == ["12", "26/1"])
    assert keeper.page.only.text() == "Only 2: show all"
    keeper.page.only.setFocus()
    keeper.press(K.Key_Space)
    keeper.wait(lambda: len(shown(keeper)) == 5)


def test_an_empty_book_says_what_to_do(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> None:
    """One sentence, one button."""
    keeper = Keeper(qtbot, qapp, Herd(Book.create(tmp_path / "empty.herdbook"), ON))
    assert keeper.page.panel.empty_text.isVisible()
    assert keeper.page.panel.empty_button.text() == "New animal (N)"
    keeper.page.panel.empty_button.setFocus()
    keeper.press(K.Key_Space)
    keeper.dialog().reject()
    keeper.in_window()
    keeper.close()


def test_tab_goes_through_the_page(keeper: Keeper) -> None:
    """Tab reaches the filter, the choosers, the table and the card, and comes round again."""
    keeper.page.panel.table.setFocus()
    seen = []
    for _ in range(40):
        keeper.press(K.Key_Tab)
        focus = QApplication.focusWidget()
        seen.append(focus)
        assert focus.accessibleName() or focus.property("text") or focus is keeper.window.rail, focus
        if focus is keeper.page.panel.table:
            break
    page = keeper.page
    order = [page.new_button, page.write_button, page.strip.entry.edit, page.panel.filter, page.here,
             page.class_, page.panel.more, page.panel.table]  # fmt: skip
    assert [one for one in seen if one in order] == order
    assert {
        keeper.page.panel.filter,
        keeper.page.here,
        keeper.page.class_,
        keeper.page.strip.entry.edit,
    } <= set(seen)


# ---------------------------------------------------------------- what the card asks of the book


def test_growth_of_one_is_what_the_herd_says(tmp_path: Path) -> None:
    """The calf's weaning weight read with its group alone equals the one read with the herd."""
    from herdbook.services.queries.growth import weaning_weights

    herd = small_herd(tmp_path / "g.herdbook")
    calf = herd.id["25/1"]
    with herd.book.read() as conn:
        growth = growth_of(conn, calf, ON)
        assert [growth.weaning] == weaning_weights(conn, ON, [calf])
        # (310 - 230) kg over 100 days, 34 days on; the birth weight is the third of the last three
        assert growth.now is not None
        assert growth.now.measured
        assert growth.now.kg > 310
        bull = growth_of(conn, herd.id["B1"], ON)
        assert (bull.weaning, bull.now) == (None, None)
    herd.book.close()


def test_own_kinship_is_what_the_list_says(tmp_path: Path) -> None:
    """A calf of half sibs through the bull: 12.5 %, all of it through him (the coefficient of half sibs)."""
    herd = small_herd(tmp_path / "k.herdbook")
    bull = herd.id["B1"]
    one = herd.add("40", "F", date(2022, 3, 1), sire=bull, dam=herd.id["12"])
    other = herd.add("41", "M", date(2022, 3, 1), sire=bull, dam=herd.id["7"])
    calf = herd.add("42", "F", date(2025, 3, 1), sire=other, dam=one)
    with herd.book.read() as conn:
        own = kin_of_parents(conn, calf)
        listed = {row.animal: row.inbreeding for row in inbreeding_list(conn)}
        assert own.inbreeding == listed[calf] == pytest.approx(0.125)
        assert own.parents is not None
        assert [(s.tag, s.share) for s in own.parents.shared] == [("B1", pytest.approx(0.125))]
        assert kin_of_parents(conn, bull).parents is None
    herd.book.close()


def test_what_is_written_comes_back_as_its_command(tmp_path: Path) -> None:
    """A happening and an animal, field by field."""
    herd = small_herd(tmp_path / "w.herdbook")
    weigh = Weigh(herd.id["12"], date(2026, 2, 1), kg=612.5, unit="lb", method="girth", note="in the yard")
    row = herd.do(weigh)
    with herd.book.read() as conn:
        assert happening_as_written(conn, "weighing", row) == weigh
        lune = animal_as_written(conn, herd.id["7"])
    assert (lune.name, lune.care, lune.born.day) == ("Lune", "goes for dogs", date(2020, 3, 1))
    assert herd.do(lune) == herd.id["7"]
    herd.book.close()


@pytest.mark.parametrize(("low", "high"), [(31, 500), (36, 36), (560, 575), (0.5, 3)])
def test_rules_of_the_plot(low: float, high: float) -> None:
    """Round numbers that hold all weights, few enough to read."""
    rules = steps(low, high)
    assert rules[0] <= low
    assert rules[-1] >= high
    assert 2 <= len(rules) <= 8


def test_a_narrow_window_leaves_the_width_to_the_table(keeper: Keeper) -> None:
    """The side card goes where there is no room for it, and comes back with the room."""
    page: RegisterPage = keeper.page
    assert page.side.isVisible()
    keeper.window.resize(page.fontMetrics().horizontalAdvance("0") * 100, keeper.window.height())
    keeper.wait(lambda: not page.side.isVisible())
    keeper.window.resize(1366, 768)
    keeper.wait(page.side.isVisible)
