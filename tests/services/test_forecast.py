"""The forecast over a whole book: what the records say of each female, and the herd's own gestations."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.happenings import CheckPregnancy, Lose, SeeHeat, Serve
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.due import due_list
from herdbook.services.queries.forecast import forecast_list, own_gestations
from herdbook.services.settings import load_settings
from tests.services.conftest import Herd

SERVED = date(2025, 6, 15)
DAY = timedelta(days=1)


def row(herd: Herd, tag: str, on: date):
    return next((row for row in herd.ask(forecast_list, on=on) if row.due.tag == tag), None)


def own(herd: Herd, on: date):
    with herd.book.read() as conn:
        return own_gestations(conn, on, load_settings(conn))


@pytest.fixture
def pair(empty: Herd) -> Herd:
    """Return a cow that has calved before, a heifer and a bull."""
    empty.add("cow", "F", date(2019, 3, 1), calved_before=True)
    empty.add("heifer", "F", date(2024, 3, 1))
    empty.add("bull", "M", date(2021, 3, 1))
    return empty


def test_a_cow_served_once_is_likeliest_on_the_plain_day(pair: Herd) -> None:
    """2025-06-15 + 283 days is 2026-03-25 (calendar-day addition)."""
    for tag in ("cow", "heifer"):
        pair.do(Serve(pair.id[tag], SERVED, sire=pair.id["bull"], how="hand"))
    told = row(pair, "cow", date(2026, 3, 1))
    assert told.likeliest == told.plain_due == told.due.expected == date(2026, 3, 25)
    assert told.gestation_days == told.own_days == 283
    assert told.band_80[0] < told.plain_due < told.band_80[1]
    assert 0.8 <= told.band_mass < 0.85
    assert str(told.rests_on[0]) == "Served on 2025-06-15; 283 days added."
    assert told.chance_not_in_calf == pytest.approx(0.35 + 0.65 * 0.02, abs=0.001)
    heifer = row(pair, "heifer", date(2026, 3, 1))
    assert heifer.plain_due == date(2026, 3, 25)
    assert heifer.likeliest == date(2026, 3, 23), "first calves come a little sooner"


def test_the_same_females_in_the_same_order_as_the_due_list(herd: Herd) -> None:
    rows = herd.ask(forecast_list)
    assert [each.due for each in rows] == herd.ask(due_list)
    assert rows
    assert all(0.0 <= each.chance_1 <= each.chance_7 <= each.chance_14 <= 1.0 for each in rows)


def test_checks_count_by_their_method(pair: Herd) -> None:
    """Calves of 19 to 39 days: ultrasound finds from 25-30 on, a hand from 35-45: Texas extension column."""
    pair.do(TurnIn((pair.id["bull"],), (pair.id["cow"],), date(2025, 6, 1), date(2025, 6, 21)))
    day = date(2025, 7, 10)
    told = []
    for method in ("scan", "hand"):
        pair.do(CheckPregnancy(pair.id["cow"], day, result="open", method=method))
        told.append(row(pair, "cow", day).chance_not_in_calf)
        pair.book.undo()
    scanned, by_hand = told
    assert by_hand + 0.1 < scanned < 1.0


def test_a_heat_seen_lowers_the_service(pair: Herd) -> None:
    pair.do(Serve(pair.id["cow"], SERVED, sire=pair.id["bull"], how="ai"))
    before = row(pair, "cow", date(2025, 8, 1)).chance_not_in_calf
    pair.do(SeeHeat(pair.id["cow"], SERVED + 21 * DAY))
    after = row(pair, "cow", date(2025, 8, 1)).chance_not_in_calf
    assert before < 0.4 < 0.85 < after < 1.0


def test_what_was_before_a_calving_or_a_loss_is_over(pair: Herd) -> None:
    pair.do(Serve(pair.id["cow"], SERVED, sire=pair.id["bull"], how="ai"))
    pair.do(Lose(pair.id["cow"], date(2025, 10, 1)))
    assert row(pair, "cow", date(2025, 11, 1)) is None
    pair.do(Serve(pair.id["cow"], date(2025, 10, 20), sire=pair.id["bull"], how="ai"))
    assert row(pair, "cow", date(2025, 11, 1)).likeliest == date(2025, 10, 20) + 283 * DAY


def test_a_planned_run_is_not_in_calf_yet(pair: Herd) -> None:
    pair.do(TurnIn((pair.id["bull"],), (pair.id["cow"],), date(2026, 6, 1), date(2026, 8, 2)))
    told = row(pair, "cow", date(2026, 5, 1))
    assert told.chance_not_in_calf == pytest.approx(1.0)
    assert told.band_80[0] >= date(2027, 3, 1)
    running = row(pair, "cow", date(2026, 6, 20))
    assert 0.3 < running.chance_not_in_calf < 0.6


def test_a_seller_s_word(pair: Herd) -> None:
    pair.do(
        CheckPregnancy(
            pair.id["cow"], date(2025, 10, 1), result="pregnant", method="statement",
            due_from=date(2026, 3, 1), due_to=date(2026, 3, 31),
        )
    )  # fmt: skip
    told = row(pair, "cow", date(2025, 10, 2))
    assert date(2026, 3, 1) <= told.likeliest <= date(2026, 3, 31)
    assert told.chance_not_in_calf == pytest.approx(0.1, abs=0.03)


def test_the_settings_are_the_law(pair: Herd) -> None:
    pair.do(Serve(pair.id["cow"], SERVED, sire=pair.id["bull"], how="ai"))
    pair.do(ChangeSetting("settled_share", 0.5))
    pair.do(ChangeSetting("gestation_days", 281))
    told = row(pair, "cow", date(2025, 8, 1))
    assert told.chance_not_in_calf == pytest.approx(0.5 + 0.5 * 0.02, abs=0.001)
    assert told.likeliest == told.plain_due == SERVED + 281 * DAY


def test_late_and_look_again_are_settings(pair: Herd) -> None:
    """Offsets of her own day: 11 and 17 days, 293 and 299 with 283 (percentiles of an open data set)."""
    pair.do(Serve(pair.id["cow"], SERVED, sire=pair.id["bull"], how="ai"))
    due = SERVED + 283 * DAY
    assert [row(pair, "cow", due + n * DAY).due.stage.value for n in (10, 11, 16, 17)] == [
        "due now", "late", "late", "long past",
    ]  # fmt: skip
    pair.do(ChangeSetting("late_days", 6))
    assert row(pair, "cow", due + 6 * DAY).due.stage.value == "late"


# -- the herd's own gestations --


def _calvings(herd: Herd, days: list[int], how: str = "ai") -> None:
    for n, length in enumerate(days):
        herd.add(f"c{n}", "F", date(2018, 3, 1), calved_before=True)
        herd.do(Serve(herd.id[f"c{n}"], date(2024, 6, 1), sire=herd.id["bull"], how=how))
        herd.calve(f"c{n}", date(2024, 6, 1) + length * DAY, f"k{n}", sex="FM"[n % 2])


def test_dated_calvings_pull_the_mean(pair: Herd) -> None:
    """Ten calves two days early, all by one bull: half of it by ten, shared by herd, bull and cows."""
    _calvings(pair, [281] * 10)
    found = own(pair, date(2025, 6, 1))
    assert found.count == 10
    assert -2.0 < found.mean(0.0, pair.id["bull"]) < found.herd < -0.5
    pair.do(Serve(pair.id["cow"], SERVED, sire=pair.id["bull"], how="ai"))
    told = row(pair, "cow", date(2026, 1, 1))
    assert told.plain_due == SERVED + 283 * DAY
    assert told.own_days == pytest.approx(found.mean(283, pair.id["bull"], pair.id["cow"]))
    assert told.likeliest == SERVED + round(told.own_days) * DAY
    assert f"283 by default, {told.own_days:.1f} from your 10 dated calvings." in map(str, told.rests_on)


def test_what_is_no_dated_calving(pair: Herd) -> None:
    _calvings(pair, [281] * 3)
    assert own(pair, date(2025, 1, 1)).count == 0, "not born yet"
    assert own(pair, date(2025, 6, 1)).count == 3
    # A bull beside the service, a second service in time, and a calf too early for it.
    pair.do(TurnIn((pair.id["bull"],), (pair.id["c0"],), date(2024, 6, 5), date(2024, 7, 1)))
    pair.do(Serve(pair.id["c1"], date(2024, 6, 12), sire=pair.id["bull"], how="ai"))
    assert own(pair, date(2025, 6, 1)).count == 1
    _embryo = pair.add("recipient", "F", date(2018, 3, 1), calved_before=True)
    pair.do(Serve(_embryo, date(2024, 6, 8), sire=pair.id["bull"], how="embryo", embryo_days=7))
    pair.calve("recipient", date(2024, 6, 1) + 283 * DAY, "its calf")
    assert own(pair, date(2025, 6, 1)).count == 1
