"""The board of the sort: only what is in view, cards and lines, bars, several at once, going to a tag."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from PySide6.QtCore import QMimeData, QPointF, QRect, Qt
from PySide6.QtGui import QColor, QDropEvent, QImage, QPainter
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.season import Readiness
from herdbook.husbandry.trust import Trust
from herdbook.services.queries.sort import Choice, SortResult, result_of
from herdbook.services.queries.sort_hand import all_moved, moved
from herdbook.services.queries.sort_rows import BullGroup, Gathered, SortBull, SortFemale
from herdbook.ui import theme
from herdbook.ui.sort.bars import ALL_OF, BEST, TOP, Bar, Bars, bars_of, draw_bars, legend
from herdbook.ui.sort.board import Board
from herdbook.ui.sort.columns import columns_of, own_days, titles_of
from herdbook.ui.sort.lines import FEMALE
from herdbook.ui.sort.telling import changed_words, what_is_written
from tests.ui.conftest import show

ON = date(2026, 5, 1)
IN, OUT = date(2026, 6, 1), date(2026, 8, 2)
LIMIT = 0.0625
K = Qt.Key
READY = Readiness(True, None, ())


def bull(key: int, **more: object) -> SortBull:
    """Return a bull that is well known."""
    known = {"months": 40, "capacity": 30, "fit_for_heifers": True, "bull_in": IN, "bull_out": OUT}
    return SortBull(key, f"B{key}", "Fell", **(known | {"trust": Trust.WELL} | more))  # type: ignore[arg-type]


def female(key: int, calves: tuple[float, ...], **more: object) -> SortFemale:
    """Return a cow that may be bred."""
    known: dict[str, object] = {
        "class_": "cow", "care": None, "heifer": False, "readiness": READY, "known_generations": 3.0,
        "trust": Trust.WELL, "expected": calves, "worst": calves, "exact": (True,) * len(calves),
        "close": ("",) * len(calves),
    }  # fmt: skip
    return SortFemale(1000 + key, f"{key}/24", "Eden", calves=calves, **(known | more))  # type: ignore[arg-type]


def a_sort(females: int, bulls: int, each: int | None = None) -> SortResult:
    """Return a sort in which the females stand in the groups in turn; every seventh calf is at the limit."""
    groups = tuple(BullGroup((bull(1 + at),), 30) for at in range(bulls))
    of = [LIMIT if at % 7 == 0 else 0.01 * (at % 3) for at in range(bulls)]
    cows = tuple(female(key, tuple(of)) for key in range(females))
    ready = Gathered(cows, groups, LIMIT, (IN, OUT))
    placed = {cow.animal: at % bulls for at, cow in enumerate(cows) if each is None or at < each * bulls}
    return result_of(ready, {}, placed, {}, True)


Shown = Callable[[SortResult], Board]


@pytest.fixture
def shown(qtbot: QtBot, qapp: QApplication) -> Shown:
    """Return a function that shows a sort on a board."""
    theme.apply(qapp, "light")

    def make(result: SortResult) -> Board:
        board = Board()
        board.resize(1000, 560)
        qtbot.addWidget(board)
        show(qtbot, board)
        board.show_columns(columns_of(result, False, ON))
        board.setFocus()
        return board

    return make


def titles(board: Board) -> list[str]:
    """Return what stands above the columns in view."""
    return [view.title.said[0] for view in board.views]


def press(qtbot: QtBot, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
    """Press a key where the focus is."""
    qtbot.keyClick(QApplication.focusWidget(), key, modifier)


# -- columns in view ---


def test_only_the_columns_in_view_are_there(shown: Shown) -> None:
    """Of 60 groups as many as there is room for, beside the three others; the scroll bar goes to the rest."""
    board = shown(a_sort(240, 60))
    assert len(board.views) <= 7
    assert titles(board)[0] == "B1 Fell"
    assert titles(board)[-3:] == ["Not bred: 0", "Finishing group: 0", "To sell: 0"]
    board.scroll.setValue(board.scroll.maximum())
    assert titles(board)[len(board.views) - 4] == "B60 Fell"


def test_arrows_bring_columns_into_view_and_the_last_leads_to_those_not_bred(
    qtbot: QtBot, shown: Shown
) -> None:
    board = shown(a_sort(48, 12))
    seen = []
    for _ in range(12):
        seen.append(board.place)
        assert QApplication.focusWidget() is board._view(board._here).list
        press(qtbot, K.Key_Right)
    assert seen == [("bull", 1 + at) for at in range(12)]
    assert board.place == ("not_bred", None)
    press(qtbot, K.Key_Left)
    assert board.place == ("bull", 12)
    assert board.animal() == 1000 + 11


def test_a_wider_board_has_more_columns_and_keeps_who_is_chosen(qtbot: QtBot, shown: Shown) -> None:
    board = shown(a_sort(48, 12))
    assert board.choose(1000 + 17)
    few = len(board.views)
    board.resize(1800, 560)
    qtbot.waitUntil(lambda: len(board.views) > few)
    assert board.animal() == 1000 + 17
    assert not board.scroll.isHidden()
    board.resize(6000, 560)
    qtbot.waitUntil(lambda: len(board.views) == 15)
    assert board.scroll.isHidden()


def test_a_move_shows_two_columns_anew_and_no_other(shown: Shown) -> None:
    """The others keep their lines, as the very same objects."""
    before = a_sort(24, 3)
    board = shown(before)
    anew: list[int] = []
    for at, view in enumerate(board.views):
        view.list.lines.modelReset.connect(lambda at=at: anew.append(at))
    after = moved(before, 1000, Choice("bull", 2))
    board.show_columns(columns_of(after, False, ON))
    assert sorted(anew) == [0, 1]
    anew.clear()
    board.show_columns(columns_of(after, True, ON))
    assert set(anew) <= {3, 4, 5}, "the groups are as they were"


def test_lines_are_worded_when_they_come_into_view(shown: Shown) -> None:
    board = shown(a_sort(600, 3))
    QApplication.processEvents()
    made = [len(view.list.lines.rows._made) for view in board.views[:3]]
    assert all(0 < n < 40 for n in made), made
    assert all(len(view.list.lines.rows) == 200 for view in board.views[:3])


def test_cards_where_all_have_room_and_lines_where_not(shown: Shown) -> None:
    """One rule for the whole board: the fullest group decides."""
    few, many = shown(a_sort(12, 2)), shown(a_sort(300, 10))
    tall = few.views[0].list.visualRect(few.views[0].list.lines.index(0)).height()
    low = many.views[0].list.visualRect(many.views[0].list.lines.index(0)).height()
    assert low == theme.row_height()
    assert tall > low
    few.resize(1000, 260)
    QApplication.processEvents()
    assert few.views[0].list.visualRect(few.views[0].list.lines.index(0)).height() == theme.row_height()


# -- what is said ---


def test_heads_of_one_board_are_of_one_height_and_say_when_calves_are_due(shown: Shown) -> None:
    """283 days from 1 June and 2 August; days of its own are told for the group that has them."""
    result = a_sort(8, 2)
    late = (result.bull_groups[0], BullGroup((bull(2, bull_in=date(2026, 7, 1)),), 30))
    result = result_of(replace(result.ready, bull_groups=late), {}, {1000: 0, 1001: 1}, {}, True)
    board = shown(result)
    first, second = board.columns[:2]
    assert first.lines[2][1] == "due 11 Mar to 12 May"
    assert second.lines[2][1] == "due 10 Apr to 12 May"
    assert second.lines[3][1] == "in 1 Jul, out 2 Aug"
    assert len(first.lines) == 3
    tops = {view.list.geometry().top() for view in board.views[:2]}
    assert len(tops) == 1


def test_a_group_of_two_is_called_by_both_as_far_as_there_is_room() -> None:
    one, other = bull(1, bull_out=date(2026, 7, 1)), bull(2, bull_in=date(2026, 7, 2))
    group = BullGroup((one, other), 30)
    assert titles_of(group) == ("B1 Fell + B2 Fell", "B1 Fell + B2", "B1 + B2")
    result = a_sort(2, 1)
    result = result_of(replace(result.ready, bull_groups=(group,)), {}, {1000: 0}, {}, True)
    assert own_days(result, group) == "B1 1 Jun–1 Jul, B2 2 Jul–2 Aug"


def test_a_line_is_read_out_with_class_figure_and_the_best_other(shown: Shown) -> None:
    board = shown(a_sort(4, 2))
    model = board.views[0].list.lines
    said = model.data(model.index(0), Qt.ItemDataRole.AccessibleTextRole)
    assert said == "0/24 Eden, cow, 6.25 %, with B2 1.0 %"
    assert "2 of 30" in board.views[0].list.accessibleName()


# -- bars ---


def test_bars_stand_in_the_order_of_the_groups_and_tell_rules_by_their_kind() -> None:
    groups = tuple(BullGroup((bull(1 + at, fit_for_heifers=at != 2),), 30) for at in range(5))
    unknown = BullGroup((bull(9, trust=Trust.NOTHING),), 30)
    calves = (0.0, LIMIT, 0.0, 0.25, 0.01, 0.0)
    heifer = female(0, calves, heifer=True)
    ready = Gathered((heifer,), (*groups, unknown), LIMIT, (IN, OUT), apart={(heifer.animal, 5): "no"})
    bars = bars_of(ready, heifer, 1)
    assert [bar.kind for bar in bars.bars] == ["", "", "barred", "over", "barred", "unknown"]
    assert [bar.here for bar in bars.bars] == [False, True, False, False, False, False]
    assert bars.bars[1].height == pytest.approx(1 / TOP)
    assert bars.bars[3].height == 1.0
    assert bars.more == 0


def test_of_many_groups_her_own_and_the_best_have_bars() -> None:
    result = a_sort(1, 60)
    bars = bars_of(result.ready, result.females[0], 7)
    assert len(bars.bars) == BEST + 1 <= ALL_OF
    assert bars.bars[0].here
    assert all(bar.height == 0 for bar in bars.bars[1:])
    assert bars.more == 60 - BEST - 1


def test_each_kind_of_bar_differs_in_shape(qapp: QApplication) -> None:
    """Drawn in one colour, no two look the same; and a bar reaches as high as its figure."""
    theme.apply(qapp, "light")
    kinds = {
        kind: _drawn(Bars((Bar(0.9, kind, here),)))
        for kind, here in (("", False), ("over", False), ("barred", False), ("unknown", False))
    }
    kinds["here"] = _drawn(Bars((Bar(0.9, "", True),)))
    assert len({frozenset(marks) for marks in kinds.values()}) == len(kinds)
    tops = [min(y for x, y in _drawn(Bars((Bar(height),))) if x == 4) for height in (0.25, 0.6, 1.0)]
    assert tops == sorted(tops, reverse=True)


def _drawn(bars: Bars) -> set[tuple[int, int]]:
    """Return which points of a picture are marked, whatever their colour."""
    image = QImage(20, 40, QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    painter = QPainter(image)
    draw_bars(painter, QRect(0, 0, 20, 40), bars)
    painter.end()
    return {(x, y) for x in range(20) for y in range(40) if image.pixelColor(x, y).lightness() < 190}


# -- several, fixing, keeping apart, going to a tag ---


def test_several_are_chosen_with_shift_and_taken_along(qtbot: QtBot, shown: Shown) -> None:
    board = shown(a_sort(24, 2))
    asked: list[tuple[object, ...]] = []
    board.move_all.connect(lambda animals, place: asked.append((animals, place)))
    board.move.connect(lambda animal, place: asked.append((animal, place)))
    press(qtbot, K.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    press(qtbot, K.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    assert board.animals() == (1000, 1002, 1004)
    board.shift(1)
    board.take(("sell", None))
    press(qtbot, K.Key_Down)
    board.take_to(2)
    assert asked == [
        ((1000, 1002, 1004), ("bull", 2)),
        ((1000, 1002, 1004), ("sell", None)),
        (1006, ("bull", 2)),
    ]


def test_several_are_dropped_together(shown: Shown) -> None:
    board = shown(a_sort(24, 2))
    asked: list[tuple[object, ...]] = []
    board.move_all.connect(lambda animals, place: asked.append((animals, place)))
    source = board.views[0].list.lines
    mime = source.mimeData([source.index(0), source.index(2)])
    assert bytes(mime.data(FEMALE).data()) == b"1000 1004"
    _drop(board, 1, mime)
    assert asked == [((1000, 1004), ("bull", 2))]


def _drop(board: Board, column: int, mime: QMimeData) -> None:
    move, left = Qt.DropAction.MoveAction, Qt.MouseButton.LeftButton
    event = QDropEvent(QPointF(5, 5), move, mime, left, Qt.KeyboardModifier.NoModifier)
    board.views[column].list.dropEvent(event)


def test_letters_fix_and_keep_apart(qtbot: QtBot, shown: Shown) -> None:
    """K for those that are chosen; X only where she stands with a bull."""
    board = shown(a_sort(24, 2))
    asked: list[object] = []
    board.fix.connect(asked.append)
    board.keep_from.connect(lambda *pair: asked.append(pair))
    press(qtbot, K.Key_K)
    press(qtbot, K.Key_X)
    board.show_columns(columns_of(all_moved(a_sort(24, 2), {1000: Choice("sell")}), False, ON))
    assert board.place == ("sell", None)
    press(qtbot, K.Key_X)
    assert asked == [(1000,), (1000, 1)]


def test_g_goes_to_a_tag_or_a_name_wherever_it_stands(qtbot: QtBot, shown: Shown) -> None:
    """What is typed is looked for at once; Enter goes on there."""
    board = shown(a_sort(48, 12))
    press(qtbot, K.Key_G)
    line = board.finder.edit
    assert line.hasFocus()
    qtbot.keyClicks(line, "23/")
    assert board.animal() == 1023
    qtbot.keyClicks(line, "x")
    assert board.finder._none.text() == "Nobody on the board is called so."
    qtbot.keyClick(line, K.Key_Return)
    assert not board.finder.isVisible()
    assert board.views[0].list.window().focusWidget() is board._view(board._here).list
    assert board.animal() == 1023


def test_those_not_bred_have_bars_only_where_they_could_be(shown: Shown) -> None:
    too_young = Readiness(False, "too_young", (Reason("too_young", "too young"),))
    result = a_sort(2, 2)
    cows = (result.females[0], replace(result.females[1], readiness=too_young))
    result = result_of(replace(result.ready, females=cows), {1000: Choice("not_bred")}, {}, {}, True)
    board = shown(result)
    rows = {row.animal: row for row in board.columns[2].rows}
    assert rows[1000].bars is not None
    assert rows[1001].bars is None


def test_those_not_bred_stand_in_the_order_in_which_they_matter(shown: Shown) -> None:
    """An alert, who could have a bull, who may not be bred, and last who is gone by then."""
    result = a_sort(4, 2)
    gone = Readiness(False, "left", (Reason("left", "leaves before"),))
    calved = Readiness(False, "in_calf", (Reason("in_calf", "in calf"),))
    kinds = (
        {"readiness": gone},
        {"readiness": calved},
        {},
        {"readiness": calved, "alerts": (Reason("beside_male", "beside a male"),)},
    )
    cows = tuple(replace(cow, **kind) for cow, kind in zip(result.females, kinds, strict=True))
    result = result_of(replace(result.ready, females=cows), {}, {}, {}, True)
    assert [row.animal for row in shown(result).columns[2].rows] == [1003, 1002, 1001, 1000]


def test_the_bars_are_explained_where_they_are_read(shown: Shown) -> None:
    """Every shape that is drawn has its words."""
    assert all(word in legend() for word in ("limit", "head", "broken", "cross", "ring", "Underlined"))


def test_dragged_to_the_edge_the_next_columns_come_into_view(shown: Shown) -> None:
    """Only at the outermost column, and not faster than one can see."""
    board = shown(a_sort(48, 12))
    last = len(board.views) - 4
    board.views[0].list.edge.emit(1)
    assert board.scroll.value() == 0
    board.views[last].list.edge.emit(1)
    assert board.scroll.value() == 1
    board.views[last].list.edge.emit(1)
    assert board.scroll.value() == 1


def test_what_a_low_board_leaves_out_of_its_heads_stands_in_the_tip(shown: Shown) -> None:
    board = shown(a_sort(8, 2))
    due = "due 11 Mar to 12 May"
    QApplication.processEvents()
    assert any(line.text() == due and line.isVisible() for line in board.views[0]._lines)
    board.resize(1000, 300)
    QApplication.processEvents()
    assert not any(line.text() == due and line.isVisible() for line in board.views[0]._lines)
    assert due in board.views[0].toolTip()
    assert due in board.views[0].list.accessibleName()


def test_what_is_to_be_minded_of_a_bull_stands_on_his_head(shown: Shown) -> None:
    """A sign before his title at every height, a word below it, the whole sentence in the tip."""
    deferred = Reason("exam_deferred", "Examined and deferred: have him examined again.")
    sort = a_sort(4, 2)
    minded, well = sort.ready.bull_groups
    minded = replace(minded, bulls=(replace(minded.bulls[0], notes=(deferred,)),))
    ready = replace(sort.ready, bull_groups=(minded, well))
    placed = {cow.animal: at % 2 for at, cow in enumerate(ready.females)}
    board = shown(result_of(ready, {}, placed, {}, True))
    first, second = board.views[:2]
    assert not first.sign.isHidden()
    assert second.sign.isHidden()
    assert "examination deferred" in [line.said[0] for line in first._lines]
    assert "have him examined again" in first.toolTip()
    assert "have him examined again" in first.list.accessibleName()
    board.resize(1000, 200)
    assert not first.sign.isHidden()
    told = what_is_written(result_of(ready, {}, placed, {}, True), ON)
    assert "Mind B1 Fell: examination deferred." in told


def test_of_two_bulls_each_has_his_own_note_and_an_examination_stands_before_a_number(shown: Shown) -> None:
    deferred = Reason("exam_deferred", "Have him examined again.")
    over = Reason("over_guide", "More than the guide.")
    sort = a_sort(4, 2)
    pair = BullGroup((bull(1, notes=(over, deferred)), bull(2, months=14)), 30)
    ready = replace(sort.ready, bull_groups=(pair, sort.ready.bull_groups[1]))
    view = shown(result_of(ready, {}, {1000: 0}, {}, True)).views[0]
    assert "B1 Fell: Have him examined again." in view.toolTip()
    assert "B2 Fell: " not in view.toolTip()
    assert view._lines[-1].said[0] == "examination deferred, young with grown, more than his age gives"


def test_a_change_that_leaves_fewer_with_a_bull_says_so_before_the_mean() -> None:
    """Fewer have often a lower mean: the count is told with it."""
    before, fewer = a_sort(4, 2), a_sort(4, 2, each=1)
    told = changed_words(before, fewer, "the bulls")
    assert told.startswith("Sorted after a change of the bulls: 2 moved. With a bull 4 → 2. Mean")
    assert "With a bull" not in changed_words(before, before, "the bulls")


def test_accepting_tells_of_a_group_that_is_over_its_number() -> None:
    sort = a_sort(4, 2)
    few = tuple(replace(group, capacity=1) for group in sort.ready.bull_groups)
    over = result_of(replace(sort.ready, bull_groups=few), {}, dict.fromkeys((1000, 1001, 1002), 0), {}, True)
    told = what_is_written(over, ON)
    assert "Mind B1 Fell: 2 more than he is given." in told
    assert "B2" not in told


def test_a_paddock_that_holds_fewer_than_he_may_have_is_told(shown: Shown) -> None:
    result = a_sort(8, 2)
    small = (BullGroup(result.bull_groups[0].bulls, 30, paddock=3), result.bull_groups[1])
    board = shown(result_of(replace(result.ready, bull_groups=small), {}, {1000: 0}, {}, True))
    assert board.columns[0].lines[0][1] == "1 of 3 · by the paddock · heifers too"


def test_without_a_group_there_are_the_others(shown: Shown) -> None:
    ready = Gathered((), (), LIMIT, (IN, OUT))
    board = shown(result_of(ready, {}, {}, {}, True))
    assert titles(board) == ["Not bred: 0", "Finishing group: 0", "To sell: 0"]
    assert board.animal() == 0
    assert board.animals() == ()
