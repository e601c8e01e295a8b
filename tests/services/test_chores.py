"""What the Chores page asks of the book: the next tag, whom to weigh, what was written today."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from herdbook.services.book import Book
from herdbook.services.commands.animals import AddAnimal
from herdbook.services.commands.diary import ChangeSettings
from herdbook.services.commands.happenings import RecordRound, Treat, Weigh
from herdbook.services.demo import TELLER
from herdbook.services.queries.calf_tag import next_calf_tag
from herdbook.services.queries.day_book import medicines, written_since
from herdbook.services.queries.weighing_list import doubts_of_each, parts_of_herd, to_weigh
from tests.services.conftest import ON, Herd

LONG_AGO = datetime(2000, 1, 1)  # noqa: DTZ001 - the book keeps times without a zone


def test_next_calf_tag(herd: Herd) -> None:
    """25/1, 25/2, 26/1 are there; what is worn or given to a twin is passed over."""
    assert herd.ask(next_calf_tag) == "26/2"
    assert herd.ask(next_calf_tag, on=date(2027, 1, 9)) == "27/1"
    with herd.book.read() as conn:
        assert next_calf_tag(conn, ON, ("26/2", "26/3")) == "26/4"
    herd.add("26/2", "F", date(2024, 1, 1))
    assert herd.ask(next_calf_tag) == "26/3"


def test_the_example_among_the_settings(empty: Herd) -> None:
    assert empty.ask(next_calf_tag) is None
    empty.do(ChangeSettings((("tag_style", "12/24"),)))
    assert empty.ask(next_calf_tag) == "1/26"


def test_parts_of_the_herd(herd: Herd) -> None:
    parts = {part.key: (part.words, part.animals) for part in herd.ask(parts_of_herd)}
    assert parts["all"] == ("the whole herd", 8)
    assert [words for key, (words, _) in parts.items() if key.startswith("group:")] == ["Finishing"]
    assert parts["class:steers"] == ("Steers", 1)
    assert "class:total" not in parts


def test_whom_to_weigh(herd: Herd) -> None:
    """In order of tags, those who are here, with the last weight by the same method."""
    with herd.book.read() as conn:
        rows = to_weigh(conn, ON)
        steers = to_weigh(conn, ON, "class:steers")
        group = next(part.key for part in parts_of_herd(conn, ON) if part.key.startswith("group:"))
        assert [row.tag for row in to_weigh(conn, ON, group)] == ["25/1"]
        assert to_weigh(conn, ON, "class:steers", "girth")[0].last_kg is None
        assert to_weigh(conn, date(2025, 12, 1), "class:steers")[0].last_day == date(2025, 10, 20)
    assert [row.tag for row in rows] == ["7", "12", "23/4", "25/1", "25/2", "26/1", "B1", "B2"]
    (wharfe,) = steers
    assert (wharfe.last_kg, wharfe.last_day) == (310.0, date(2026, 1, 28))
    # (330 - 310) kg in 34 days; by hand
    assert wharfe.gain(330.0, ON) == pytest.approx(20 / 34)
    assert wharfe.gain(330.0, date(2026, 2, 10)) is None  # 13 days
    assert wharfe.gain(330.0, date(2026, 2, 11)) == pytest.approx(20 / 14)
    assert wharfe.gain(330.0, date(2026, 1, 28)) is None
    assert rows[0].gain(600.0, ON) is None  # Lune was never weighed


def test_doubts_of_each(herd: Herd) -> None:
    weighed = [Weigh(herd.id["25/1"], ON, kg=3000.0), Weigh(herd.id["25/2"], ON, kg=300.0)]
    assert list(herd.ask(doubts_of_each, weighed)) == [herd.id["25/1"]]


def test_what_was_written(herd: Herd) -> None:
    """The latest first, undone acts left out, figures beside each."""
    herd.do(
        RecordRound(
            ON,
            "weighing",
            (Weigh(herd.id["25/1"], ON, kg=344.0), Weigh(herd.id["7"], ON, kg=317.5, unit="lb")),
        )
    )
    treated = [Treat(herd.id[tag], ON, product="Pour-on", meat_days=None) for tag in ("12", "7")]
    herd.do(RecordRound(ON, "treatment", tuple(treated)))
    herd.do(AddAnimal(tag="99", sex="F", entered=ON))
    herd.book.undo()
    lines = herd.ask(written_since, LONG_AGO)
    assert lines[0].words == "treatment of 12, 7"
    assert lines[0].detail == "Pour-on, days for meat not known, ask"
    # 344 - 310 kg in 34 days is one kg a day
    assert lines[1].detail == "25/1 Wharfe 344 kg (+1.00 kg a day), 7 Lune 700 lb"
    births = [line for line in lines if line.words == "calf 26/1 of 7"]
    assert [line.detail for line in births] == ["bull calf 36 kg, Tue 24 Feb"]
    assert all("99" not in line.words for line in lines)
    assert herd.ask(written_since, datetime(2100, 1, 1)) == []  # noqa: DTZ001


def test_of_a_large_round_the_first_are_told_of_and_the_others_counted(herd: Herd) -> None:
    tags = list(herd.id)[:8]
    herd.do(RecordRound(ON, "weighing", tuple(Weigh(herd.id[tag], ON, kg=300.0) for tag in tags)))
    told = herd.ask(written_since, LONG_AGO)[0].detail
    assert told.count("300 kg") == 4
    assert told.endswith("and 4 more")


def test_nobody_typed_what_the_story_wrote(herd: Herd) -> None:
    path = herd.book.path
    herd.book.close()
    with Book.open(path, who=TELLER) as book:
        book.do(AddAnimal(tag="1", sex="F", entered=ON))
        with book.read() as conn:
            assert all(line.words != "animal 1 entered" for line in written_since(conn, LONG_AGO, ON))


def test_medicines(herd: Herd) -> None:
    """Each once, as it was given last."""
    herd.do(Treat(herd.id["12"], ON, product="long-acting Penicillin", meat_days=35))
    herd.do(Treat(herd.id["12"], ON - timedelta(days=9), product="Pour-on", meat_days=None))
    assert [(m.product, m.meat_days) for m in herd.ask(medicines)] == [
        ("long-acting Penicillin", 35.0),
        ("Pour-on", None),
    ]
