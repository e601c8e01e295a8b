"""The Sort page on a real book: columns, moves by key and by mouse, reasons, bulls, settings, accepting."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QApplication, QMenu
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.plans import accepted_plan
from herdbook.services.queries.sort import SortAsk, solve
from herdbook.ui import theme
from herdbook.ui.desk import Outlets
from herdbook.ui.forms.reason import ReasonDialog
from herdbook.ui.jobs import Jobs
from herdbook.ui.sort.bulls import BullsDialog
from herdbook.ui.sort.column import FEMALE
from herdbook.ui.sort.columns import figure_words, share
from herdbook.ui.sort.page import SortPage
from herdbook.ui.sort.table import GroupsDialog
from tests.services.conftest import Herd
from tests.ui.conftest import OpenDesk, show

ON = date(2026, 5, 1)
K = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier
Quiet = Callable[[], None]


@pytest.fixture
def real_book(tmp_path: Path) -> Iterator[Book]:
    """Return an empty book in a file."""
    with Book.create(tmp_path / "herd.herdbook", who="keeper") as made:
        yield made


@pytest.fixture
def herd(real_book: Book) -> Herd:
    """Kent is Cheviot's daughter, Lune bites, Tyne a heifer, Rye too young; Fell may have 14."""
    h = Herd(real_book, ON)
    h.add("Cheviot", "M", date(2021, 3, 1))
    h.add("Fell", "M", date(2025, 4, 1))
    h.add("Eden", "F", date(2018, 3, 1))
    h.add("Kent", "F", date(2022, 4, 1), dam=h.id["Eden"], sire=h.id["Cheviot"])
    h.add("Lune", "F", date(2019, 3, 1))
    h.add("Tyne", "F", date(2025, 2, 1))
    for dam in ("Eden", "Kent"):
        h.calve(dam, date(2026, 3, 20), f"{dam} calf", sex="F")
    h.calve("Lune", date(2026, 3, 21), "Lune calf", sex="M")
    h.do(ChangeAnimal(h.id["Lune"], sex="F", care="kicks at the gate"))
    return h


@pytest.fixture
def real_desk(qapp: QApplication, real_book: Book, jobs: Jobs) -> OpenDesk:
    """Return a desk over the real book."""
    theme.apply(qapp, "light")
    outlets = Outlets(paper=lambda _table, _path: None)
    return OpenDesk(real_book, jobs, day=lambda: ON, outlets=outlets)


@pytest.fixture
def page(qtbot: QtBot, herd: Herd, real_desk: OpenDesk, quiet: Quiet) -> SortPage:
    """Return the page, sorted, with the focus on the board."""
    page = SortPage(real_desk)
    page.resize(1180, 660)
    qtbot.addWidget(page)
    show(qtbot, page)
    quiet()
    page.setFocus()
    return page


def where(page: SortPage) -> dict[str, str]:
    """Return the column in which each female is shown, by tags."""
    return {
        row.label: view.title.text().split(":")[0]
        for view in page.board.views
        for row in view.list.lines.rows
        if row.animal
    }


def press(qtbot: QtBot, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
    """Press a key where the focus is."""
    qtbot.keyClick(QApplication.focusWidget(), key, modifier)


def answer(qtbot: QtBot, page: SortPage, text: str) -> ReasonDialog:
    """Type a reason into the dialog that asks for one, and press Enter."""
    dialog = page.findChild(ReasonDialog)
    assert dialog is not None
    line = dialog.form.entries["reason"].line
    qtbot.keyClicks(line, text)
    qtbot.keyClick(line, K.Key_Return)
    return dialog


def test_a_column_a_bull_and_three_more(page: SortPage, herd: Herd) -> None:
    """The daughter stands with the bull that is not her sire; the heifer has no bull; calves are folded."""
    titles = [view.title.text() for view in page.board.views]
    assert titles == ["Cheviot", "Fell", "Not bred: 3", "Finishing group: 0", "To sell: 0"]
    assert where(page)["Kent"] == "Fell"
    assert where(page)["Tyne"] == "Not bred"
    assert "Kent calf" not in where(page)
    assert page.board.views[2].list.lines.rows[-1].label == "▸ 2 calves too young"
    assert page.figures.text().startswith("3 of 4 placed · proven best · 3 not known (?)")
    assert page.board.views[1].hint.text() == "[2]"
    lune = next(r for v in page.board.views for r in v.list.lines.rows if r.animal == herd.id["Lune"])
    assert lune.care == "kicks at the gate"
    assert "take care, kicks at the gate" in lune.spoken


def test_nothing_known_is_never_a_plain_nil(page: SortPage) -> None:
    """No parent of Eden is in the book: her figure reads ?, and the card says what that means."""
    eden = next(r for v in page.board.views for r in v.list.lines.rows if r.label == "Eden")
    assert eden.figure == "?"
    assert page.board.choose(eden.animal)
    said = " ".join(label.text() for label in page.card.findChildren(type(page.note)))
    assert f"With {where(page)['Eden']}: not known" in said
    assert "not known, ask" in said
    assert "not known, not nil" in said


def test_a_figure_says_how_far_it_can_be_trusted(page: SortPage, herd: Herd) -> None:
    """Kent's parents are known and nothing behind them; her sire's are not, so her calf's figure is weak."""
    assert page.board.choose(herd.id["Kent"])
    said = " ".join(label.text() for label in page.card.findChildren(type(page.note)))
    assert "Known back 1.0 generations: parents only." in said
    assert "25.0 %, nothing known, very close, over the limit" in said
    kent = next(r for v in page.board.views for r in v.list.lines.rows if r.animal == herd.id["Kent"])
    assert kent.tip.splitlines()[0] == "not known, ask: no parent is in the book on one side"


def test_a_figure_not_known_says_what_it_could_be(
    qtbot: QtBot, real_desk: OpenDesk, herd: Herd, quiet: Quiet
) -> None:
    """Swale was bought with no parents: kin to nobody, or of parents like this herd's.

    All whose parents are known and who could be hers are Cheviot's: 25 %, as of his daughter.
    """
    for tag in ("Nadder", "Wey", "Mole", "Arun"):
        herd.add(tag, "F", date(2022, 4, 2), dam=herd.id["Eden"], sire=herd.id["Cheviot"], here=False)
    herd.add("Swale", "F", date(2024, 1, 1), entered=date(2025, 5, 1), calved_before=True)
    page = SortPage(real_desk)
    qtbot.addWidget(page)
    show(qtbot, page)
    quiet()
    assert page.board.choose(herd.id["Swale"])
    if where(page)["Swale"] != "Cheviot":
        press(qtbot, K.Key_1)
    qtbot.waitUntil(lambda: where(page)["Swale"] == "Cheviot")
    qtbot.waitUntil(lambda: "calf by" in page.card._kin_line.text(), timeout=5000)
    assert page.card._kin_line.text().splitlines()[0] == (
        "Unknown parents leave her calf by Cheviot a range. From 0 %, if unknown parents are kin to nobody, "
        "to 25 %, if they are average animals of this herd."
    )


def test_a_doubtful_sire_is_held_at_his_worst_and_told(
    qtbot: QtBot, real_desk: OpenDesk, herd: Herd, quiet: Quiet
) -> None:
    """Wye may be Cheviot's or Bure's: 25 % at worst by either, 12.5 % expected; a setting turns it round."""
    h = herd
    h.add("Bure", "M", date(2021, 3, 1))
    ran = (date(2022, 6, 1), date(2022, 8, 1))
    h.do(TurnIn((h.id["Cheviot"], h.id["Bure"]), (h.id["Eden"],), *ran))
    h.calve("Eden", date(2023, 3, 30), "Wye")
    said = {}
    for hold in ("worst", "expected"):
        h.do(ChangeSetting("inbreeding_held", hold))
        with h.book.read() as conn:
            result = solve(conn, SortAsk(), ON)
        wye = next(f for f in result.females if f.tag == "Wye")
        at = next(at for at, bull in enumerate(result.bull_groups) if bull.tag == "Cheviot")
        said[hold] = figure_words(wye, result.bull_groups[at], at)
    assert said["worst"].endswith("at worst, a sire is doubtful; expected 12.5 %")
    assert said["worst"].startswith("25.0 % · very close · nothing known · ")
    assert said["expected"].startswith("12.5 % · very close · nothing known · expected")
    assert said["expected"].endswith("at worst 25.0 %")
    page = SortPage(real_desk)
    qtbot.addWidget(page)
    show(qtbot, page)
    quiet()
    assert page.board.choose(h.id["Wye"])
    card = " ".join(label.text() for label in page.card.findChildren(type(page.note)))
    assert "12.5 %, nothing known, very close, over the limit" in card


def test_calves_unfold_by_enter(qtbot: QtBot, page: SortPage) -> None:
    """Enter on their line shows them, and hides them again."""
    not_bred = page.board.views[2]
    page.board._settle(2, len(not_bred.list.lines.rows) - 1, focus=True)
    press(qtbot, K.Key_Return)
    assert "Kent calf" in where(page)
    page.board._settle(2, len(not_bred.list.lines.rows) - 1, focus=True)
    press(qtbot, K.Key_Return)
    assert "Kent calf" not in where(page)


def test_arrows_go_about_and_tab_leaves_the_board(qtbot: QtBot, page: SortPage) -> None:
    """Right goes to the next column, and the board is one stop of Tab."""
    lists = [view.list for view in page.board.views]
    page.board._settle(0, 0, focus=True)
    press(qtbot, K.Key_Right)
    assert lists[1].hasFocus()
    stops = [lines for lines in lists if lines.focusPolicy() == Qt.FocusPolicy.StrongFocus]
    assert stops == [lists[1]]
    press(qtbot, K.Key_Tab)
    assert not any(lines.hasFocus() for lines in lists)


def test_a_move_past_the_limit_asks_for_a_reason(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet
) -> None:
    """Kent to her sire: the dialog names the rule; the reason is kept; the others stay; the cost is said."""
    before = where(page)
    page.board.choose(herd.id["Kent"])
    press(qtbot, K.Key_1)
    assert where(page) == before, "nothing moves before there is a reason"
    answer(qtbot, page, "no other way")
    after = where(page)
    assert {tag for tag in after if after[tag] != before[tag]} == {"Kent"}
    assert page.ask.choices[herd.id["Kent"]].reason == "no other way"
    assert "25.0 % here, not known with Fell" in page.note.text()
    assert "Worst not known → 25.0 %" in page.note.text()
    assert "as moved" in page.figures.text()
    kent = next(r for v in page.board.views for r in v.list.lines.rows if r.label == "Kent")
    assert (kent.by_hand, kent.tone, kent.figure) == (True, "act", "25.0 %")
    assert page.board.animal() == herd.id["Kent"]
    qtbot.waitUntil(lambda: "Cheviot 25.0 %" in page.card._kin_line.text(), timeout=3000)
    quiet()


def test_escape_leaves_her_where_she_is(qtbot: QtBot, page: SortPage, herd: Herd) -> None:
    """No reason, no move."""
    before = where(page)
    page.board.choose(herd.id["Kent"])
    press(qtbot, K.Key_1)
    qtbot.keyClick(page.findChild(ReasonDialog), K.Key_Escape)
    assert where(page) == before
    assert page.ask.choices == {}


def test_a_heifer_to_a_bull_not_marked_fit_asks(qtbot: QtBot, page: SortPage, herd: Herd) -> None:
    """The way on for a heifer without a bull: a reason."""
    page.board.choose(herd.id["Tyne"])
    press(qtbot, K.Key_2)
    answer(qtbot, page, "small calves from him")
    assert where(page)["Tyne"] == "Fell"


def test_moves_by_letter_arrow_and_back(qtbot: QtBot, page: SortPage, herd: Herd) -> None:
    """F and L need no reason; Ctrl+Left takes her along; Backspace and Ctrl+Z take moves back."""
    start = where(page)
    page.board.choose(herd.id["Lune"])
    press(qtbot, K.Key_F)
    assert where(page)["Lune"] == "Finishing group"
    press(qtbot, K.Key_L)
    assert where(page)["Lune"] == "To sell"
    press(qtbot, K.Key_Left, CONTROL)
    assert where(page)["Lune"] == "Finishing group"
    press(qtbot, K.Key_Backspace)
    assert where(page)["Lune"] == "To sell"
    press(qtbot, K.Key_Z, CONTROL)
    press(qtbot, K.Key_Z, CONTROL)
    assert where(page) == start
    assert page.ask.choices == {}
    assert "proven best" in page.figures.text()


def test_sort_again_keeps_the_choices(qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet) -> None:
    """S sorts the rest; Delete leaves her to the sort again."""
    page.board.choose(herd.id["Lune"])
    press(qtbot, K.Key_N)
    press(qtbot, K.Key_S)
    quiet()
    assert where(page)["Lune"] == "Not bred"
    assert "proven best" in page.figures.text()
    page.board.choose(herd.id["Lune"])
    press(qtbot, K.Key_Delete)
    quiet()
    assert where(page)["Lune"] in ("Cheviot", "Fell")


def test_a_female_dropped_on_a_column(page: SortPage, herd: Herd) -> None:
    """The mouse does what the keys do; only females can be dropped."""
    target = page.board.views[4].list

    def drop(kind: str, data: bytes) -> None:
        mime = QMimeData()
        mime.setData(kind, data)
        event = QDropEvent(
            QPointF(5, 5),
            Qt.DropAction.MoveAction,
            mime,
            Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
        )
        target.dropEvent(event)

    drop("text/plain", b"sheep")
    assert "To sell" not in where(page).values()
    drop(FEMALE, str(herd.id["Lune"]).encode())
    assert where(page)["Lune"] == "To sell"
    dragged = page.board.views[4].list.lines
    assert bytes(dragged.mimeData([dragged.index(0)]).data(FEMALE).data()) == str(herd.id["Lune"]).encode()


def test_the_menu_offers_every_place_with_its_figure(qtbot: QtBot, page: SortPage, herd: Herd) -> None:
    """M lists the bulls by her figure; taking one moves her."""
    page.board.choose(herd.id["Kent"])
    press(qtbot, K.Key_M)
    (menu,) = page.findChildren(QMenu)
    words = [action.text() for action in menu.actions() if action.text()]
    assert words[0].startswith("Fell:")
    assert words[1].startswith("Cheviot:  25.0 %")
    assert [action.isChecked() for action in menu.actions()][:2] == [True, False]
    next(action for action in menu.actions() if action.text() == "To sell").trigger()
    menu.close()
    assert where(page)["Kent"] == "To sell"


def test_bulls_in_and_out(qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet) -> None:
    """One bull out, one fit for heifers, one place only: the sort follows."""
    press(qtbot, K.Key_B)
    dialog = page.findChild(BullsDialog)
    qtbot.waitUntil(dialog.isActiveWindow)
    cheviot, fell = dialog.lines
    capacity = fell.capacity
    cheviot.use.setChecked(False)
    fell.fit.setChecked(True)
    capacity.setText("two")
    dialog.finish()
    assert "whole number" in dialog.wrong.text()
    capacity.setText("2")
    qtbot.keyClick(capacity, K.Key_Return, CONTROL)
    quiet()
    assert [view.title.text() for view in page.board.views[:2]] == ["Fell", "Not bred: 4"]
    assert sum(place == "Fell" for place in where(page).values()) == 2
    assert "1 of 2" in page.strip.bulls.text()
    assert "no place" in {word for row in page.board.views[1].list.lines.rows for _, word in row.marks}
    assert page.ask.heifer_bulls == (herd.id["Fell"],)


def test_limit_and_dates_are_taken_when_left(qtbot: QtBot, page: SortPage, quiet: Quiet) -> None:
    """A wrong entry says what is wrong and changes nothing; a good one sorts anew."""
    press(qtbot, K.Key_D)
    line = page.strip.limit.edit
    assert line.hasFocus()
    line.selectAll()
    qtbot.keyClicks(line, "120")
    qtbot.keyClick(line, K.Key_Return)
    assert page.strip.wrong.isVisible()
    assert not page.leave()
    line.selectAll()
    qtbot.keyClicks(line, "30")
    qtbot.keyClick(line, K.Key_Return)
    quiet()
    assert page.result.limit == 0.3
    assert page.note.text().startswith("Sorted after a change of the limit: ")
    assert page.board.isAncestorOf(QApplication.focusWidget()), "Enter goes back to the females"
    line.setFocus()
    line.selectAll()
    qtbot.keyClicks(line, "abc")
    qtbot.keyClick(line, K.Key_Escape)
    assert line.text() == "30 %"
    assert page.leave()
    day = page.strip.bull_in.edit
    day.setFocus()
    day.selectAll()
    qtbot.keyClicks(day, "15 Jun")
    qtbot.keyClick(day, K.Key_Return)
    quiet()
    assert page.result.bull_in == date(2026, 6, 15)
    assert page.result.bull_out == date(2026, 8, 16), "the usual length, while bull out was not typed"
    assert page.strip.length.text() == "(63 days)"
    assert page.leave()


def test_a_change_of_the_book_keeps_what_was_moved(page: SortPage, herd: Herd, quiet: Quiet) -> None:
    """A weight written meanwhile reads the herd anew and leaves the placing as it was."""
    page.move_female(herd.id["Lune"], ("sell", None))
    before = where(page)
    herd.do(ChangeAnimal(herd.id["Eden"], sex="F", name="Old Eden"))
    QApplication.processEvents()
    quiet()
    after = where(page)
    assert after.pop("Eden Old Eden") == before.pop("Eden")
    assert after == before


def test_accept_writes_and_undo_takes_it_back(
    qtbot: QtBot, page: SortPage, herd: Herd, real_desk: OpenDesk, quiet: Quiet
) -> None:
    """Asked once; "leave it" writes nothing; the accepted plan is named, and Calving is offered."""
    went: list[str] = []
    real_desk.went.connect(lambda key, _: went.append(key))

    def plan() -> object:
        with herd.book.read() as conn:
            return accepted_plan(conn, date(2026, 6, 1), date(2026, 8, 2))

    real_desk.answer = None
    press(qtbot, K.Key_Return, CONTROL)
    quiet()
    assert plan() is None
    before = where(page)
    real_desk.answer = "accept"
    press(qtbot, K.Key_Return, CONTROL)
    qtbot.waitUntil(page.plan_line.isVisible)
    quiet()
    assert real_desk.asked == ["Accept this sort?", "Accept this sort?"]
    assert plan() is not None
    assert where(page) == before
    page.board.setFocus()
    press(qtbot, K.Key_C)
    assert went == ["calving"]
    real_desk.undo()
    qtbot.waitUntil(lambda: not page.plan_line.isVisible())
    quiet()
    assert plan() is None


def test_the_groups_as_a_table(qtbot: QtBot, page: SortPage, herd: Herd) -> None:
    """T shows a line a female with her group and why; what is printed is what is shown."""
    page.move_female(herd.id["Lune"], ("sell", None))
    press(qtbot, K.Key_T)
    dialog = page.findChild(GroupsDialog)
    table = dialog.panel.table.as_text(dialog.panel.model.rows)
    by_tag = {row[1].split()[0]: row for row in table.rows}
    assert by_tag["Kent"][0] == "Fell"
    assert by_tag["Lune"][0] == "to sell"
    assert "kicks at the gate" in by_tag["Lune"][1]
    assert by_tag["Eden"][4] == "not known, ask"
    assert "Kent calf" not in by_tag
    assert dialog.print_button.isEnabled()
    dialog.accept()


def test_the_page_opens_on_a_female(page: SortPage, herd: Herd) -> None:
    """Another page may ask to see her here."""
    page.open({"animal": herd.id["Kent"]})
    assert page.card.female == herd.id["Kent"]


def test_no_bull_and_no_female_say_what_to_do_first(
    qtbot: QtBot, real_desk: OpenDesk, real_book: Book, quiet: Quiet
) -> None:
    """An empty book: one sentence, one button; then the same for females."""
    h = Herd(real_book, ON)
    page = SortPage(real_desk)
    qtbot.addWidget(page)
    show(qtbot, page)
    quiet()
    assert page.empty.button.text() == "Enter a bull"
    assert not page.accept_button.isEnabled()
    h.add("Cheviot", "M", date(2021, 3, 1))
    qtbot.waitUntil(lambda: page.empty.button.text() == "Enter a female")
    h.add("Eden", "F", date(2018, 3, 1))
    h.calve("Eden", date(2026, 3, 1), "Ure")
    qtbot.waitUntil(lambda: page.result is not None and len(page.result.females) == 2)
    quiet()
    assert where(page) == {"Eden": "Cheviot"}


def test_a_stopped_sort_leaves_what_stood(page: SortPage, real_desk: OpenDesk, quiet: Quiet) -> None:
    """Stop: the placing before stands, and the page can sort again."""
    before = where(page)
    page.read_sort()
    page._running.stop()
    quiet()
    assert where(page) == before
    assert page.note.text().startswith("Stopped")
    assert page.again_button.isEnabled()
    assert real_desk.failed == []


def test_a_narrow_window_leaves_the_width_to_the_columns(qtbot: QtBot, page: SortPage) -> None:
    """The side card goes, W brings it; a wide window has it always."""
    assert page.card.isVisible()
    page.setMinimumWidth(1)  # as in the window, which may be narrower than the page would like
    page.resize(theme.characters(75), 480)
    assert not page.card.isVisible()
    page.board.setFocus()
    press(qtbot, K.Key_W)
    assert page.card.isVisible()
    press(qtbot, K.Key_W)
    assert not page.card.isVisible()
    page.resize(theme.characters(125), 640)
    assert page.card.isVisible()


@pytest.mark.parametrize(
    ("value", "words"),
    [(0.0, "0.0 %"), (0.0625, "6.25 %"), (0.125, "12.5 %"), (0.25, "25.0 %"), (1 / 3, "33.33 %"), (None, "")],
)
def test_shares_in_words(value: float | None, words: str) -> None:
    """A second place stands only where it says something, so that 6.25 % is not above its own limit."""
    assert share(value) == words


def test_every_control_has_a_name(page: SortPage) -> None:
    """What takes the focus can be read out."""
    for view in page.board.views:
        assert view.list.accessibleName()
    for entry in page.strip.entries.values():
        assert entry.line.accessibleName()
    for button in (page.again_button, page.accept_button, page.table_button, page.strip.bulls):
        assert button.text() or button.accessibleName()
