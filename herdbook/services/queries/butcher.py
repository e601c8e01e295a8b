"""When each finishing animal is ready, clear of medicine and how old; the females with reasons to cull."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, select

from herdbook.husbandry.classes import AnimalClass
from herdbook.husbandry.finishing import (
    Carcass,
    Clear,
    carcass,
    ready_date,
    thirty_months,
    travel_reasons,
)
from herdbook.husbandry.growth import Weighed, WeightNow, expected_weight
from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import AnimalFacts, load_herd
from herdbook.services.queries.clear import booking_cautions, clear_of
from herdbook.services.queries.culls import reasons_to_cull
from herdbook.services.queries.due import DueRow, due_rows
from herdbook.services.settings import BookSettings, load_settings
from herdbook.store import tables as t


@dataclass(frozen=True)
class Finishing:
    """One finishing animal; `clear_on` is None where nothing runs or nothing is known (`medicine_known`).

    `hanging` is estimated for the booked day, else for the day when it is ready or today.
    """

    animal: int
    tag: str
    tag_key: str
    name: str | None
    class_: str
    care: str | None
    group: str | None
    weight_kg: float | None
    daily_gain_kg: float | None
    gain_measured: bool
    weight_rests_on: Reason | None
    target_kg: float
    ready_on: date | None
    clear: Clear
    thirty_months_on: date | None
    booked_on: date | None
    booked_day: int | None
    hanging: Carcass | None
    cautions: tuple[Reason, ...]

    @property
    def clear_on(self) -> date | None:
        """The first day clear of all medicines."""
        return self.clear.day

    @property
    def medicine_known(self) -> bool:
        """Whether all that it was given is known."""
        return self.clear.known

    @property
    def medicine(self) -> tuple[Reason, ...]:
        """What it was given, and what is not known of it."""
        return self.clear.reasons


@dataclass(frozen=True)
class Cull:
    """One female with the reasons that her records give; never an order."""

    animal: int
    tag: str
    tag_key: str
    name: str | None
    class_: str
    care: str | None
    born: date | None
    born_precision: str
    reasons: tuple[Reason, ...]
    in_calf: str
    clear_on: date | None
    medicine_known: bool
    cautions: tuple[Reason, ...]


def weight_now(facts: AnimalFacts, on: date, usual_gain: float) -> WeightNow | None:
    """Return what an animal weighs today by its weighings and its gain."""
    weighings = [Weighed(w.day, w.kg, w.method) for w in facts.weighings]
    return expected_weight(weighings, on, usual_gain)


def finishing_list(conn: Connection, on: date) -> list[Finishing]:
    """Return the steers, and whatever stands in a finishing group, the soonest ready first."""
    herd = load_herd(conn, on)
    settings = load_settings(conn)
    booked = _bookings(conn, on)
    rows = [
        _finishing(facts, on, settings, booked.get(facts.id))
        for facts in herd.values()
        if facts.class_on(on) is AnimalClass.STEER or (facts.group and facts.group[2] == "finishing")
    ]
    return sorted(rows, key=lambda row: (row.ready_on is None, row.ready_on or on, row.tag_key))


def _bookings(conn: Connection, on: date) -> dict[int, tuple[date, int]]:
    """Return the next booked day of each animal."""
    query = (
        select(t.Booking.animal_id, t.BookedDay.day, t.BookedDay.id)
        .join(t.BookedDay, t.BookedDay.id == t.Booking.booked_day_id)
        .where(t.BookedDay.day >= on)
        .order_by(t.BookedDay.day.desc())
    )
    return {animal: (day, key) for animal, day, key in conn.execute(query)}


def _finishing(
    facts: AnimalFacts, on: date, settings: BookSettings, booked: tuple[date, int] | None
) -> Finishing:
    now = weight_now(facts, on, settings.usual_gain)
    target = settings.finish_kg if facts.sex == "M" else settings.finish_heifer_kg
    ready = ready_date(now.kg, on, target, now.daily_gain_kg) if now else None
    clear = clear_of(facts, settings)
    thirty = thirty_months(facts.born, facts.born_precision) if facts.born else None
    return Finishing(
        animal=facts.id,
        tag=facts.tag,
        tag_key=facts.tag_key,
        name=facts.name,
        class_=facts.class_on(on).value,
        care=facts.care,
        group=facts.group[1] if facts.group else None,
        weight_kg=now.kg if now else None,
        daily_gain_kg=now.daily_gain_kg if now else None,
        gain_measured=now.measured if now else False,
        weight_rests_on=now.rests_on if now else None,
        target_kg=target,
        ready_on=ready,
        clear=clear,
        thirty_months_on=thirty,
        booked_on=booked[0] if booked else None,
        booked_day=booked[1] if booked else None,
        hanging=_carcass_on(booked[0] if booked else ready, now, on),
        cautions=booking_cautions(booked[0], ready, clear, thirty) if booked else (),
    )


def _carcass_on(day: date | None, now: WeightNow | None, on: date) -> Carcass | None:
    """Return what an animal would hang on a day ahead, if it gains as now; None where that is not known."""
    if day is None or now is None:
        return None
    live = now.kg + now.daily_gain_kg * max((day - on).days, 0)
    return carcass(live) if live > 0 else None


def cautions_on(row: Finishing, day: date) -> tuple[Reason, ...]:
    """Return what speaks against slaughter of a finishing animal on another day."""
    return booking_cautions(day, row.ready_on, row.clear, row.thirty_months_on)


def cull_list(conn: Connection, on: date) -> list[Cull]:
    """Return every grown female with a reason to cull, with all of her reasons, in order of tags."""
    herd = load_herd(conn, on)
    settings = load_settings(conn)
    due = {row.animal: row for row in due_rows(conn, herd, on, settings)}
    expected = {animal: row.expected for animal, row in due.items()}
    found = reasons_to_cull(conn, herd, expected, on, settings)
    rows = [_cull(herd[animal], reasons, due.get(animal), on, settings) for animal, reasons in found.items()]
    return sorted(rows, key=lambda row: row.tag_key)


def travel_cautions(facts: AnimalFacts, due: DueRow | None, on: date) -> tuple[Reason, ...]:
    """Return why a female may not be fit to travel on a day; `due` is her line in the due list, if any."""
    calved = facts.calvings[-1].day if facts.calvings else None
    if due is None:
        return travel_reasons(on, calved=calved)
    return travel_reasons(on, calved=calved, conceived_first=due.conceived_first, days=due.gestation_days)


def _cull(
    facts: AnimalFacts, reasons: tuple[Reason, ...], due: DueRow | None, on: date, settings: BookSettings
) -> Cull:
    clear = clear_of(facts, settings)
    cautions = [*travel_cautions(facts, due, on)]
    if due is not None:
        template = "may be in calf: have her checked before you send her"
        cautions.append(Reason("may_be_in_calf", template))
    return Cull(
        animal=facts.id,
        tag=facts.tag,
        tag_key=facts.tag_key,
        name=facts.name,
        class_=facts.class_on(on).value,
        care=facts.care,
        born=facts.born,
        born_precision=facts.born_precision,
        reasons=reasons,
        in_calf="in calf" if due and due.confirmed else "may be in calf" if due else "",
        clear_on=clear.day,
        medicine_known=clear.known,
        cautions=tuple(cautions),
    )
