"""A calving in progress: since when, in which stage, and from what hour help is wanted. Caution, no order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.signs import AT_ONCE, IN_LABOUR, Sign


@dataclass(frozen=True)
class LabourRules:
    """From when help is wanted; each a setting of the book. Where sources differ the earliest is taken.

    Sources. `cow_minutes`, `heifer_minutes` without progress after the water bag: Oklahoma State University
    Extension has unassisted deliveries take about 22 minutes in cows and 60 in heifers, a vet column 30-60
    and under 120, University of Maryland Extension 1-2 and 2-4 hours, a veterinary school 2-4 hours.
    `restless_hours` without a water bag: common practice. `afterbirth_hours`: normally under 8-12 hours, and
    retained after 12, University of Pennsylvania veterinary school. `lasting_hours`, for how long signs are
    of one birth: the first stage takes 2-24 hours by the same school; twice that, so that nobody is dropped.
    """

    cow_minutes: int = 30
    heifer_minutes: int = 60
    restless_hours: int = 6
    afterbirth_hours: int = 12
    lasting_hours: int = 48


RULES = LabourRules()


@dataclass(frozen=True)
class Seen:
    """A sign and when it was seen."""

    sign: Sign
    at: datetime


@dataclass(frozen=True)
class Labour:
    """A birth that has begun.

    Parameters
    ----------
    began : datetime
        When the first sign of it was seen; it may have begun before.
    water : datetime or None
        When the water bag or feet were seen: the second stage.
    call_from : datetime
        The hour from which help is wanted if nothing has moved on.
    at_once : Sign or None
        The sign on which the vet is rung whatever the hour.
    """

    began: datetime
    water: datetime | None
    call_from: datetime
    at_once: Sign | None

    @property
    def stage(self) -> int:
        """1 while she opens, 2 from the water bag on."""
        return 1 if self.water is None else 2

    def wants_help(self, now: datetime) -> bool:
        """Whether help is wanted by that hour."""
        return self.at_once is not None or now >= self.call_from

    def minutes(self, now: datetime) -> int:
        """Minutes since its present stage was first seen, never less than none."""
        return max(0, int((now - (self.water or self.began)).total_seconds() // 60))


def labour(
    seen: Sequence[Seen], *, first_calving: bool, now: datetime, rules: LabourRules = RULES
) -> Labour | None:
    """Return how far a birth is by the signs since the last one, None where it has not begun.

    Parameters
    ----------
    seen : sequence of Seen
        Of one female since her last calving or loss; later ones than `now` are left out.
    first_calving : bool
        A heifer is given more time after the water bag, and none before it.
    now : datetime
        The hour asked about; signs older than `rules.lasting_hours` tell of no birth at hand.
    """
    since = now - timedelta(hours=rules.lasting_hours)
    begun = sorted((s for s in seen if s.sign in IN_LABOUR and since <= s.at <= now), key=lambda s: s.at)
    if not begun:
        return None
    water = next((s.at for s in begun if s.sign is Sign.WATER), None)
    danger = next((s for s in begun if s.sign in AT_ONCE), None)
    minutes = rules.heifer_minutes if first_calving else rules.cow_minutes
    waits = timedelta(hours=rules.restless_hours) if water is None else timedelta(minutes=minutes)
    call_from = (water or begun[0].at) + waits
    if danger is not None:
        call_from = min(call_from, danger.at)
    return Labour(begun[0].at, water, call_from, danger.sign if danger else None)


def call_words(found: Labour, first_calving: bool, rules: LabourRules = RULES) -> Reason:
    """Return the sentence that says from what hour the vet is rung."""
    values: dict[str, object] = {"call": found.call_from.strftime("%H:%M")}
    if found.at_once is Sign.WRONG:
        return Reason("lies_wrong", "Backwards, only a tail, or a head turned back: ring your vet now.")
    if found.at_once is Sign.STOPPED:
        return Reason("stopped", "Straining has stopped: ring your vet now.")
    if found.at_once is Sign.FOUL:
        return Reason("foul", "A foul discharge: ring your vet now; wear gloves.")
    if found.at_once is Sign.DISTRESS:
        return Reason("distress", "She is in distress: ring your vet now.")
    if found.water is None:
        values["hours"] = rules.restless_hours
        template = (
            "No water bag by {call}, {hours} hours after she grew restless: ring your vet, "
            "sooner if in doubt."
        )
        return Reason("no_water", template, values)
    values["minutes"] = rules.heifer_minutes if first_calving else rules.cow_minutes
    template = (
        "No progress by {call}, {minutes} minutes after the water bag: ring your vet, sooner if in doubt."
    )
    return Reason("no_progress", template, values)


def retained_from(born: datetime, rules: LabourRules = RULES) -> datetime:
    """Return the hour from which an afterbirth that still hangs is a retained one."""
    return born + timedelta(hours=rules.afterbirth_hours)
