"""Plain due dates, how near a female is in words, and the figures behind both.

Every date here is plain calendar-day addition, ``due = service + days``, which is what makes leap years
come out right. Printed tables that count the first day too differ from it by a day; so the days used travel
with an answer.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from herdbook.husbandry import settling
from herdbook.husbandry.breeds import DEFAULT_DAYS

GESTATION_SD = 6.0
"""Standard deviation of gestation, days: 5-6 within herd and breed, many papers, from memory."""


def due_date(service: date, days: int = DEFAULT_DAYS) -> date:
    """Return the day `days` after a service."""
    return service + timedelta(days=days)


def run_window(first: date, last: date, days: int = DEFAULT_DAYS) -> tuple[date, date]:
    """Return the first and the last due day of a bull run whose first and last day both count."""
    return due_date(first, days), due_date(last, days)


def run_last_day(first: date, length: int) -> date:
    """Return the last day of a run of `length` days, the day of turning in being day 1."""
    if length < 1:
        raise ValueError("A bull run lasts at least one day.")
    return first + timedelta(days=length - 1)


def next_heat(service: date) -> tuple[date, date, date]:
    """Return when she would come bulling again: earliest, usual and latest day (18, 21, 24 days).

    SOURCE: Merck / MSD Veterinary Manual, table "Features of the Reproductive Cycle".
    """
    return service + timedelta(days=18), service + timedelta(days=21), service + timedelta(days=24)


def unfit_to_travel_from(conceived_first: date, days: int = DEFAULT_DAYS) -> date:
    """Return the first day on which she has gone 90 % of her time and is not fit to travel.

    Counted from the earliest conception not ruled out. Ask the vet before loading a female whose dates are
    not known. SOURCE: Council Regulation (EC) 1/2005, Annex I (kept in UK law); 90 % of 283 is 254.7, from
    day 255."""
    return conceived_first + timedelta(days=-(-9 * days // 10))


class Stage(StrEnum):
    """How near she is."""

    NOT_DUE = "not due"
    CLOSE_UP = "close up"
    DUE_NOW = "due now"
    LATE = "late"
    LONG_PAST = "long past"


@dataclass(frozen=True)
class DueRules:
    """The figures behind `expect`, each a setting. Days throughout, offsets from her own expected day.

    Sources. `window`: common practice (within a breed +/- 12 days is published by University of Nevada
    Extension). `twins_days_less`: 276.1 against 283.1 days in a USDA research herd. `find_days`: ultrasound
    from day 28 in skilled hands, trade article by a vet. `wait_days`: first heat 20-60 days after calving,
    Merck Veterinary Manual. `earliest`, `late_from` and `look_again_from`: 263, 293 and 299 days are the 1st,
    95th and 99th percentile of 24,732 AI-dated gestations with median 282 in an open data set.
    `close_up_days`: common practice. `errors` (the check's error by days in calf): from memory.
    `conception_rate` and `cycle`: see `settling`. `rolled_days`: one cycle past `look_again_from`, common
    practice."""

    window: int = 10
    twins_days_less: int = 7
    find_days: int = 28
    wait_days: int = 20
    close_up_days: int = 14
    late_from: int = 11
    look_again_from: int = 17
    earliest: int = 20
    rolled_days: int = 38
    season_gap_days: int = 90
    errors: tuple[tuple[int, int], ...] = ((99, 7), (120, 14))
    error_beyond: int = 21
    conception_rate: float = settling.RULES.per_heat
    cycle: int = settling.RULES.cycle

    def check_error(self, days_in_calf: int) -> int:
        """Return the error, in days either way, of a check that says so many days in calf."""
        return next((error for up_to, error in self.errors if days_in_calf <= up_to), self.error_beyond)


RULES = DueRules()


def stage(
    expected: date, last_expected: date, on: date, *, first_due: date | None = None, rules: DueRules = RULES
) -> Stage:
    """Return how near she is, in words. Nobody is ever called open here.

    Parameters
    ----------
    expected : date
        Her expected day: from it she is due now, and close up from `rules.close_up_days` before it.
    last_expected : date
        The due day of the last conception not ruled out (for one service the expected day itself, for a bull
        run that of its last day): late and long past count from it.
    on : date
        The day asked about.
    first_due : date, optional
        Where her window opens; if that is earlier still, she is close up from then.
    """
    past = (on - last_expected).days
    if past >= rules.look_again_from:
        return Stage.LONG_PAST
    if past >= rules.late_from:
        return Stage.LATE
    if on >= expected:
        return Stage.DUE_NOW
    close = expected - timedelta(days=rules.close_up_days)
    return Stage.CLOSE_UP if on >= min(close, first_due or close) else Stage.NOT_DUE
