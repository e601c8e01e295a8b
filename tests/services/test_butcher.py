"""Ready, clear and of known age: the butcher's list, and the reasons to cull."""

from __future__ import annotations

from datetime import date

from herdbook.husbandry.partday import PartDay
from herdbook.services.commands.diary import BookAnimal, BookDay, ChangeSetting, Unbook
from herdbook.services.commands.happenings import Arrive, CheckPregnancy, GiveScore, Serve, Treat, Weigh
from herdbook.services.queries.butcher import cull_list, finishing_list
from tests.services.conftest import Herd

ON = date(2026, 8, 1)


def _steer(herd: Herd, tag: str = "Mistral", **more: object) -> int:
    return herd.add(tag, "M", more.pop("born", date(2024, 4, 15)), castrated=True, **more)  # type: ignore[arg-type]


def _row(herd: Herd, tag: str = "Mistral", on: date = ON):
    return next(row for row in herd.ask(finishing_list, on=on) if row.tag == tag)


def test_ready_from_weight_and_gain(empty: Herd) -> None:
    """From 400 to 480 kg in 100 days is 0.8 kg a day; 40 kg more to 520 take 50 days."""
    steer = _steer(empty)
    empty.do(Weigh(steer, date(2026, 4, 23), kg=400.0))
    empty.do(Weigh(steer, ON, kg=480.0))
    row = _row(empty)
    assert row.weight_kg == 480.0
    assert row.daily_gain_kg == 0.8
    assert row.ready_on == date(2026, 9, 20)


def test_no_weight_gives_no_date(empty: Herd) -> None:
    _steer(empty)
    row = _row(empty)
    assert row.weight_kg is None
    assert row.ready_on is None


def test_clear_is_the_day_after_the_last_dose_and_the_label_days(empty: Herd) -> None:
    """14 days, last dose 1 August: withdrawn through the 15th, first slaughter day the 16th."""
    steer = _steer(empty)
    empty.do(Treat(steer, ON, product="worm drench", meat_days=14))
    row = _row(empty)
    assert row.clear_on == date(2026, 8, 16)
    assert row.medicine_known
    empty.do(Treat(steer, date(2026, 8, 10), product="worm drench", meat_days=14))
    assert _row(empty, on=date(2026, 8, 11)).clear_on == date(2026, 8, 25), "a repeated dose restarts"


def test_silence_is_never_clear(empty: Herd) -> None:
    steer = _steer(empty)
    empty.do(Treat(steer, ON, product="drench"))
    row = _row(empty)
    assert not row.medicine_known
    assert row.clear_on is None
    assert "drench" in str(row.medicine[0])


def test_medicines_before_arrival_and_before_the_book_are_not_known(empty: Herd) -> None:
    steer = _steer(empty, entered=date(2026, 1, 10))
    assert _row(empty).medicine_known
    empty.do(Arrive(steer, date(2026, 1, 10), arrival_kind="bought"))
    assert not _row(empty).medicine_known
    empty.book.undo()
    empty.do(ChangeSetting("book_began", date(2025, 1, 1)))
    assert not _row(empty).medicine_known, "born before the book began"


def test_the_thirty_month_point_is_that_of_the_oldest_it_can_be(empty: Herd) -> None:
    """Born 2023-08-31: 2026-02-28, month-end clamped; a year alone counts from its first day."""
    _steer(empty, "Zephyr", born=date(2023, 8, 31))
    _steer(empty, "Sirocco", born=PartDay(date(2024, 1, 1), "year"))
    assert _row(empty, "Zephyr").thirty_months_on == date(2026, 2, 28)
    assert _row(empty, "Sirocco").thirty_months_on == date(2026, 7, 1)


def test_a_booking_shows_and_warns(empty: Herd) -> None:
    steer = _steer(empty)
    empty.do(Treat(steer, ON, product="drench", meat_days=28))
    day = empty.do(BookDay(date(2026, 8, 20), places=2))
    empty.do(BookAnimal(steer, day))
    row = _row(empty)
    assert row.booked_on == date(2026, 8, 20)
    assert [reason.code for reason in row.cautions] == ["medicine_runs"]
    empty.do(Unbook(steer))
    assert _row(empty).booked_on is None


def test_cull_reasons_stand_with_their_day(empty: Herd) -> None:
    h = empty
    h.add("Lune", "F", date(2012, 3, 1))
    h.add("Eden", "F", date(2020, 3, 1))
    h.add("Cheviot", "M", date(2020, 3, 1))
    for tag in ("Lune", "Eden"):
        h.do(Serve(h.id[tag], date(2026, 6, 10), sire=h.id["Cheviot"]))
    h.do(CheckPregnancy(h.id["Lune"], date(2026, 7, 25), result="open"))
    h.do(GiveScore(h.id["Lune"], date(2026, 7, 25), score_kind="temper", value=5, scale="1-6"))
    culls = {row.tag: [reason.code for reason in row.reasons] for row in h.ask(cull_list, on=ON)}
    assert "Eden" not in culls
    assert culls["Lune"][0] == "open"
    assert culls["Lune"] == ["open", "age", "temper"]
