"""Charts as data: pedigrees, offspring, the picture of a pair, and how they are laid out."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.services.commands.animals import NameParent
from herdbook.services.commands.running import TurnIn
from herdbook.services.drawing import Measures, laid_out
from herdbook.services.queries.chart import (
    AGAIN,
    DOUBTFUL,
    PLAIN,
    ROOT,
    SHARED,
    UNKNOWN,
    Box,
    Chart,
    _letter,
    offspring_chart,
    pedigree_chart,
)
from herdbook.services.queries.kin import Explained, KinPath, Kinsman, KinThrough, explain
from herdbook.services.queries.kin_chart import MOST_BOXES, kin_chart
from herdbook.services.registry import Refused
from tests.services.conftest import Herd

MEASURES = Measures(lambda text, strong: (7.0 if strong else 6.0) * len(text), 15.0)


def family(h: Herd) -> None:
    """Wharfe is by Ythan out of Eden, who is Ythan's daughter out of Lune; Lune's parents are not known."""
    h.add("B1", "M", date(2014, 3, 1), name="Ythan")
    h.add("1", "F", date(2013, 3, 1), name="Lune")
    h.add("2", "F", date(2017, 3, 1), name="Eden", dam=h.id["1"], sire=h.id["B1"])
    h.add("3", "M", date(2020, 3, 1), name="Wharfe", dam=h.id["2"], sire=h.id["B1"])


def whole(chart: Chart) -> dict[str, Box]:
    return {box.key: box for box in chart.boxes}


# -- pedigrees --


def test_a_pedigree_marks_who_stands_twice_and_says_what_is_not_known(empty: Herd) -> None:
    family(empty)
    with empty.book.read() as conn:
        chart = pedigree_chart(conn, empty.id["3"], 3)
    boxes = whole(chart)
    assert {key: (box.title, box.shape, box.mark) for key, box in boxes.items()} == {
        "root": ("3 Wharfe", ROOT, ""),
        "s": ("B1 Ythan", AGAIN, "A"),
        "sn": ("not known", UNKNOWN, ""),
        "d": ("2 Eden", PLAIN, ""),
        "ds": ("B1 Ythan", AGAIN, "A"),
        "dd": ("1 Lune", PLAIN, ""),
        "ddn": ("not known", UNKNOWN, ""),
    }
    assert boxes["s"].lines == ("sire · born 2014", "stands twice")
    assert boxes["ds"].lines == ("sire · born 2014", "again: see the first A")
    assert boxes["root"].lines == ("born 2020", "inbred 25 %")
    assert chart.subtitle == "Inbred 25 %, known to 1.5 generations"
    assert boxes["s"].slot < boxes["d"].slot  # sires above dams
    assert boxes["root"].slot == (boxes["s"].slot + boxes["d"].slot) / 2
    assert any("not the same as unrelated" in text for text in chart.legend)


def test_nothing_known_is_said_and_not_shown_as_nil(empty: Herd) -> None:
    empty.add("1", "F", date(2018, 3, 1))
    with empty.book.read() as conn:
        chart = pedigree_chart(conn, empty.id["1"])
    assert chart.subtitle == "Nothing is known of its parents"
    assert [box.title for box in chart.boxes] == ["not known", "1"]


def test_a_doubtful_sire_is_shown_with_every_chance(empty: Herd) -> None:
    h = empty
    for tag in ("Cheviot", "Pentland"):
        h.add(tag, "M", date(2018, 3, 1))
    h.add("Eden", "F", date(2018, 3, 1))
    h.do(TurnIn((h.id["Cheviot"], h.id["Pentland"]), (h.id["Eden"],), date(2022, 6, 1), date(2022, 8, 2)))
    h.calve("Eden", date(2023, 4, 1), "Kent")
    with h.book.read() as conn:
        chart = pedigree_chart(conn, h.id["Kent"], 3)
    box = whole(chart)["s"]
    assert (box.shape, box.mark) == (DOUBTFUL, "?")
    assert set(box.lines[:2]) == {"Cheviot 50 %", "Pentland 50 %"}
    assert [line.dashed for line in chart.lines if line.end == "s"] == [True]
    assert any("in doubt" in text for text in chart.legend)
    h.do(NameParent(h.id["Kent"], h.id["Pentland"], kind="dna"))
    with h.book.read() as conn:
        chart = pedigree_chart(conn, h.id["Kent"], 3)
    assert (whole(chart)["s"].title, whole(chart)["s"].shape) == ("Pentland", PLAIN)
    assert not any(line.dashed for line in chart.lines)


@pytest.mark.parametrize(("asked", "shown"), [(1, 3), (3, 3), (6, 6), (9, 6)])
def test_three_to_six_generations(empty: Herd, asked: int, shown: int) -> None:
    dam = empty.add("g0", "F", date(2000, 3, 1))
    for number in range(1, 9):
        dam = empty.add(f"g{number}", "F", date(2000 + 2 * number, 3, 1), dam=dam)
    with empty.book.read() as conn:
        chart = pedigree_chart(conn, dam, asked)
    assert max(box.generation for box in chart.boxes) == shown
    assert len(chart.columns) == shown + 1


def test_an_animal_that_is_not_in_the_book_is_refused(empty: Herd) -> None:
    here = empty.add("1", "F", date(2018, 3, 1))
    with empty.book.read() as conn:
        for ask in (
            lambda: pedigree_chart(conn, 99),
            lambda: offspring_chart(conn, 99),
            lambda: explain(conn, here, 99),
        ):
            with pytest.raises(Refused, match="not in the book"):
                ask()


def test_letters_go_on_after_z() -> None:
    assert [_letter(number) for number in (0, 25, 26, 51, 52)] == ["A", "Z", "AA", "AZ", "BA"]


# -- offspring --


def test_a_cows_offspring_stand_by_sire_and_a_bulls_by_year(empty: Herd) -> None:
    family(empty)
    h = empty
    with h.book.read() as conn:
        cow = offspring_chart(conn, h.id["1"], 1)
        deep = offspring_chart(conn, h.id["1"], 2)
        bull = offspring_chart(conn, h.id["B1"], 1)
    assert [(box.generation, box.title) for box in sorted(cow.boxes, key=lambda b: b.generation)] == [
        (0, "1 Lune"),
        (1, "by B1 Ythan"),
        (2, "2 Eden"),
    ]
    eden = next(box for box in cow.boxes if box.title == "2 Eden")
    assert (eden.fold, eden.lines) == ("folded", ("born 2017", "+ 1 calf"))
    assert {box.title for box in deep.boxes} == {"1 Lune", "by B1 Ythan", "2 Eden", "3 Wharfe"}
    assert {box.title for box in bull.boxes} == {"B1 Ythan", "2017", "2020", "2 Eden", "3 Wharfe"}
    assert next(box for box in bull.boxes if box.title == "3 Wharfe").lines == ("out of 2 Eden",)
    assert bull.subtitle == "2 calves in the book"


def test_a_box_folds_and_unfolds(empty: Herd) -> None:
    family(empty)
    h = empty
    with h.book.read() as conn:
        eden = next(box for box in offspring_chart(conn, h.id["1"], 1).boxes if box.title == "2 Eden")
        more = offspring_chart(conn, h.id["1"], 1, {eden.key})
        none = offspring_chart(conn, h.id["1"], 1, {"root"})
    assert "3 Wharfe" in {box.title for box in more.boxes}
    assert [(box.title, box.fold, box.lines) for box in none.boxes] == [
        ("1 Lune", "folded", ("born 2013", "+ 1 calf"))
    ]


# -- the picture of a pair --


def test_the_two_sides_run_together_where_they_meet(empty: Herd) -> None:
    family(empty)
    h = empty
    h.add("4", "F", date(2020, 3, 1), name="Nith", sire=h.id["B1"])
    with h.book.read() as conn:
        chart = kin_chart(explain(conn, h.id["4"], h.id["3"]))
    boxes = {box.title: box for box in chart.boxes}
    assert set(boxes) == {"18.75 %", "4 Nith", "3 Wharfe", "2 Eden", "B1 Ythan"}
    shared = boxes["B1 Ythan"]
    assert (shared.shape, shared.mark, shared.lines) == (SHARED, "shared", ("18.75 % through him",))
    assert [boxes[title].generation for title in ("18.75 %", "3 Wharfe", "2 Eden", "B1 Ythan")] == [
        0,
        1,
        2,
        3,
    ]
    ends = {(line.start, line.end) for line in chart.lines}
    names = {box.key: box.title for box in chart.boxes}
    assert {(names[a], names[b]) for a, b in ends} == {
        ("18.75 %", "4 Nith"),
        ("18.75 %", "3 Wharfe"),
        ("4 Nith", "B1 Ythan"),
        ("3 Wharfe", "B1 Ythan"),
        ("3 Wharfe", "2 Eden"),
        ("2 Eden", "B1 Ythan"),
    }


def test_strangers_are_drawn_with_their_calf_alone(empty: Herd) -> None:
    empty.add("1", "F", date(2018, 3, 1))
    empty.add("B1", "M", date(2018, 3, 1))
    with empty.book.read() as conn:
        chart = kin_chart(explain(conn, empty.id["1"], empty.id["B1"]))
    assert [box.title for box in chart.boxes] == ["not known", "1", "B1"]
    assert chart.boxes[0].lines == ("their calf's inbreeding", "nothing known")
    assert chart.subtitle == "No shared ancestor is known"


def kinsman(number: int) -> Kinsman:
    return Kinsman(number, str(number), None, "MF"[number % 2])


@st.composite
def explained(draw: st.DrawFn) -> Explained:
    """Draw a pair with up to twelve paths of any length to a few shared ancestors, rows upward older."""
    through = []
    for ancestor in draw(st.lists(st.integers(60, 69), unique=True, max_size=4)):
        paths = []
        for _ in range(draw(st.integers(1, 3))):
            lines = [
                (first, *sorted(draw(st.sets(st.integers(3, 59), max_size=6))), ancestor) for first in (1, 2)
            ]
            one, other = (tuple(kinsman(number) for number in line) for line in lines)
            paths.append(KinPath(one, other, 0.5 ** (len(one) + len(other))))
        through.append(
            KinThrough(kinsman(ancestor), sum(path.share for path in paths), 0.0, tuple(paths), 0, 0.0)
        )
    from herdbook.husbandry.trust import Depth, Trust
    from herdbook.services.pedigree import Range

    depth = Depth(9, 0, 1.0)
    return Explained(
        kinsman(1), kinsman(2), 0.1, 0.1, 0.1, "so", tuple(through), (depth, depth), Trust.LITTLE,
        Range(0.1, 0.1), True, (),
    )  # fmt: skip


@given(explained())
def test_no_two_boxes_of_a_picture_overlap_and_all_lines_lead_outward(told: Explained) -> None:
    chart = kin_chart(told)
    assert len(chart.boxes) <= MOST_BOXES + 1
    everyone = {
        one.animal for each in told.through for path in each.paths for one in (*path.one, *path.other)
    }
    said = any(text.startswith("Not drawn") for text in chart.legend)
    assert said or everyone <= {box.animal for box in chart.boxes}
    drawing = laid_out(chart, MEASURES)
    by_column: dict[int, list[tuple[float, float]]] = {}
    for placed in drawing.boxes:
        span = (placed.y, placed.y + placed.height)
        by_column.setdefault(placed.box.generation, []).append(span)
        assert 0 <= placed.x <= placed.x + placed.width <= drawing.width + 1e-6
        assert -1e-6 <= placed.y <= placed.y + placed.height <= drawing.height + 1e-6
    for spans in by_column.values():
        for (_, low), (high, _) in pairwise(sorted(spans)):
            assert low <= high + 1e-6
    column = {box.key: box.generation for box in chart.boxes}
    for line in chart.lines:
        assert column[line.start] < column[line.end]
        assert len(line.via) == column[line.end] - column[line.start] - 1
    for line in drawing.lines:
        assert all(a[0] <= b[0] for a, b in pairwise(line.points))
